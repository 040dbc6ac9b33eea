"""What can still be read of a damaged logbook, as a new one: whole trips only."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from layers.logbook._columns import names_of_files
from layers.logbook._entries import Entry
from layers.logbook._rows import from_rows, names_of
from layers.logbook.schema import LINES, TABLES, BookTable
from seabed.errors import LogbookError

Rows = dict[int, tuple[Any, ...]]


@dataclass(frozen=True, slots=True)
class RepairReport:
    """Names of trips that a repair kept whole or lost, and where the damaged file is kept."""

    kept: tuple[str, ...]
    lost: tuple[str, ...]
    damaged: Path


def readable_trips(
    connection: sqlite3.Connection,
) -> tuple[list[tuple[Entry, str]], pd.DataFrame, list[str]]:
    """Give whole trips with their digests, the ground that was named, and names of other trips.

    A trip is whole if its digest is right; or, if a program has changed it since, if as many drifts
    and fish are there as it counts and its pieces follow each other from start to end.
    """
    tables = {table.name: _readable(connection, table) for table in (*TABLES, LINES)}
    whole: list[tuple[Entry, str]] = []
    lost: list[str] = []
    for row in tables["trips"].to_dict("records"):
        own = {
            name: table[table["trip"] == row["trip"]].drop(columns="trip")
            for name, table in tables.items()
            if name not in {"trips", LINES.name}
        }
        with suppress(LogbookError):
            entry = Entry(
                row["trip"], row["start"], row["end"], names_of_files(row["files"]),
                own["drifts"], own["pieces"], own["catches"],
            )  # fmt: skip
            counts = len(own["drifts"]) == row["drifts"] and len(own["catches"]) == row["fish"]
            if entry.digest() == row["digest"] or (counts and _unbroken(entry)):
                whole.append((entry, row["digest"]))
                continue
        lost.append(row["trip"])
    return whole, tables[LINES.name], lost


def _unbroken(entry: Entry) -> bool:
    """Say whether the pieces of a trip cover its time without a hole."""
    begins, ends = list(entry.pieces["start"]), list(entry.pieces["end"])
    return [entry.start, *ends] == [*begins, entry.end]


def _readable(connection: sqlite3.Connection, table: BookTable) -> pd.DataFrame:
    """Read the rows of a table that can be read and are what they must be."""
    good = []
    for row in _rows(connection, table).values():
        with suppress(LogbookError):
            from_rows(table, [[row]])
            good.append(row)
    return from_rows(table, [good])


def _rows(connection: sqlite3.Connection, table: BookTable) -> Rows:
    """Read rows from the first to the damage, and from the last back to it."""
    columns = ", ".join(f"[{name}]" for name in names_of(table))
    rows: Rows = {}
    for way in ("ASC", "DESC"):
        with suppress(sqlite3.Error, UnicodeDecodeError):
            # an index may be what is damaged: the table itself is read
            for row in connection.execute(
                f"SELECT fid, {columns} FROM {table.name} NOT INDEXED ORDER BY fid {way}"  # noqa: S608
            ):
                if row[0] in rows and way == "DESC":
                    break
                rows[row[0]] = row
    return dict(sorted(rows.items()))
