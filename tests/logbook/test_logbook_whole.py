"""The logbook stays whole: a failure, two writers, a kill at any moment.

Outside truth: SQLite's own integrity check, and the trips that were there before.
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from book_tables import made_entry
from thoroughness import THOROUGH

from layers.logbook import Entry, Logbook
from layers.logbook import _store as store_module
from seabed.errors import LogbookError


def test_a_failure_half_way_leaves_the_trips_that_were_there(book, monkeypatch):
    book.add([made_entry("2031-06-14")])
    insert = store_module.insert_entry

    def failing(connection, entry, digest):
        insert(connection, entry, digest)
        if entry.trip == "2031-07-05":
            raise RuntimeError("power cut")

    monkeypatch.setattr(store_module, "insert_entry", failing)
    with pytest.raises(RuntimeError, match="power cut"):
        book.add([made_entry("2031-06-28"), made_entry("2031-07-05")])
    assert list(book.trips()["trip"]) == ["2031-06-14"]


def test_a_second_writer_waits_then_is_refused(book):
    book.add([made_entry("2031-06-14")])
    holder = sqlite3.connect(book.path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(LogbookError, match=r"another program has been writing.*nothing was chan"):
        book.add([made_entry("2031-06-21")])
    assert len(book.trips()) == 1  # readers are not held up
    holder.execute("ROLLBACK")
    holder.close()
    assert book.add([made_entry("2031-06-21")]).added == ("2031-06-21",)


ADD = """
import sys
sys.path.insert(0, {folder!r})
from book_tables import made_entry
from layers.logbook import Logbook
print("ready", flush=True)
sys.stdin.readline()
for day in {days!r}:
    Logbook({path!r}, wait_s=60).add([made_entry(day, drifts=4, points=400)])
    print(day, flush=True)
"""


def adding(path: Path, days: list[str]) -> subprocess.Popen[str]:
    """A process of its own that adds trips one by one on a signal."""
    code = ADD.format(folder=str(Path(__file__).parent), days=days, path=str(path))
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def test_two_writers_at_once_lose_nothing(book):
    """Another process and this one.  Both also make the file: neither may overwrite the other's."""
    count = 16 if THOROUGH else 7
    days = [[f"2031-{month:02d}-{day:02d}" for day in range(1, count)] for month in (5, 6)]
    with adding(book.path, days[0]) as other:
        other.stdin.write("\n")
        other.stdin.flush()
        for day in days[1]:
            Logbook(book.path, wait_s=60).add([made_entry(day, drifts=4, points=400)])
        assert other.wait(timeout=600) == 0
    assert sorted(book.trips()["trip"]) == sorted(days[0] + days[1])


def check_whole(path: Path) -> list[str]:
    """Hold that a logbook has whole trips only; give their names."""
    if not path.exists() or (not path.stat().st_size and not Path(f"{path}-journal").exists()):
        return []
    book = Logbook(path)
    try:
        trips = book.trips()
    except LogbookError as error:
        assert error.what == "the logbook is empty"
        return []
    for name, kind in (("drifts", book.drifts()), ("catches", book.catches())):
        counts = kind.groupby("trip").size()
        assert counts.reindex(trips["trip"]).eq(4).all(), name
        assert set(kind["trip"]) <= set(trips["trip"])
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    return list(trips["trip"])


def added_in_a_fork(path: Path, entry: Entry, wait_s: float | None) -> bool:
    """Add a trip in a fork, killed after `wait_s` (None: never); True if it reported success."""
    hear, say = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            Logbook(path, wait_s=1).add([entry])
            os.write(say, b".")
        finally:
            os._exit(0)
    os.close(say)  # so that a child that fails is the end of what is heard, not silence
    if wait_s is not None:
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(hear, "rb") as heard:
        return heard.read() == b"."


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX fork")
def test_killed_at_any_moment_only_whole_trips_are_there(tmp_path):
    """Kill -9 at 16 moments (200 where all is tried), from before the file is made to after the
    last trip.

    A child adds one trip to a book of none to three, or to what an earlier kill left, and is killed
    a random while after its birth.  The span of that follows the machine, which others may slow
    down, so that about as many get done as not.  What must be left is known: the trips that were
    there, and the new one whole or not at all; whole if the child had reported so.
    """
    rng = random.Random(20310614)
    entries = [made_entry(f"2031-06-{day:02d}", drifts=4, points=50) for day in range(1, 5)]
    names = [entry.trip for entry in entries]
    whole = tmp_path / "whole.gpkg"
    begun = [b""]
    begin = time.perf_counter()
    for entry in entries:
        assert added_in_a_fork(whole, entry, None)
        begun.append(whole.read_bytes())
    assert check_whole(whole) == names
    span_s = 2 * (time.perf_counter() - begin) / len(entries)
    before: dict[Path, list[str]] = {}
    done = []
    moments = 200 if THOROUGH else 16
    for moment in range(moments):
        path = tmp_path / f"{moment % 4}.gpkg"  # every other one begins with what a kill left
        number = rng.randrange(len(entries))
        if moment % 8 < 4:
            Path(f"{path}-journal").unlink(missing_ok=True)
            path.write_bytes(begun[number])
            if not number:
                path.unlink()
            before[path] = names[:number]
        said = added_in_a_fork(path, entries[number], rng.uniform(0, span_s))
        left = check_whole(path)
        after = sorted({*before[path], names[number]})  # one that is there is not added again
        assert left == after if said else left in (before[path], after)
        done.append(said)
        span_s *= 1 / 1.1 if said else 1.1
        before[path] = left
    assert 0.1 * moments < sum(done) < 0.9 * moments
