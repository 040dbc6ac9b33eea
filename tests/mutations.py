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
import gc
import json
import multiprocessing
import os
import random
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

import pytest
from line_record import QUIETLY, Calm, caches_of_project, known, silently
from text_changes import ROOT, Change, Module

ROOMS = {
    "terrain": ("seabed/terrain", ["tests/terrain", "tests/grid"]),
    "structure": ("seabed/structure", ["tests/structure", "tests/change"]),
    "water": ("layers/water", ["tests/water"]),
    "scoring": ("layers/scoring", ["tests/scoring"]),
    "planning": ("layers/planning", ["tests/planning"]),
}


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
        target=silently, args=(work, change, Verdict(there, tests, seconds))
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
        for cache in caches_of_project():
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
            target=silently, args=(collected, bench, changes, there)
        )
        process.start()
        there.close()
        while changes and (row := here.recv()) is not None:
            yield row
        process.join()
    changes = [change for change in sample if change.kind == "import"]
    yield from bench.verdicts(changes, _imported)


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
