"""Older logbooks become today's, after a backup, whole at any moment.

The older file is made by statements written out here, not by the library.
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import sys
import time
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pyogrio
import pytest
from book_tables import made_entry
from thoroughness import THOROUGH

from layers.logbook import Logbook
from layers.logbook import _book_file as file_module
from layers.logbook import schema as schema_module
from layers.logbook._backups import backups_of
from layers.logbook._rows import to_rows
from layers.logbook.schema import TABLES
from seabed.errors import LogbookError

VERSION_1 = """
PRAGMA application_id = 1196444487;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY,
  organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL,
  description TEXT);
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', NULL),
  ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', NULL),
  ('WGS 84 geodetic', 4326, 'EPSG', 4326, 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",
   6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]', NULL);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL,
  identifier TEXT UNIQUE, description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER);
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL,
  m TINYINT NOT NULL, PRIMARY KEY (table_name, column_name));
INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES
  ('trips', 'attributes', 'trips', NULL), ('logbook_info', 'attributes', 'logbook_info', NULL),
  ('drifts', 'features', 'drifts', 4326), ('pieces', 'features', 'pieces', 4326),
  ('catches', 'features', 'catches', 4326);
INSERT INTO gpkg_geometry_columns VALUES ('drifts', 'geom', 'LINESTRING', 4326, 0, 0),
  ('pieces', 'geom', 'LINESTRING', 4326, 0, 0), ('catches', 'geom', 'POINT', 4326, 0, 0);
CREATE TABLE logbook_info (fid INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL UNIQUE,
  value TEXT NOT NULL);
INSERT INTO logbook_info (name, value) VALUES ('schema_version', '1');
CREATE TABLE trips (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, trip TEXT NOT NULL UNIQUE,
  start DATETIME NOT NULL, "end" DATETIME NOT NULL, files TEXT, added DATETIME,
  digest TEXT NOT NULL, drifts INTEGER, rod_hours DOUBLE, kept INTEGER, short INTEGER,
  fish INTEGER, more TEXT);
CREATE TABLE drifts (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom LINESTRING,
  trip TEXT NOT NULL, drift_id TEXT NOT NULL UNIQUE, start DATETIME NOT NULL,
  "end" DATETIME NOT NULL, duration_s DOUBLE, distance_m DOUBLE, sog_mps DOUBLE,
  course_deg DOUBLE, depth_start_m DOUBLE, depth_min_m DOUBLE, depth_mean_m DOUBLE,
  depth_max_m DOUBLE, in_band_s DOUBLE, rods DOUBLE, rod_hours DOUBLE, more TEXT);
CREATE INDEX drifts_by_trip ON drifts (trip);
CREATE TABLE pieces (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom LINESTRING,
  trip TEXT NOT NULL, kind TEXT NOT NULL, start DATETIME NOT NULL, "end" DATETIME NOT NULL,
  duration_s DOUBLE, distance_m DOUBLE, sog_mps DOUBLE, course_deg DOUBLE, more TEXT);
CREATE INDEX pieces_by_trip ON pieces (trip);
CREATE TABLE catches (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom POINT,
  trip TEXT NOT NULL, time DATETIME NOT NULL, species TEXT, length_m DOUBLE, kept BOOLEAN,
  rod TEXT, note TEXT, file TEXT, row INTEGER, drift_id TEXT, tied_by TEXT, why TEXT, flag TEXT,
  more TEXT);
CREATE INDEX catches_by_trip ON catches (trip);
"""
"""The first version, in which a fish had to have a time, and lines had no names that last."""

COLUMNS = {
    "trips": "trip, start, \"end\", files, added, digest, drifts, rod_hours, kept, short, fish",
    "drifts": "trip, drift_id, start, \"end\", duration_s, distance_m, sog_mps, course_deg, "
    "depth_start_m, depth_min_m, depth_mean_m, depth_max_m, in_band_s, rods, rod_hours",
    "pieces": "trip, kind, start, \"end\", duration_s, distance_m, sog_mps, course_deg",
    "catches": "trip, time, species, length_m, kept, rod, note, file, row, drift_id, tied_by, "
    "why, flag",
}  # fmt: skip


def version_1(path: Path, days: list[str]) -> Path:
    """An older logbook with a trip of each day."""
    connection = sqlite3.connect(path)
    connection.executescript(VERSION_1)
    for day in days:
        entry = made_entry(day)
        about = pd.DataFrame([{
            "trip": day, "start": entry.start, "end": entry.end, "files": "[]",
            "added": entry.end, "digest": entry.digest(), **entry.totals(),
        }])  # fmt: skip
        rows = {"trips": to_rows(TABLES[0], about), **entry.rows()}
        for name, columns in COLUMNS.items():
            geometry = "" if name == "trips" else "geom, "
            marks = ", ".join("?" * len(rows[name][0]))
            connection.executemany(
                f"INSERT INTO {name} ({geometry}{columns}, more) VALUES ({marks})", rows[name]
            )
    connection.commit()
    connection.close()
    return path


def not_null(path: Path) -> bool:
    with sqlite3.connect(path) as connection:
        told = {row[1]: row[3] for row in connection.execute("PRAGMA table_info(catches)")}
    return bool(told["time"])


def test_a_logbook_of_the_first_version_is_kept_and_brought_up_to_date(tmp_path):
    book = Logbook(version_1(tmp_path / "Ås 日本.gpkg", ["2031-06-14", "2031-06-21"]))
    old = book.path.read_bytes()
    with pytest.raises(LogbookError, match=r"older version \(1\). Bring it up to date with update"):
        book.trips()
    assert book.path.read_bytes() == old
    backup = book.update()
    assert backup is not None and backup.name.endswith("Z before update.gpkg")
    assert not_null(backup) and not not_null(book.path)
    assert book.update() is None
    for day in ("2031-06-14", "2031-06-21"):
        was, came = made_entry(day), book.entry(day)
        assert came.digest() == was.digest()
        assert list(came.catches["time"]) == list(was.catches["time"])
    assert book.add([made_entry("2031-06-14")]).unchanged == ("2031-06-14",)
    with sqlite3.connect(backup) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
        assert connection.execute("SELECT count(*) FROM drifts").fetchone()[0] == 6
    assert "lines" not in tables
    kinds = dict(pyogrio.list_layers(book.path))
    assert kinds["lines"] == "LineString" and kinds["catches"] == "Point"


def test_a_fish_without_a_time_can_then_be_logged(tmp_path):
    book = Logbook(version_1(tmp_path / "book.gpkg", ["2031-06-14"]))
    later = made_entry("2031-06-21")
    timeless = replace(later, catches=later.catches.assign(time=pd.NaT))
    timeless.catches["time"] = pd.to_datetime(timeless.catches["time"], utc=True)
    assert book.add([timeless]).added == ("2031-06-21",)  # which migrates on its way
    assert book.catches("2031-06-21")["time"].isna().all()
    assert len(backups_of(book.path)) == 1


def test_what_a_gis_hung_on_the_fish_is_still_there(tmp_path):
    """A spatial index and its trigger, as the standard has them, on the table that is changed."""
    path = version_1(tmp_path / "book.gpkg", ["2031-06-14"])
    boxes = "ST_MinX(NEW.geom), ST_MaxX(NEW.geom), ST_MinY(NEW.geom), ST_MaxY(NEW.geom)"
    with sqlite3.connect(path) as connection:
        connection.execute(
            "CREATE VIRTUAL TABLE rtree_catches_geom USING rtree(id, minx, maxx, miny, maxy)"
        )
        connection.execute(
            "CREATE TRIGGER rtree_catches_geom_update AFTER UPDATE OF geom ON catches BEGIN "
            f"INSERT OR REPLACE INTO rtree_catches_geom VALUES (NEW.fid, {boxes}); END"
        )
    Logbook(path).update()
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        triggers = connection.execute("SELECT tbl_name FROM sqlite_master WHERE type = 'trigger'")
        assert triggers.fetchall() == [("catches",)]
    assert len(Logbook(path).catches()) == 3


def test_a_migration_that_fails_changes_nothing(tmp_path, monkeypatch):
    book = Logbook(version_1(tmp_path / "book.gpkg", ["2031-06-14"]))

    def broken(connection: sqlite3.Connection) -> None:
        connection.execute("ALTER TABLE trips ADD COLUMN weather TEXT")
        raise RuntimeError("power cut")

    with monkeypatch.context() as patch:
        patch.setitem(schema_module.MIGRATIONS, 1, broken)
        with pytest.raises(RuntimeError, match="power cut"):
            book.update()
    with sqlite3.connect(book.path) as connection:
        assert "weather" not in [row[1] for row in connection.execute("PRAGMA table_info(trips)")]
    book.update()
    assert list(book.trips()["trip"]) == ["2031-06-14"]


def test_every_version_has_its_step():
    assert sorted(schema_module.MIGRATIONS) == list(range(1, schema_module.SCHEMA_VERSION))
    assert file_module.SCHEMA_VERSION == schema_module.SCHEMA_VERSION


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX fork")
def test_killed_at_any_moment_of_a_migration_nothing_is_lost(tmp_path):
    """Kill -9 at 10 moments (60 where all is tried), over some twice the time of a migration here.

    The span follows the machine, which others may slow down: longer after one that was not done.
    """
    days = [f"2031-06-{day:02d}" for day in range(1, 7)]
    source = version_1(tmp_path / "source.gpkg", days).read_bytes()
    path = tmp_path / "book.gpkg"

    def migrate_and_die(wait_s: float) -> None:
        path.write_bytes(source)
        Path(f"{path}-journal").unlink(missing_ok=True)
        for backup in backups_of(path):
            backup.unlink()
        child = os.fork()
        if child == 0:
            try:
                Logbook(path).update()
            finally:
                os._exit(0)
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)

    path.write_bytes(source)
    begin = time.perf_counter()
    Logbook(path).update()
    took_s = time.perf_counter() - begin
    moments = random.Random(20310614)
    left = []
    for _ in range(60 if THOROUGH else 10):
        migrate_and_die(moments.uniform(0, 2 * took_s))
        left.append("new" if Path(f"{path}-journal").exists() or not_null(path) else "done")
        if left[-1] == "done":
            assert all(map(not_null, backups_of(path))) and backups_of(
                path
            )  # the old one was safe before the new one was begun
        took_s *= 1 / 1.3 if left[-1] == "done" else 1.3  # the machine may be busy
        Logbook(path).update()
        assert list(Logbook(path).trips()["trip"]) == days
        assert len(Logbook(path).catches()) == 18
        with sqlite3.connect(path) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert set(left) == {"new", "done"}
