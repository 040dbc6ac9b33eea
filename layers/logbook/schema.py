"""Tables of the logbook, and how older ones become today's."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from layers.catches.reading import CATCHES
from layers.catches.rules import FLAGS
from layers.catches.tying import TIES
from layers.cautions import CAUTIONS
from layers.logbook._blobs import SRS_ID
from layers.scoring.naming import KNOWN
from layers.tracks import DRIFTS, PIECES
from seabed import schema
from seabed.errors import LogbookError
from seabed.table_column import GEOMETRY

UNUSABLE: Final = "Restore a backup, or name another file."
"""What to do about a logbook whose parts are not what they must be."""

SCHEMA_VERSION: Final = 2
APPLICATION_ID: Final = 0x47504B47  # "GPKG"
GEOPACKAGE_VERSION: Final = 10300

_WKT: Final = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],'
    'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]'
)


@dataclass(frozen=True, slots=True)
class BookTable:
    """A table of the logbook, with GeoPackage's type of geometry.

    columns: besides ``fid``, ``geom`` and ``more`` (JSON of columns that the schema does not name).
    """

    name: str
    columns: dict[str, str]
    geometry: str | None
    about: str


_SQL: Final = {"time": "DATETIME", "truth": "BOOLEAN", "text": "TEXT"}


def _columns(table: schema.Table, needed: Sequence[str] = (), unique: str = "") -> dict[str, str]:
    """Give the SQL types of a table's columns; numbers may be NULL, which NaN is."""
    types = {}
    for column in table:
        if column.kind != GEOMETRY:
            whole = "INTEGER" if column.dtype.startswith("int") else "DOUBLE"
            types[column.name] = _SQL.get(column.kind, whole)
            types[column.name] += " NOT NULL" if column.name in (*needed, unique) else ""
            types[column.name] += " UNIQUE" if column.name == unique else ""
    return types


LATER: Final = {
    "person": "", "bait": "", "lead": "", "angle": "", "contact": "", "or_drift_id": "",
    "sure": float("nan"),
}  # fmt: skip
"""Columns of fish that came later, and what they hold where nothing is known: in ``more`` where
something is in them, so that older logbooks, and older programs, go on as they were."""

_TRIP: Final = {"trip": "TEXT NOT NULL"}
_TIMED: Final = ("start", "end")
TRIPS: Final = schema.Table.of(
    "trips",
    "layers.logbook.Logbook.trips",
    """
    trip [text] its name
    start, end [time] UTC
    files [text empty] that it was read from
    added [time empty] UTC, when it was logged
    digest [text] of all that is stored of it
    drifts [int] how many
    rod_hours of all
    kept, short, fish [int] kept, known to have gone back, and all
    """,
)
TABLES: Final = (
    BookTable("trips", _columns(TRIPS, (*_TIMED, "digest"), "trip"), None, "A row a trip"),
    BookTable(
        "drifts",
        _TRIP
        | _columns(
            DRIFTS.only(
                "drift_id", *_TIMED, "duration_s", "distance_m", "sog_mps", "course_deg",
                "depth_start_m", "depth_min_m", "depth_mean_m", "depth_max_m", "in_band_s", "rods",
                "rod_hours",
            ),
            _TIMED,
            "drift_id",
        ),
        "LINESTRING",
        "Drifts",
    ),
    BookTable(
        "pieces",
        _TRIP
        | _columns(
            PIECES.only("kind", *_TIMED, "duration_s", "distance_m", "sog_mps", "course_deg"),
            ("kind", *_TIMED),
        ),
        "LINESTRING",
        "Tracks, cut into run, drift, hold and gap",
    ),
    BookTable(
        "catches",
        _TRIP
        | {
            name: kind
            for name, kind in _columns(CATCHES + TIES + FLAGS).items()
            if name not in ("longitude", "latitude", *LATER)
        },
        "POINT",
        "Fish",
    ),
)  # fmt: skip

LINES: Final = BookTable(
    "lines",
    _columns(KNOWN, unique="line"),
    "LINESTRING",
    "Named ground, in the order of naming",
)
"""No table of trips: a name lasts as long as a drift in the logbook ran its ground."""

_CORE: Final = (
    """CREATE TABLE gpkg_spatial_ref_sys (
        srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
        organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT)""",
    """CREATE TABLE gpkg_contents (
        table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
        description TEXT DEFAULT '', last_change DATETIME NOT NULL
        DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
        min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
        CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))""",
    """CREATE TABLE gpkg_geometry_columns (
        table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
        srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
        CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
        CONSTRAINT uk_gc_table_name UNIQUE (table_name),
        CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
        CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id))""",
    """CREATE TABLE logbook_info (
        fid INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL UNIQUE, value TEXT NOT NULL)""",
)


def create(connection: sqlite3.Connection) -> None:
    """Make an empty logbook, inside the caller's transaction."""
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {GEOPACKAGE_VERSION}")
    for statement in _CORE:
        connection.execute(statement)
    connection.executemany(
        "INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)",
        [
            ("Undefined Cartesian SRS", -1, "NONE", -1, "undefined", None),
            ("Undefined geographic SRS", 0, "NONE", 0, "undefined", None),
            ("WGS 84 geodetic", SRS_ID, "EPSG", SRS_ID, _WKT, "longitude, latitude in degrees"),
        ],
    )
    for table in (*TABLES, LINES):
        _create_table(connection, table)
    _register(connection, "logbook_info", None, "What this file is")
    connection.execute(
        "INSERT INTO logbook_info (name, value) VALUES ('schema_version', ?)", (SCHEMA_VERSION,)
    )


def version_of(connection: sqlite3.Connection) -> int | None:
    """Version of the schema; 0 for an empty file, None for one that is no logbook."""
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    if not names:
        return 0
    if "logbook_info" not in names:
        return None
    row = connection.execute(
        "SELECT value FROM logbook_info WHERE name = 'schema_version'"
    ).fetchone()
    if row is None:
        return None
    try:
        return int(row[0])
    except (TypeError, ValueError) as error:
        raise LogbookError(
            f"its version is {str(row[0])[:40]!r}, which is not a number", do=UNUSABLE
        ) from error


def check_tables(connection: sqlite3.Connection) -> None:
    """Raise LogbookError unless every table is a plain one: a view could be anything."""
    objects = connection.execute("SELECT name, type, sql FROM sqlite_master").fetchall()
    plain = {
        name
        for name, kind, sql in objects
        if kind == "table" and "VIRTUAL" not in str(sql).upper().partition("(")[0]
    }
    for table in (*TABLES, LINES):
        if table.name not in plain:
            raise LogbookError(f"it has no table {table.name}", do=UNUSABLE)


def _create_table(connection: sqlite3.Connection, table: BookTable) -> None:
    columns = ["fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"]
    if table.geometry:
        columns.append(f"geom {table.geometry}")
    columns += [f'"{name}" {kind}' for name, kind in table.columns.items()]
    connection.execute(f"CREATE TABLE {table.name} ({', '.join(columns)}, more TEXT)")
    if "trip" in table.columns and table.name != "trips":
        connection.execute(f"CREATE INDEX {table.name}_by_trip ON {table.name} (trip)")
    _register(connection, table.name, table.geometry, table.about)


def _register(connection: sqlite3.Connection, name: str, geometry: str | None, about: str) -> None:
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
        "VALUES (?, ?, ?, ?, ?)",
        (
            name,
            "features" if geometry else "attributes",
            name,
            f"{about}. {CAUTIONS}",
            SRS_ID if geometry else None,
        ),
    )
    if geometry:
        connection.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)",
            (name, geometry, SRS_ID),
        )


def _to_version_2(connection: sqlite3.Connection) -> None:
    """Let fish have no time, and lines have names that last.

    The column is changed in place: a new table would lose the spatial index and triggers of a GIS.
    """
    needed = {row[1]: row[3] for row in connection.execute("PRAGMA table_info(catches)")}
    if needed["time"]:  # NOT NULL
        connection.execute("ALTER TABLE catches ADD COLUMN time_or_null DATETIME")
        connection.execute("UPDATE catches SET time_or_null = time")
        connection.execute("ALTER TABLE catches DROP COLUMN time")
        connection.execute("ALTER TABLE catches RENAME COLUMN time_or_null TO time")
    _create_table(connection, LINES)


MIGRATIONS: Final[dict[int, Callable[[sqlite3.Connection], None]]] = {1: _to_version_2}
"""From a version to the next, inside the caller's transaction."""
