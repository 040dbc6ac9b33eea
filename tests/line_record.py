"""Which lines each test runs and how long it takes, recorded in a process of its own."""

from __future__ import annotations

import functools
import gc
import json
import multiprocessing
import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import coverage
import pytest

LONGEST_S = {True: 4.0, False: 1.0}
"""Tests that take longer, with and without compiling, meet no change."""
QUIETLY = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--no-header", "--tb=no"]


class TooLong(BaseException):
    """A test that takes too long to meet a change."""


def _stop(_signal: int, _frame: object) -> None:
    raise TooLong


def caches_of_project() -> list[Any]:
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
        self.caches = caches_of_project()

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


def silently(work: Any, *words: Any) -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    work(*words)


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
                target=silently,
                args=(record, copy, tests, among, file, LONGEST_S[compiles]),
            )
            run.start()
            run.join()
        both[compiles] = json.loads(file.read_text(encoding="utf-8"))
    return both
