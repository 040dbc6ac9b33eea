"""Logbooks by others: whatever is in one, it is read as it should be or refused in one message."""

from __future__ import annotations

import shutil
import sqlite3
import struct

import pytest
from book_tables import made_entry
from byte_damage import harmed
from thoroughness import THOROUGH

from layers.area import default_area
from layers.jobs.check._checking import check_file
from layers.logbook import Logbook, Naming, merge
from layers.logbook.schema import LINES, TABLES
from layers.logbook.sharing import shared_layers
from layers.scoring.naming import name_lines
from seabed.errors import LogbookError, SeabedError

DAY = "2031-06-14"
NAMING = Naming(40.0, name_lines)


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    book = Logbook(tmp_path_factory.mktemp("whole") / "book.gpkg")
    book.add([made_entry(DAY, points=4)], naming=NAMING)
    return book.path


def changed(whole, folder, *statements, values=()):
    """A copy in which any statement was run, NOT NULL or not."""
    path = folder / "other.gpkg"
    shutil.copy(whole, path)
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("UPDATE sqlite_master SET sql = replace(sql, ' NOT NULL', '')")
    connection.close()
    with sqlite3.connect(path) as connection:
        for statement in statements:
            connection.execute(statement, values)
    connection.close()
    return path


def everything(path, folder):
    """All that is read of a logbook."""
    book = Logbook(path)
    book.trips(), book.drifts(), book.pieces(), book.catches(), book.lines()
    for trip in book.trips()["trip"]:
        book.entry(trip).digest()
    shared_layers(book, 1000.0)
    merge(Logbook(folder / "into.gpkg"), book)
    check_file(str(path), default_area())


WRONG = {
    "DATETIME": "soon",
    "DOUBLE": "deep",
    "INTEGER": "many",
    "BOOLEAN": "perhaps",
    "TEXT": b"x",
}
COLUMNS = [
    (table.name, name, kind) for table in (*TABLES, LINES) for name, kind in table.columns.items()
]


@pytest.mark.parametrize(("table", "name", "kind"), COLUMNS)
def test_another_type_of_value_in_each_column(whole, tmp_path, table, name, kind):
    value = WRONG[kind.split()[0]]
    path = changed(
        whole, tmp_path, f'UPDATE {table} SET "{name}" = ? WHERE fid = 1', values=(value,)
    )
    with pytest.raises(LogbookError, match=rf"other\.gpkg, {table}, row \d: {name}: .* is no"):
        everything(path, tmp_path)


@pytest.mark.parametrize(
    ("table", "name"), [(table, name) for table, name, kind in COLUMNS if "NOT NULL" in kind]
)
def test_nothing_where_something_must_be(whole, tmp_path, table, name):
    path = changed(whole, tmp_path, f'UPDATE {table} SET "{name}" = NULL')
    with pytest.raises(LogbookError, match=f"{name}: nothing is there"):
        everything(path, tmp_path)


def blob(kind, *numbers, head=b"GP\0\1\xe6\x10\0\0"):
    return head + struct.pack(f"<BI{len(numbers)}d", 1, kind, *numbers)


LINE = struct.pack("<BII4d", 1, 2, 2, 0.0, 1e308, 1.0, 1.0)


@pytest.mark.parametrize("table", ["drifts", "catches"] + THOROUGH * ["pieces", "lines"])
@pytest.mark.parametrize(
    ("value", "said"),
    [
        (b"", "damaged"), (b"GP", "damaged"), (b"x" * 60, "damaged"), ("text", "damaged"),
        (7, "damaged"), (blob(1, 0.0), "damaged"), (b"GP\0\x0f" + b"\0" * 40, "damaged"),
        (blob(1, 0.0, 0.0)[:-3], "damaged"), (blob(17, 0.0, 0.0), "damaged"),
        (struct.pack("<2sBBiBII", b"GP", 0, 1, 4326, 1, 2, 2**31), "damaged"),
        (blob(3) + struct.pack("<I", 0), "it is no"),
        (b"GP\0\1\xe6\x10\0\0" + LINE, "off the Earth|it is no"),
        (blob(1, 1e308, 0.0), "off the Earth|it is no"),
        (blob(1, float("inf"), 0.0), "off the Earth|it is no|damaged"),
    ],
)  # fmt: skip
def test_geometries_that_are_none(whole, tmp_path, table, value, said):
    path = changed(whole, tmp_path, f"UPDATE {table} SET geom = ?", values=(value,))
    with pytest.raises(LogbookError, match=said):
        everything(path, tmp_path)


@pytest.mark.parametrize("table", ["drifts", "lines"])
def test_a_line_that_is_missing(whole, tmp_path, table):
    path = changed(whole, tmp_path, f"UPDATE {table} SET geom = NULL")
    with pytest.raises(LogbookError, match=f"{table}, row 1: geom: nothing is there"):
        everything(path, tmp_path)


@pytest.mark.parametrize(
    "text",
    ["{", "[]", "7", '{"a": {}}', '{"a": [1]}', '{"trip": "x"}', '{"geometry": 1}', "[" * 100_000,
     '{"a": null}'],
)  # fmt: skip
def test_what_the_schema_does_not_name_is_plain(whole, tmp_path, text):
    path = changed(whole, tmp_path, "UPDATE drifts SET more = ?", values=(text,))
    with pytest.raises(LogbookError, match="drifts, row 1: more: it "):
        everything(path, tmp_path)


@pytest.mark.parametrize("text", ["{", "7", "{}", "[7]", "[" * 100_000])
def test_names_of_files_are_a_list_of_names(whole, tmp_path, text):
    path = changed(whole, tmp_path, "UPDATE trips SET files = ?", values=(text,))
    with pytest.raises(LogbookError, match=r"files: it is not a JSON list of names"):
        everything(path, tmp_path)


@pytest.mark.parametrize(
    ("statements", "said"),
    [
        (("UPDATE logbook_info SET value = 'x' WHERE name = 'schema_version'",), "version is 'x'"),
        (("DELETE FROM logbook_info WHERE name = 'schema_version'",), "is not a logbook"),
        (("UPDATE logbook_info SET value = -3 WHERE name = 'schema_version'",), "version"),
        *(((f"DROP TABLE {table.name}",), f"has no table {table.name}") for table in TABLES),
        (("DROP TABLE lines",), "has no table lines"),
        (("DROP TABLE gpkg_contents",), ""),
        (("ALTER TABLE drifts RENAME TO d", "CREATE VIEW drifts AS SELECT * FROM d"),
         "has no table drifts"),
        (("DROP TABLE drifts",
          "CREATE VIEW drifts AS WITH RECURSIVE n(i) AS (VALUES(1) UNION ALL SELECT i+1 FROM n) "
          "SELECT i AS fid FROM n"), "has no table drifts"),
        (("DROP TABLE catches", "CREATE VIRTUAL TABLE catches USING rtree(id, a, b)"),
         "has no table catches"),
        (("ALTER TABLE drifts DROP COLUMN sog_mps",), "no such column"),
        (("UPDATE trips SET start = '2500-01-01T00:00:00.000Z'",), "start: .* is not a time"),
        (("UPDATE trips SET start = '2031-02-30T00:00:00.000Z'",), "start: .* is not a time"),
        (("UPDATE drifts SET duration_s = 9e999",), "duration_s: 'inf' is not a number"),
        (("UPDATE drifts SET duration_s = 1e300",), "duration_s: '1e.300' is not a number"),
        (("UPDATE trips SET fish = 2.5",), "fish: '2.5' is not a count"),
        (("UPDATE trips SET fish = 9223372036854775807",), "fish: .* is not a count"),
        (("UPDATE catches SET kept = 2",), "kept: '2' is not yes or no"),
        (("UPDATE catches SET note = CAST(x'ff80' AS TEXT)",), ""),
    ],
)  # fmt: skip
def test_parts_that_are_not_what_they_must_be(whole, tmp_path, statements, said):
    path = changed(whole, tmp_path, *statements)
    if not said:
        try:
            everything(path, tmp_path)
        except LogbookError:
            return
        return
    with pytest.raises(SeabedError, match=said):
        everything(path, tmp_path)


@pytest.mark.parametrize("seed", range(60))
def test_bytes_changed_anywhere(whole, tmp_path, seed):
    path = tmp_path / "other.gpkg"
    path.write_bytes(harmed(whole.read_bytes(), seed))
    try:
        everything(path, tmp_path)
    except SeabedError as error:
        assert str(path) in str(error)


def test_drifts_without_a_course_are_named_by_the_way_of_their_line(whole, tmp_path):
    """NaN as a course was an unforeseen error when such a book was shared."""
    path = changed(whole, tmp_path, "UPDATE drifts SET course_deg = NULL", "DELETE FROM lines")
    copy = shared_layers(Logbook(path), 1000.0)
    assert len(copy["drifts"]) == 3
    lines = Logbook(path).lines()
    assert lines["line"].str.startswith("NE").all()  # as `made_entry` draws them
    assert lines["course_deg"].between(20, 50).all()  # a degree of longitude is shorter: not 45
