"""Whether the tests notice a changed line: a seeded sample of small changes to one room's code.

``python tests/mutations.py water --count 200 --seed 1`` prints a JSON line for each change, then
the score.  It works on a copy of the project.  Each change meets the tests that run its line,
quickest first, until one fails.

All tests are collected once.  A fork of that process puts the changed code into its functions and
runs the tests.  Changes of compiled functions, and of what runs at import, meet the tests that are
quick without compiling, since only those show their lines.  What a test runs in another process
has no record and counts as noticed by none.
"""

from __future__ import annotations

import argparse
import ast
import functools
import gc
import json
import multiprocessing
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import coverage
import pytest

ROOT = Path(__file__).resolve().parents[1]
ROOMS = {
    "terrain": ("seabed/terrain", ["tests/terrain", "tests/grid"]),
    "structure": ("seabed/structure", ["tests/structure", "tests/change"]),
    "water": ("layers/water", ["tests/water"]),
    "scoring": ("layers/scoring", ["tests/scoring"]),
    "planning": ("layers/planning", ["tests/planning"]),
}
COMPARISONS: dict[type[ast.cmpop], tuple[str, ...]] = {
    ast.Lt: ("<=", ">"), ast.LtE: ("<", ">"), ast.Gt: (">=", "<"), ast.GtE: (">", "<"),
    ast.Eq: ("!=",), ast.NotEq: ("==",), ast.Is: ("is not",), ast.IsNot: ("is",),
    ast.In: ("not in",), ast.NotIn: ("in",),
}  # fmt: skip
OPERATORS: dict[type[ast.operator], str] = {
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.FloorDiv: "/", ast.Mod: "*",
    ast.Pow: "*", ast.BitAnd: "|", ast.BitOr: "&",
}  # fmt: skip
NAMES = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "nanmin": "nanmax",
    "nanmax": "nanmin", "argmin": "argmax", "argmax": "argmin", "sin": "cos", "cos": "sin",
    "floor": "ceil", "ceil": "floor", "any": "all", "all": "any", "sum": "mean", "mean": "sum",
    "isfinite": "isnan", "isnan": "isfinite", "cumsum": "cumprod", "nanmedian": "nanmin",
}  # fmt: skip
LONGEST_S = {True: 4.0, False: 1.0}
"""Tests that take longer, with and without compiling, meet no change."""
QUIETLY = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--tb=no"]


@dataclass(frozen=True)
class Change:
    """A span of a file's bytes, and what replaces it."""

    path: str
    start: int
    end: int
    line: int
    new: str
    kind: str  # where: "import" (it runs once), "function", "compiled"

    def made(self, before: bytes) -> bytes:
        """The text of the file with the change."""
        return before[: self.start] + self.new.encode() + before[self.end :]


class Module:
    """The changes that one file admits."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.bytes = path.read_bytes()
        self.begins = [0]
        for line in self.bytes.splitlines(keepends=True):
            self.begins.append(self.begins[-1] + len(line))

    def changes(self) -> Iterator[Change]:
        """Every change, in the order of the text."""
        yield from self._below(ast.parse(self.bytes), kind="import")

    def _below(self, node: ast.AST, *, kind: str) -> Iterator[Change]:
        parts = list(ast.iter_child_nodes(node))
        if isinstance(node, ast.Raise | ast.Import | ast.ImportFrom):
            return
        if isinstance(node, ast.AnnAssign):
            parts = [node.value] if node.value else []
        if isinstance(node, ast.FunctionDef):
            decorators = {d.id for d in node.decorator_list if isinstance(d, ast.Name)}
            for part in [*node.args.defaults, *filter(None, node.args.kw_defaults)]:
                yield from self._below(part, kind=kind)
            if kind != "compiled":
                kind = "function" if decorators.isdisjoint({"compiled", "inlined"}) else "compiled"
            parts = [*node.body]
        for start, end, new in self._of(node):
            line = getattr(node, "lineno", 1)
            yield Change(str(self.path.relative_to(ROOT)), start, end, line, new, kind)
        for part in parts:
            yield from self._below(part, kind=kind)

    def _of(self, node: ast.AST) -> Iterator[tuple[int, int, str]]:
        if isinstance(node, ast.Compare):
            operands = [node.left, *node.comparators]
            for operator, left, right in zip(node.ops, operands, node.comparators, strict=False):
                for new in COMPARISONS[type(operator)]:
                    yield *self._between(left, right), new
        elif isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
            if not isinstance(getattr(node.left, "value", None), str):
                yield *self._between(node.left, node.right), OPERATORS[type(node.op)]
        elif isinstance(node, ast.AugAssign) and type(node.op) in OPERATORS:
            yield *self._between(node.target, node.value), OPERATORS[type(node.op)] + "="
        elif isinstance(node, ast.BoolOp):
            new = "or" if isinstance(node.op, ast.And) else "and"
            yield *self._between(*node.values[:2]), new
        elif isinstance(node, ast.UnaryOp):
            start = self._start(node)
            yield start, start + (3 if isinstance(node.op, ast.Not) else 1), ""
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float):
            yield self._start(node), self._end(node), _other(node.value)
        elif isinstance(node, ast.Attribute | ast.Name) and isinstance(node.ctx, ast.Load):
            word = node.attr if isinstance(node, ast.Attribute) else node.id
            if word in NAMES:
                yield self._end(node) - len(word), self._end(node), NAMES[word]

    def _start(self, node: ast.expr) -> int:
        return self.begins[node.lineno - 1] + node.col_offset

    def _end(self, node: ast.expr) -> int:
        assert node.end_lineno is not None and node.end_col_offset is not None
        return self.begins[node.end_lineno - 1] + node.end_col_offset

    def _between(self, left: ast.expr, right: ast.expr) -> tuple[int, int]:
        """The operator between two operands, without blanks and brackets."""
        first = self._end(left)
        match = re.search(rb"(is not|not in|[^\s()\\]+)", self.bytes[first : self._start(right)])
        assert match is not None
        return first + match.start(), first + match.end()


def _other(value: bool | float) -> str:
    if isinstance(value, bool):
        return str(not value)
    return str(value + 1) if isinstance(value, int) else repr(value * 1.5 or 1.0)


class TooLong(BaseException):
    """A test that takes too long to meet a change."""


def _stop(_signal: int, _frame: object) -> None:
    raise TooLong


def _caches() -> list[Any]:
    """What functions of the project and its tests keep between calls."""
    kind = type(functools.cache(len))
    ours = ("seabed", "layers", "test")
    return [o for o in gc.get_objects() if isinstance(o, kind) and o.__module__.startswith(ours)]


class Calm:
    """Properties without deadline, with the same examples each time."""

    def pytest_sessionstart(self) -> None:
        """Come after `conftest.py`, before the tests."""
        from hypothesis import settings

        calm = settings(settings(), deadline=None, derandomize=True, database=None)
        settings.register_profile("calm", calm)
        settings.load_profile("calm")


class Record(Calm):
    """Which lines each test runs, its shared fixtures too, and how long it takes by itself."""

    def __init__(self, lines: coverage.Coverage, among: set[str], longest_s: float) -> None:
        self.lines, self.among, self.longest_s = lines, among, longest_s
        self.own_s: dict[str, float] = {}
        self.shared_s: dict[tuple[str, str], float] = {}
        self.fixtures: dict[str, list[str]] = {}
        self.unusable: set[str] = set()
        self.caches: list[Any] = []
        self.apart_s = 0.0  # of the test that runs, in shared fixtures

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep the tests that have been quick enough so far."""
        if self.among:
            items[:] = [item for item in items if item.nodeid in self.among]
        self.caches = _caches()

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Begin a context of the record."""
        for cache in self.caches:
            cache.cache_clear()
        self.fixtures[item.nodeid] = getattr(item, "fixturenames", [])
        self.lines.switch_context(item.nodeid)
        start, self.apart_s = time.process_time(), 0.0
        signal.setitimer(signal.ITIMER_PROF, self.longest_s)
        yield
        signal.setitimer(signal.ITIMER_PROF, 0)
        self.own_s[item.nodeid] = time.process_time() - start - self.apart_s

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(
        self, fixturedef: pytest.FixtureDef[Any], request: pytest.FixtureRequest
    ) -> Iterator[None]:
        """Note a fixture of a module apart from the test that happens to need it first."""
        if fixturedef.scope == "function":
            yield
            return
        name = (fixturedef.baseid, fixturedef.argname)
        self.lines.switch_context("::".join(name))
        start = time.process_time()
        yield
        took_s = time.process_time() - start
        self.shared_s[name] = max(took_s, self.shared_s.get(name, 0.0))
        self.apart_s += took_s
        self.lines.switch_context(request.node.nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Leave out what fails or is skipped."""
        if not report.passed:
            self.unusable.add(report.nodeid)

    def known(self, copy: Path) -> dict[str, Any]:
        """``seconds`` of each test, and tests that run the ``lines`` of each file."""
        seconds = {test: s for test, s in self.own_s.items() if test not in self.unusable}
        users: dict[str, set[str]] = {test: {test} for test in seconds}
        for (base, name), shared_s in self.shared_s.items():
            needing = {
                test for test in seconds if test.startswith(base) and name in self.fixtures[test]
            }
            users.setdefault(f"{base}::{name}", set()).update(needing)
            for test in needing:
                seconds[test] += shared_s
        data = self.lines.get_data()
        lines = {
            str(Path(file).relative_to(copy)): {
                str(line): sorted(set().union(*(users.get(name, set()) for name in names)))
                for line, names in data.contexts_by_lineno(file).items()
            }
            for file in data.measured_files()
        }
        return {"seconds": seconds, "lines": lines}


def record(copy: Path, tests: list[str], among: set[str], kept: Path, longest_s: float) -> None:
    """Write what `chosen` needs to know."""
    lines = coverage.Coverage(
        data_file=str(kept.with_suffix(".coverage")),
        source=[str(copy / "seabed"), str(copy / "layers")],
    )
    signal.signal(signal.SIGPROF, _stop)
    watch = Record(lines, among, longest_s)
    lines.start()
    pytest.main([*QUIETLY, *tests], plugins=[watch])
    lines.stop()
    found = watch.known(copy)
    assert found["seconds"], f"no test of {tests} passes as it is"
    kept.write_text(json.dumps(found), encoding="utf-8")


@dataclass
class Verdict(Calm):
    """Run the tests of one change until one fails, each with several times its usual time."""

    answer: Connection
    tests: list[str]
    seconds: dict[str, float]
    failed: str = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Take the tests in their order; a change may have renamed one."""
        place = {test: number for number, test in enumerate(self.tests)}
        items[:] = sorted(
            (item for item in items if item.nodeid in place), key=lambda item: place[item.nodeid]
        )

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """Give the test its time; the system ends the process after it."""
        limit_s = int(time.process_time() + 4 + 6 * self.seconds[item.nodeid])
        resource.setrlimit(resource.RLIMIT_CPU, (limit_s, resource.RLIM_INFINITY))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the name of the first that fails."""
        if report.failed:
            self.failed = self.failed or report.nodeid

    def run(self, collected: dict[str, pytest.Item]) -> None:
        """Tests that are collected."""
        items = [collected[test] for test in self.tests]
        for item, after in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            if self.failed:
                break
        self.answer.send(self.failed)

    def pytest_sessionfinish(self, exitstatus: int) -> None:
        """Tests that pytest has just collected: it stops at the first that fails, or at import."""
        # one file that can't be imported interrupts, the first of several fails
        broken = exitstatus in {pytest.ExitCode.INTERRUPTED, pytest.ExitCode.TESTS_FAILED}
        self.answer.send(self.failed or ("import" if broken else ""))


def verdict_of(change: Change, work: Any, tests: list[str], seconds: dict[str, float]) -> str:
    """What `work` says in a process of its own: which test failed, ``time``, or nothing."""
    here, there = multiprocessing.Pipe(duplex=False)
    child = multiprocessing.get_context("fork").Process(
        target=_silently, args=(work, change, Verdict(there, tests, seconds))
    )
    child.start()
    there.close()
    answer = None
    if here.poll(1800):  # one that waits for ever has not failed
        try:
            answer = here.recv()
        except EOFError:
            child.join()
            by_limit = child.exitcode == -signal.SIGXCPU
            answer = "time" if by_limit else f"end {child.exitcode}"
    if child.is_alive():
        child.kill()
    child.join()
    if answer == "end 1":
        raise RuntimeError(f"{change} could not be made")
    return answer or ""


def _silently(work: Any, *words: Any) -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    work(*words)


@dataclass
class Bench:
    """A copy of the project, its tests, which of them run a line, and which noticed a change."""

    copy: Path
    folders: list[str]
    known: dict[bool, dict[str, Any]]  # with and without compiling
    all_s: float  # the tests of one change take at most this, unchanged
    noticed: Counter[str] = field(default_factory=Counter)

    def chosen(self, change: Change) -> list[str]:
        """Tests that run a line, those first that seldom pass or are quick."""
        known = self.known[change.kind == "function"]
        seconds, lines = known["seconds"], known["lines"].get(change.path, {})
        # within a table over many lines only the first is noted
        line = str(max((int(one) for one in lines if int(one) <= change.line), default=0))
        names = set(lines.get(line, ()))
        if not names and line in lines:
            names = set().union(*lines.values())
        stem = Path(change.path).stem.strip("_")

        def weight(test: str) -> float:
            return float(seconds[test]) / (1 + 5 * self.noticed[test] + 2 * (stem in test))

        some, left_s = [], self.all_s
        of_file: Counter[str] = Counter()
        turns = {}
        for test in sorted(names & set(seconds), key=weight):
            of_file[test.split("::")[0]] += 1
            turns[test] = of_file[test.split("::")[0]], weight(test)
        for test in sorted(turns, key=lambda test: turns[test]):  # one of each file, then a second
            if seconds[test] <= left_s:
                left_s -= seconds[test]
                some.append(test)
        return some

    def verdicts(self, changes: list[Change], work: Any) -> Iterator[tuple[Change, int, str]]:
        """The changes, how many tests each meets, and the outcome."""
        for change in changes:
            tests = self.chosen(change)
            seconds = self.known[change.kind == "function"]["seconds"]
            outcome = "no test runs it"
            if tests:
                file = self.copy / change.path
                before, status = file.read_bytes(), file.stat()
                failed = verdict_of(change, work, tests, seconds)
                file.write_bytes(before)
                os.utime(file, ns=(status.st_atime_ns, status.st_mtime_ns))
                self.noticed[failed] += 1
                outcome = f"killed by {failed}" if failed else "survived"
            yield change, len(tests), outcome


@dataclass
class Collected(Calm):
    """Changes in functions, made where all tests are collected."""

    bench: Bench
    changes: list[Change]
    answer: Connection
    items: dict[str, pytest.Item] = field(default_factory=dict)
    functions: dict[str, list[FunctionType]] = field(default_factory=lambda: defaultdict(list))

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try the changes in place of the tests."""
        self.items = {item.nodeid: item for item in session.items}
        # no test runs here: threads that it leaves, GDAL's too, would be missing in a fork
        gc.unfreeze()
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType):
                self.functions[thing.__code__.co_filename].append(thing)
        for cache in _caches():
            cache.cache_clear()
        gc.freeze()  # a fork that searches all of it for garbage copies it
        for row in self.bench.verdicts(self.changes, self._in_place):
            self.answer.send(row)
        self.answer.send(None)
        return True

    def _in_place(self, change: Change, verdict: Verdict) -> None:
        path = self.bench.copy / change.path
        code = compile(change.made(path.read_bytes()), str(path), "exec")
        codes: dict[tuple[str, int], list[CodeType]] = defaultdict(list)
        for one in _below(code):
            codes[one.co_qualname, one.co_firstlineno].append(one)
        for function in self.functions[str(path)]:
            now = codes[function.__code__.co_qualname, function.__code__.co_firstlineno]
            if len(now) == 1:  # else lambdas of one line
                function.__code__ = now[0]
        self.items[verdict.tests[0]].config.pluginmanager.register(verdict)
        verdict.run(self.items)


def _imported(change: Change, verdict: Verdict) -> None:
    """Change the file, for modules that are not imported yet."""
    path = Path(change.path)
    path.write_bytes(change.made(path.read_bytes()))
    files = dict.fromkeys(test.split("::")[0] for test in verdict.tests)
    pytest.main([*QUIETLY, "-x", *files], plugins=[verdict])


def _below(code: CodeType) -> Iterator[CodeType]:
    yield code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _below(constant)


def collected(bench: Bench, changes: list[Change], answer: Connection) -> None:
    """Run pytest with the changes in place of the tests."""
    if changes:
        pytest.main([*QUIETLY, *bench.folders], plugins=[Collected(bench, changes, answer)])


def rows(bench: Bench, sample: list[Change]) -> Iterator[tuple[Change, int, str]]:
    """Try the changes, kind by kind."""
    import numba

    for kind in ("function", "compiled"):
        numba.config.DISABLE_JIT = kind == "compiled"
        here, there = multiprocessing.Pipe(duplex=False)
        changes = [change for change in sample if change.kind == kind]
        process = multiprocessing.get_context("fork").Process(
            target=_silently, args=(collected, bench, changes, there)
        )
        process.start()
        there.close()
        while changes and (row := here.recv()) is not None:
            yield row
        process.join()
    changes = [change for change in sample if change.kind == "import"]
    yield from bench.verdicts(changes, _imported)


def known(
    copy: Path, tests: list[str], kept: Path, *, compiles_only: bool
) -> dict[bool, dict[str, Any]]:
    """Tests and their lines, with and without compiling, recorded where there is no record."""
    import numba

    both: dict[bool, dict[str, Any]] = {}
    for compiles in (True,) if compiles_only else (True, False):
        file = kept if compiles else kept.with_suffix(".plain.json")
        numba.config.DISABLE_JIT = not compiles
        if not file.exists():
            seconds = both[True]["seconds"] if both else {}
            among = {test for test, s in seconds.items() if s < LONGEST_S[False]}
            run = multiprocessing.get_context("fork").Process(
                target=_silently,
                args=(record, copy, tests, among, file, LONGEST_S[compiles]),
            )
            run.start()
            run.join()
        both[compiles] = json.loads(file.read_text(encoding="utf-8"))
    return both


def main() -> int:
    """Print a line for each change, and the score."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("room", choices=ROOMS)
    words.add_argument("--count", type=int, default=200)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--only", nargs="*", type=int, help="numbers in the sample to try")
    words.add_argument("--seconds", type=float, default=8.0, help="for the tests of a change")
    words.add_argument("--record", type=Path, help="a file that keeps which test runs which line")
    given = words.parse_args()
    folder, tests = ROOMS[given.room]
    modules = sorted((ROOT / folder).rglob("*.py"))
    every = [change for module in modules for change in Module(module).changes()]
    sample = random.Random(given.seed).sample(every, min(given.count, len(every)))
    numbers = {change: number for number, change in enumerate(sample)}
    if given.only:
        sample = [sample[number] for number in given.only]
    sys.dont_write_bytecode = True  # changes of equal length would meet each other's
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy comes: its threads outlive no fork
    for library in ("geopandas", "numba", "xarray", "pyproj", "scipy.ndimage"):
        __import__(library)
    with tempfile.TemporaryDirectory() as place:
        copy, kept = Path(place) / "project", given.record or Path(place) / "record.json"
        left_out = shutil.ignore_patterns(".git", ".venv", ".*_cache", "_build")
        shutil.copytree(ROOT, copy, symlinks=True, ignore=left_out)
        os.chdir(copy)
        sys.path.insert(0, str(copy))
        os.environ["PYTHONPATH"] = str(copy)
        QUIETLY.append(f"--basetemp={place}/made")
        compiles_only = all(change.kind == "function" for change in sample)
        records = known(copy, tests, kept, compiles_only=compiles_only)
        bench = Bench(copy, tests, records, given.seconds)
        counts = {"killed": 0, "survived": 0}
        for change, count, outcome in rows(bench, sample):
            counts["killed" if outcome.startswith("killed") else "survived"] += 1
            was = (copy / change.path).read_bytes()[change.start : change.end].decode()
            row = {
                "number": numbers[change], "at": f"{change.path}:{change.line}", "was": was,
                "is": change.new, "tests": count, "outcome": outcome,
            }  # fmt: skip
            print(json.dumps(row), flush=True)  # noqa: T201  (a program of its own)
    print(json.dumps({"room": given.room, **counts}))  # noqa: T201
    return 0


if __name__ == "__main__":
    sys.exit(main())
