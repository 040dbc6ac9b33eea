"""Nothing that is logged is lost: backups are made and brought back, and damage is reported.

Outside truth: SQLite's own integrity check; the entries that went in.
"""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import struct
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest
from book_tables import made_entry
from byte_damage import harmed
from thoroughness import THOROUGH

from layers.logbook import Logbook, Naming, merge
from layers.logbook import _backups as module
from layers.logbook import _book_file as book_file
from layers.logbook._backups import backups_of
from layers.scoring.naming import name_lines
from seabed.errors import LogbookError, SeabedError

NAMING = Naming(40.0, name_lines)
DAYS = ("2031-06-14", "2031-06-21", "2031-07-05")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The file of a logbook of three days."""
    book = Logbook(tmp_path_factory.mktemp("made") / "book.gpkg")
    book.add([made_entry(day, points=5) for day in DAYS], naming=NAMING)
    return book.path


@pytest.fixture
def book(made, tmp_path):
    return Logbook(shutil.copy(made, tmp_path / "book.gpkg"), wait_s=0.2)


def trips(path):
    return list(Logbook(path).trips()["trip"])


def digests(book):
    return {trip: book.entry(trip).digest() for trip in book.trips()["trip"]}


def test_a_backup_is_made_before_anything_goes(book, tmp_path):
    assert backups_of(book.path) == []  # adding to a new book loses nothing
    before = digests(book)
    removed = book.remove(DAYS[1], naming=NAMING)
    assert digests(Logbook(removed)) == before
    other = Logbook(tmp_path / "other.gpkg")
    other.add([made_entry("2031-08-01")])
    merged = merge(book, other).backup
    assert trips(merged) == [DAYS[0], DAYS[2]]
    fewer = made_entry(DAYS[0], drifts=2, points=5)
    replaced = book.add([fewer], replace=True).backup
    assert len(Logbook(replaced).drifts(DAYS[0])) == 3
    assert len(book.drifts(DAYS[0])) == 2
    assert backups_of(book.path) == [removed, merged, replaced]
    assert [re.sub(r".*Z ", "", path.name) for path in backups_of(book.path)] == [
        "before remove.gpkg", "before merge.gpkg", "before replace.gpkg",
    ]  # fmt: skip
    assert book.add([fewer], replace=True).backup is None  # nothing goes
    assert merge(book, other).backup is None
    assert book.add([made_entry("2031-09-01")]).backup is None


def test_the_last_ten_are_kept(book):
    (book.path.parent / "book.gpkg.backups").mkdir()
    own = book.path.parent / "book.gpkg.backups" / "my own copy.gpkg"
    shutil.copy(book.path, own)
    made = []
    for number in range(12):
        day = f"2032-01-{number + 1:02}"
        book.add([made_entry(day, points=3)])
        made.append(book.remove(day, naming=NAMING))
    assert backups_of(book.path) == made[2:]
    assert own.exists()


def test_a_backup_that_cannot_be_made_stops_what_was_to_be_done(book, monkeypatch):
    before = book.path.read_bytes()

    def full(*_, **__):
        raise LogbookError("the disk is full")

    monkeypatch.setattr("layers.logbook._book_file.make_backup", full)
    with pytest.raises(LogbookError, match="the disk is full"):
        book.remove(DAYS[0], naming=NAMING)
    assert book.path.read_bytes() == before


def test_the_last_or_a_named_backup_is_brought_back_and_back_again(book):
    whole = digests(book)
    first = book.remove(DAYS[0], naming=NAMING)
    second = book.remove(DAYS[1], naming=NAMING)
    source, kept = book.restore()
    assert source == second and digests(Logbook(kept)).keys() == {DAYS[2]}
    assert trips(book.path) == [DAYS[1], DAYS[2]]
    assert book.restore(first.name)[0] == first
    assert digests(book) == whole
    assert book.restore(kept.name)[0] == kept
    assert trips(book.path) == [DAYS[2]]
    with pytest.raises(LogbookError, match=r"no backup 'x'. There are \".* before remove.gpkg\""):
        book.restore("x")


def test_where_there_is_no_backup_or_none_of_a_logbook(book, tmp_path):
    with pytest.raises(LogbookError, match="it has no backups"):
        book.restore()
    (tmp_path / "notes.txt").write_text("x")
    with pytest.raises(LogbookError, match=r"notes.txt: this is not a backup of a logbook"):
        book.restore(str(tmp_path / "notes.txt"))
    assert trips(book.path) == list(DAYS)


def test_a_book_that_is_gone_is_brought_back(book):
    book.remove(DAYS[0], naming=NAMING)
    book.path.unlink()
    assert book.restore()[1] is None
    assert trips(book.path) == list(DAYS)


def spoiled(path, table):
    """Spoil the pages of a table but for its first and last."""
    with sqlite3.connect(path) as connection:
        size = connection.execute("PRAGMA page_size").fetchone()[0]
        pages = [
            row[0]
            for row in connection.execute(
                "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf'", (table,)
            )
        ]
    connection.close()
    content = bytearray(path.read_bytes())
    for page in pages[1:-1]:
        content[(page - 1) * size : page * size] = b"\xff" * size
    path.write_bytes(content)
    return len(pages)


def has_dbstat():
    try:
        sqlite3.connect(":memory:").execute("SELECT * FROM dbstat")
    except sqlite3.Error:
        return False
    return True


@pytest.mark.skipif(not has_dbstat(), reason="this SQLite can't say where its pages are")
def test_damage_is_said_at_opening_and_whole_trips_are_kept(tmp_path):
    book = Logbook(tmp_path / "book.gpkg")
    days = [f"2031-06-{day:02}" for day in range(1, 13)]
    book.add([made_entry(day, points=40) for day in days], naming=NAMING)
    before = digests(book)
    assert spoiled(book.path, "pieces") > 4
    damaged = book.path.read_bytes()
    fresh = Logbook(book.path)
    for use in (fresh.trips, lambda: fresh.add([made_entry("2031-08-01")])):
        with pytest.raises(
            LogbookError, match=r"damaged, or not a logbook. Restore a backup with restor"
        ):
            use()
    assert book.path.read_bytes() == damaged
    report = fresh.repair()
    assert set(report.kept) | set(report.lost) == set(days)
    assert report.kept and report.lost
    assert digests(fresh) == {day: before[day] for day in report.kept}
    assert report.damaged.read_bytes() == damaged
    with sqlite3.connect(book.path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert list(fresh.lines()["line"])
    with pytest.raises(LogbookError, match="it has no backups"):
        fresh.restore()  # a damaged file is none


def test_what_cannot_be_repaired_is_refused(tmp_path):
    path = tmp_path / "book.gpkg"
    path.write_bytes(b"SQLite format 3\0" + b"\xff" * 9000)
    with pytest.raises(LogbookError, match="damaged, or not a logbook"):
        Logbook(path).repair()
    Logbook(tmp_path / "empty.gpkg").add([])
    with pytest.raises(LogbookError, match=r"no whole trip can be read"):
        Logbook(tmp_path / "empty.gpkg").repair()
    assert sorted(one.name for one in tmp_path.iterdir()) == ["book.gpkg", "empty.gpkg"]


def test_a_damaged_book_is_kept_when_a_backup_takes_its_place(book):
    book.remove(DAYS[0], naming=NAMING)
    book.path.write_bytes(b"rubbish" * 400)
    _, kept = Logbook(book.path).restore()
    assert kept.read_bytes() == b"rubbish" * 400
    assert trips(book.path) == list(DAYS)


def test_another_program_that_holds_the_book_stops_a_restore(book):
    book.remove(DAYS[0], naming=NAMING)
    with sqlite3.connect(book.path) as connection:
        connection.execute("PRAGMA journal_mode = wal")
    reader = sqlite3.connect(book.path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT * FROM trips").fetchall()
    with pytest.raises(LogbookError, match="another program has it open"):
        book.restore()
    assert trips(book.path) == [DAYS[1], DAYS[2]]
    reader.close()
    connection.close()


@pytest.mark.parametrize("seed", range(40 if THOROUGH else 6))
def test_a_repair_keeps_what_it_says_or_refuses(book, seed):
    before = digests(book)
    book.path.write_bytes(harmed(book.path.read_bytes(), seed))
    try:
        report = Logbook(book.path).repair()
    except SeabedError:
        return
    kept = digests(Logbook(book.path))
    assert set(kept) == set(report.kept)
    assert {day: kept[day] for day in kept if kept[day] != before.get(day)}.keys() <= set(DAYS)


def test_backups_are_named_in_order(book):
    names = {module.make_backup(book.path, before="x") for _ in range(3)}
    assert sorted(names) == backups_of(book.path)


ADD_WHEN_TOLD = """
import sys
sys.path.insert(0, {folder!r})
from book_tables import made_entry
from layers.logbook import Logbook
from layers.logbook._book_file import BookFile
from seabed.errors import LogbookError
begin = BookFile._hold_whole
def waiting(self, connection):
    begin(self, connection)
    print("open", flush=True)
    sys.stdin.readline()
BookFile._hold_whole = waiting
try:
    Logbook({path!r}).add([made_entry("2031-08-01")])
    print("added")
except LogbookError as error:
    print(error.what)
"""


def test_a_trip_that_is_logged_while_a_backup_is_brought_back_is_not_lost_in_silence(book):
    """A writer that has the old file open would write where nobody looks any more."""
    book.remove(DAYS[0], naming=NAMING)
    code = ADD_WHEN_TOLD.format(folder=str(Path(__file__).parent), path=str(book.path))
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout.readline() == "open\n"
        book.restore()
        said, _ = writer.communicate("\n")
    assert said == "another program has put a backup in its place\n"
    assert trips(book.path) == list(DAYS)


@pytest.mark.skipif(os.name == "nt", reason="where a file that is open can't be replaced")
def test_nobody_writes_between_the_copy_of_a_book_and_the_backup_in_its_place(book, monkeypatch):
    book.remove(DAYS[0], naming=NAMING)
    replacing = book_file.replacing
    refused = []

    def with_a_writer(*words, **options):
        with pytest.raises(LogbookError, match="another program has been writing") as error:
            Logbook(book.path, wait_s=0.1).add([made_entry("2031-08-01")])
        refused.append(error)
        return replacing(*words, **options)

    monkeypatch.setattr(book_file, "replacing", with_a_writer)
    book.restore()
    assert refused and trips(book.path) == list(DAYS)


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_book_behind_a_link_is_brought_back_behind_it(book, tmp_path):
    book.remove(DAYS[0], naming=NAMING)
    (tmp_path / "cloud").mkdir()
    real = book.path.rename(tmp_path / "cloud" / "real.gpkg")
    book.path.symlink_to(real)
    book.restore()
    assert book.path.is_symlink()
    assert trips(real) == list(DAYS)


@contextmanager
def room_for(size):
    """Let no file grow further: writing fails as on a full disk."""
    resource = pytest.importorskip("resource", reason="limits of POSIX")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("there", ["whole", "damaged", "gone"])
@pytest.mark.parametrize("what", ["restore", "repair"])
def test_a_full_disk_is_said_and_leaves_nothing_half_written(book, there, what):
    book.remove(DAYS[0], naming=NAMING)
    if there == "damaged":
        content = bytearray(book.path.read_bytes())
        content[-4096:] = b"\xff" * 4096
        book.path.write_bytes(content)
    elif there == "gone":
        book.path.unlink()
    before = {path: path.read_bytes() for path in book.path.parent.rglob("*") if path.is_file()}
    words = "can't be written|can't write|no such logbook"
    with room_for(20_000), pytest.raises(SeabedError, match=words) as refused:
        getattr(Logbook(book.path), what)()
    assert ".writing-" not in str(refused.value)
    after = {path: path.read_bytes() for path in book.path.parent.rglob("*") if path.is_file()}
    assert after == before


class WithoutRoom:
    """A connection to a file that there is no room to copy."""

    def __init__(self, connection):
        self.connection = connection

    def execute(self, statement, *values):
        if statement == "VACUUM":
            raise sqlite3.OperationalError("database or disk is full")
        return self.connection.execute(statement, *values)

    def __getattr__(self, name):
        return getattr(self.connection, name)


def test_a_trip_is_removed_where_there_is_no_room_to_make_the_file_smaller(book, monkeypatch):
    """SQLite's ``secure_delete`` has overwritten it by then."""
    opening = book_file.BookFile._open

    @contextmanager
    def without_room(self, **options):
        with opening(self, **options) as connection:
            yield WithoutRoom(connection)

    east = made_entry(DAYS[0], points=5).drifts.geometry.iloc[0].coords[0][0]
    assert struct.pack("<d", east) in book.path.read_bytes()
    size = book.path.stat().st_size
    monkeypatch.setattr(book_file.BookFile, "_open", without_room)
    book.remove(DAYS[0], naming=NAMING)
    monkeypatch.undo()
    assert trips(book.path) == [DAYS[1], DAYS[2]]
    assert book.path.stat().st_size == size
    assert struct.pack("<d", east) not in book.path.read_bytes()
