"""What stays of a trip that is taken out: nothing.

A name of ground is a line, and that line is a drift of some trip.  When the trip goes, another
drift that ran the same ground lends the name its line; if there is none, the name goes too.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import suppress
from typing import Final

import shapely

from layers.logbook._blobs import to_blobs
from layers.logbook._naming import Naming
from layers.logbook._sql import info_of, read_table, set_info
from layers.logbook.schema import LINES, TABLES

SQUARES: Final = "share_squares"
"""Of ``logbook_info``: grounds with their secrets, and the square of each drift, for sharing."""


def forget_ground(connection: sqlite3.Connection, naming: Naming) -> None:
    """Take lines that are no drift's any more out of the names of ground."""
    logged = {row[0] for row in connection.execute("SELECT geom FROM drifts")}
    rows = connection.execute(f"SELECT fid, geom FROM {LINES.name} ORDER BY fid").fetchall()  # noqa: S608
    stale = [place for place, (_, geom) in enumerate(rows) if geom not in logged]
    if not stale:
        return
    known = read_table(connection, LINES.name, "fid")
    drifts = read_table(connection, "drifts", "start")
    named, _ = naming.name(drifts, known, corridor_m=naming.corridor_m)
    for place in stale:
        heirs = named[named["line"] == known["line"].iloc[place]]
        if not len(heirs):
            connection.execute(f"DELETE FROM {LINES.name} WHERE fid = ?", (rows[place][0],))  # noqa: S608
            continue
        away = shapely.hausdorff_distance(known.geometry.iloc[place], heirs.geometry.to_numpy())
        heir = heirs.iloc[int(away.argmin())]
        connection.execute(
            f"UPDATE {LINES.name} SET geom = ?, course_deg = ? WHERE fid = ?",  # noqa: S608
            (to_blobs([heir.geometry])[0], round(float(heir["course_deg"]), 6), rows[place][0]),
        )


def forget_squares(connection: sqlite3.Connection) -> None:
    """Forget in which square of a shared copy a drift was that is gone."""
    names = {row[0] for row in connection.execute("SELECT drift_id FROM drifts")}
    text = info_of(connection, SQUARES)
    with suppress(ValueError, TypeError, AttributeError, RecursionError):  # reading it reports
        note = json.loads(text or "")
        kept = {name: square for name, square in note["drifts"].items() if name in names}
        set_info(connection, SQUARES, json.dumps(note | {"drifts": kept}))


def squares_of(connection: sqlite3.Connection) -> dict[str, str]:
    """Give the squares, which another book that takes this one's place must keep for its copies."""
    with suppress(sqlite3.Error):  # of a damaged logbook
        text = info_of(connection, SQUARES)
        return {} if text is None else {SQUARES: text}
    return {}


def forget_reach(connection: sqlite3.Connection) -> None:
    """Clear how far the tables reach, which other programs write down: corners are coordinates."""
    connection.execute(
        "UPDATE gpkg_contents SET min_x = NULL, min_y = NULL, max_x = NULL, max_y = NULL"
    )


def renew_indexes(connection: sqlite3.Connection) -> None:
    """Rebuild spatial indexes of a GIS: nodes of an old one keep bytes of rows that are gone."""
    statements = connection.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'table' AND name LIKE 'rtree_%' "
        "AND sql LIKE 'CREATE VIRTUAL TABLE%'"
    ).fetchall()
    indexes = dict(statements)
    for table in (*TABLES, LINES):
        name = f"rtree_{table.name}_geom"
        if name in indexes:
            connection.execute(f"DROP TABLE {name}")
            connection.execute(indexes[name])
            connection.execute(
                f"INSERT INTO {name} SELECT fid, ST_MinX(geom), ST_MaxX(geom), ST_MinY(geom), "  # noqa: S608
                f"ST_MaxY(geom) FROM {table.name} WHERE geom NOT NULL AND NOT ST_IsEmpty(geom)"
            )
