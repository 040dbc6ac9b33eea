"""A trip that is taken out is gone: no coordinate of it is left in any byte of the file.

The index is the GeoPackage standard's own (OGC 12-128r19, annex F.3).
"""

from __future__ import annotations

import re
import sqlite3
from dataclasses import replace

import numpy as np
import pytest
import shapely
from book_tables import made_entry

from layers.logbook import Logbook, Naming
from layers.scoring.naming import name_lines
from seabed.errors import LogbookError

NAMING = Naming(40.0, name_lines)
DAYS = ("2031-06-14", "2031-06-21", "2031-07-05")
INDEX = """
CREATE VIRTUAL TABLE rtree_{0}_geom USING rtree(id, minx, maxx, miny, maxy);
INSERT INTO gpkg_extensions VALUES ('{0}', 'geom', 'gpkg_rtree_index', 'annex F.3', 'write-only');
CREATE TRIGGER rtree_{0}_geom_insert AFTER INSERT ON {0}
WHEN (new.geom NOT NULL AND NOT ST_IsEmpty(NEW.geom)) BEGIN
INSERT OR REPLACE INTO rtree_{0}_geom VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom),
ST_MinY(NEW.geom), ST_MaxY(NEW.geom)); END;
CREATE TRIGGER rtree_{0}_geom_update AFTER UPDATE OF geom ON {0}
WHEN (new.geom NOT NULL AND NOT ST_IsEmpty(NEW.geom)) BEGIN
INSERT OR REPLACE INTO rtree_{0}_geom VALUES (NEW.fid, ST_MinX(NEW.geom), ST_MaxX(NEW.geom),
ST_MinY(NEW.geom), ST_MaxY(NEW.geom)); END;
CREATE TRIGGER rtree_{0}_geom_delete AFTER DELETE ON {0} WHEN old.geom NOT NULL BEGIN
DELETE FROM rtree_{0}_geom WHERE id = OLD.fid; END;
"""


def indexed(path):
    """Hang on the tables what a GIS does: spatial indexes, and how far each table reaches."""
    with sqlite3.connect(path) as connection:
        connection.execute(
            "CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT, "
            "definition TEXT, scope TEXT)"
        )
        for table in ("drifts", "pieces", "catches", "lines"):
            connection.executescript(INDEX.format(table))
    connection.close()


def reach_of(path, entry):
    box = shapely.total_bounds(entry.drifts.geometry.to_numpy())
    with sqlite3.connect(path) as connection:
        connection.execute(
            "UPDATE gpkg_contents SET min_x=?, min_y=?, max_x=?, max_y=?", tuple(box)
        )
    connection.close()


def coordinates(*entries):
    return np.unique(
        np.concatenate([
            shapely.get_coordinates(table.geometry.to_numpy()).ravel()
            for entry in entries
            for table in entry.tables.values()
        ])
    )  # fmt: skip


def traces(folder, values):
    """Values whose bytes, of any usual kind, or digits are in the book or a file beside it."""
    content = b"".join(path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file())
    kinds = ("<f8", ">f8", "<f4", ">f4")
    return [
        (value, kind)
        for value in values
        for kind in (*kinds, "text")
        if (f"{abs(value):.5f}".encode() if kind == "text" else np.array(value, kind).tobytes())
        in content
    ]


@pytest.fixture(params=["delete", "wal"])
def book(request, tmp_path):
    """Three trips over ground of their own, in a book that a GIS has opened."""
    book = Logbook(tmp_path / "book.gpkg", wait_s=0.2)
    entries = [made_entry(day, points=5) for day in DAYS]
    book.add(entries[:1], naming=NAMING)
    indexed(book.path)
    book.add(entries[1:], naming=NAMING)
    with sqlite3.connect(book.path) as connection:
        connection.execute(f"PRAGMA journal_mode = {request.param}")
    connection.close()
    reach_of(book.path, entries[1])
    return book


def test_no_coordinate_of_it_is_left(book):
    gone, stay = made_entry(DAYS[1], points=5), [made_entry(day, points=5) for day in DAYS[::2]]
    left = coordinates(*stay)
    values = np.setdiff1d(coordinates(gone), left)
    values = values[~np.isin(values.astype("f4"), left.astype("f4"))]
    assert len(values) > 20
    before = traces(book.path.parent, values)
    assert {kind for _, kind in before} >= {"<f8", ">f4"}  # the index keeps single precision
    names = list(book.lines()["line"])
    backup = book.remove(DAYS[1], naming=NAMING)
    assert traces(book.path.parent, values) == []
    assert traces(backup.parent, values)  # as the command says
    assert b"secret note" in book.path.read_bytes()  # of the others
    assert [path.name for path in book.path.parent.iterdir() if path.is_file()] == ["book.gpkg"]
    assert list(book.lines()["line"]) == names[:3] + names[6:]
    assert set(book.drifts()["trip"]) == set(book.pieces()["trip"]) == set(DAYS[::2])
    with sqlite3.connect(book.path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        for table, count in (("drifts", 6), ("catches", 6), ("lines", 6)):
            rows = connection.execute(f"SELECT count(*) FROM rtree_{table}_geom").fetchone()
            assert rows == (count,)
    for day in DAYS[::2]:
        book.remove(day, naming=NAMING)
    assert traces(book.path.parent, coordinates(gone, *stay)) == []
    assert b"secret note" not in book.path.read_bytes()
    with pytest.raises(LogbookError, match=r"no trip named 'x'. It has no trips"):
        book.remove("x", naming=NAMING)


def moved(entry, day):
    """The same ground a metre aside, on another day."""
    other = made_entry(day, points=5)

    def aside(table):
        return table.set_geometry(table.geometry.translate(1e-5, 0))

    drifts = aside(entry.drifts).assign(
        drift_id=other.drifts["drift_id"], trip=day, start=other.drifts["start"],
        end=other.drifts["end"],
    )  # fmt: skip
    pieces = aside(entry.pieces).assign(start=other.pieces["start"], end=other.pieces["end"])
    return replace(other, drifts=drifts, pieces=pieces, catches=aside(other.catches))


def test_ground_keeps_its_name_while_a_drift_ran_it(tmp_path):
    book = Logbook(tmp_path / "book.gpkg")
    first = made_entry(DAYS[0], points=5)
    book.add([first], naming=NAMING)
    book.add([moved(first, DAYS[1])], naming=NAMING)
    names = list(book.lines()["line"])
    assert len(names) == 3
    book.remove(DAYS[0], naming=NAMING)
    lines = book.lines()
    assert list(lines["line"]) == names
    assert set(lines.geometry.to_wkt()) == set(book.drifts().geometry.to_wkt())
    east = [shape.coords[0][0] for shape in first.drifts.geometry]
    assert traces(tmp_path, east) == []  # which the others have a metre aside


def test_pages_that_another_program_keeps_are_said(tmp_path):
    book = Logbook(tmp_path / "book.gpkg", wait_s=0.2)
    book.add([made_entry(day, points=5) for day in DAYS], naming=NAMING)
    with sqlite3.connect(book.path) as connection:
        connection.execute("PRAGMA journal_mode = wal")
    reader = sqlite3.connect(book.path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT * FROM trips").fetchall()
    message = re.escape("book.gpkg-wal: another program that has it open keeps what was removed")
    with pytest.raises(LogbookError, match=message):
        book.remove(DAYS[0], naming=NAMING)
    reader.close()
    connection.close()
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["book.gpkg"]
