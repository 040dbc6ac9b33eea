"""Whether the tests notice a changed line: a seeded sample of small changes to one room's code.

``python tests/mutations.py water --count 200 --seed 1`` prints a JSON line for each change, then
the score.  It works on a copy of the project.  Each change meets the tests that run its line,
quickest first, until one fails; numba's functions leave no record of lines, so changes in them
meet all the room's tests.
"""

from __future__ import annotations

import argparse
import ast
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
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
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
LONGEST_S, COMPILING_S = 60.0, 60.0  # of the processor; 30 times as long by the clock
QUIETLY = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--tb=no"]


@dataclass(frozen=True)
class Change:
    """A span of a file's bytes, and what replaces it."""

    path: str
    start: int
    end: int
    line: int
    new: str
    compiled: bool


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
        yield from self._below(ast.parse(self.bytes), compiled=False)

    def _below(self, node: ast.AST, *, compiled: bool) -> Iterator[Change]:
        parts = list(ast.iter_child_nodes(node))
        if isinstance(node, ast.Raise | ast.Import | ast.ImportFrom):
            return
        if isinstance(node, ast.AnnAssign):
            parts = [node.value] if node.value else []
        if isinstance(node, ast.FunctionDef):
            decorators = {d.id for d in node.decorator_list if isinstance(d, ast.Name)}
            compiled = compiled or not decorators.isdisjoint({"compiled", "inlined"})
            parts = [*node.args.defaults, *filter(None, node.args.kw_defaults), *node.body]
        for start, end, new in self._of(node):
            line = getattr(node, "lineno", 1)
            yield Change(str(self.path.relative_to(ROOT)), start, end, line, new, compiled)
        for part in parts:
            yield from self._below(part, compiled=compiled)

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
            yield self._start(node), self._start(node.operand), ""
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


class Watch:
    """Which test runs now, how long each takes, and which don't pass as it is."""

    def __init__(self, record: coverage.Coverage) -> None:
        self.record = record
        self.seconds: dict[str, float] = {}
        self.unusable: set[str] = set()

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Begin a context of the record."""
        self.record.switch_context(item.nodeid)
        start = time.perf_counter()
        yield
        self.seconds[item.nodeid] = time.perf_counter() - start

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Leave out what fails or is skipped."""
        if not report.passed:
            self.unusable.add(report.nodeid)


def record_lines(copy: Path, tests: list[str], kept: Path) -> None:
    """Write which test runs which line, and how long each test takes."""
    record = coverage.Coverage(
        data_file=str(kept.with_suffix(".coverage")),
        source=[str(copy / "seabed"), str(copy / "layers")],
    )
    watch = Watch(record)
    record.start()
    pytest.main([*QUIETLY, *tests], plugins=[watch])
    record.stop()
    data = record.get_data()
    lines = {
        str(Path(file).relative_to(copy)): {
            str(line): sorted(filter(None, names))
            for line, names in data.contexts_by_lineno(file).items()
        }
        for file in data.measured_files()
    }
    seconds = {test: s for test, s in watch.seconds.items() if test not in watch.unusable}
    kept.write_text(json.dumps({"seconds": seconds, "lines": lines}), encoding="utf-8")


def trial(copy: Path, change: Change, tests: list[str], usual_s: float) -> str:
    """Make a change, run the tests, and undo it: ``killed``, ``survived`` ..."""
    path = copy / change.path
    before, status = path.read_bytes(), path.stat()
    after = before[: change.start] + change.new.encode() + before[change.end :]
    indexes = {
        index: index.read_bytes()
        for module in (compiled_users(copy, change.path) if b"compiled" in before else ())
        for index in (module.parent / "__pycache__").glob(f"{module.stem}.*.nbi")
    }
    limit_s = min(LONGEST_S, 10 + 4 * usual_s) + (COMPILING_S if indexes else 0)
    for index in indexes:
        index.unlink()
    try:
        compile(after, str(path), "exec")
        path.write_bytes(after)
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns + 5_000_000_000))
        return _outcome(tests, limit_s)
    except SyntaxError:
        return "killed"
    finally:
        path.write_bytes(before)
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
        for index, data in indexes.items():
            index.write_bytes(data)


def compiled_users(copy: Path, path: str) -> set[Path]:
    """Compiled modules that may hold this one's functions: those that import it."""
    texts = {
        file: file.read_text(encoding="utf-8")
        for top in ("seabed", "layers")
        for file in (copy / top).rglob("*.py")
    }
    users, ahead = {copy / path}, [copy / path]
    while ahead:
        module = ahead.pop()
        imports = re.compile(rf"import .*\b{module.stem}\b|\b{module.stem} import")
        for file, text in texts.items():
            if file not in users and "compiled" in text and imports.search(text):
                users.add(file)
                ahead.append(file)
    return users


def _outcome(tests: list[str], limit_s: float) -> str:
    here, there = multiprocessing.Pipe(duplex=False)
    child = multiprocessing.get_context("fork").Process(
        target=_answer, args=(tests, there, limit_s)
    )
    child.start()
    there.close()
    try:
        code = here.recv() if here.poll(30 * limit_s) else None
    except EOFError:  # it died, perhaps by the limit
        code = 1
    if child.pid is not None and child.is_alive():
        os.kill(child.pid, signal.SIGKILL)
    child.join()
    if code == pytest.ExitCode.USAGE_ERROR:
        raise SystemExit("the record names tests that are gone: remove it")
    return "survived" if code == 0 else "killed"


def _answer(tests: list[str], answer: Connection, limit_s: float) -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s), int(limit_s) + 5))
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    answer.send(int(pytest.main([*QUIETLY, "-x", *tests])))


def chosen(change: Change, known: dict[str, Any]) -> list[str]:
    """Tests that run a line (or, of a line that runs at import alone, its file), quickest first."""
    seconds, lines = known["seconds"], known["lines"].get(change.path, {})
    # within a table over many lines only the first is noted
    line = str(max((int(one) for one in lines if int(one) <= change.line), default=0))
    names = set(lines.get(line, ()))
    if not names and line in lines:
        names = set().union(*lines.values())
    return sorted(seconds if change.compiled else names & set(seconds), key=lambda t: seconds[t])


def main() -> int:
    """Print a line for each change, and the score."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("room", choices=ROOMS)
    words.add_argument("--count", type=int, default=200)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--first", type=int, default=0, help="where in the sample to begin")
    words.add_argument("--record", type=Path, help="a file that keeps which test runs which line")
    given = words.parse_args()
    folder, tests = ROOMS[given.room]
    modules = sorted((ROOT / folder).rglob("*.py"))
    every = [change for module in modules for change in Module(module).changes()]
    sample = random.Random(given.seed).sample(every, min(given.count, len(every)))
    with tempfile.TemporaryDirectory() as place:
        copy, record = Path(place) / "project", given.record or Path(place) / "record.json"
        left_out = shutil.ignore_patterns(".git", ".venv", ".*_cache", "_build")
        shutil.copytree(ROOT, copy, symlinks=True, ignore=left_out)
        os.chdir(copy)
        sys.path.insert(0, str(copy))
        os.environ["PYTHONPATH"] = str(copy)
        if not record.exists():
            run = multiprocessing.get_context("fork").Process(
                target=record_lines, args=(copy, tests, record)
            )
            run.start()
            run.join()
        known = json.loads(record.read_text(encoding="utf-8"))
        for library in ("geopandas", "numba", "xarray", "pyproj", "scipy.ndimage"):
            __import__(library)
        counts = {"killed": 0, "survived": 0}
        for number, change in enumerate(sample[given.first :], given.first):
            run_by = chosen(change, known)
            usual_s = sum(known["seconds"][test] for test in run_by)
            outcome = trial(copy, change, run_by, usual_s) if run_by else "no test runs it"
            counts["killed" if outcome.startswith("killed") else "survived"] += 1
            was = (ROOT / change.path).read_bytes()[change.start : change.end].decode()
            row = {
                "number": number, "at": f"{change.path}:{change.line}", "was": was,
                "is": change.new, "tests": len(run_by), "outcome": outcome,
            }  # fmt: skip
            print(json.dumps(row), flush=True)  # noqa: T201  (a program of its own)
    print(json.dumps({"room": given.room, **counts}))  # noqa: T201
    return 0


if __name__ == "__main__":
    sys.exit(main())
