"""Statements of the logbook, each run inside the caller's transaction."""

from __future__ import annotations

import json
import sqlite3
import string
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import chain, count, product
from typing import Any, Final

import pandas as pd

from layers.logbook._entries import Entry
from layers.logbook._rows import from_rows, names_of, to_rows
from layers.logbook.schema import LINES, TABLES

AT_ONCE: Final = 200
"""Rows read at once: a drift may have thousands of points."""
_LETTERS: Final = string.ascii_lowercase
_TABLE: Final = {table.name: table for table in (*TABLES, LINES)}


def read_table(
    connection: sqlite3.Connection, name: str, order: str, trip: str | None = None
) -> Any:
    """Read a table, or the rows of one trip, in an order."""
    return from_rows(_TABLE[name], _batches(connection, name, order, trip))


def read_parts(connection: sqlite3.Connection, name: str, order: str) -> Iterator[Any]:
    """Read a table in an order, `AT_ONCE` rows at a time; one part without rows if it has none."""
    some = False
    for batch in _batches(connection, name, order):
        some = True
        yield from_rows(_TABLE[name], [batch])
    if not some:
        yield from_rows(_TABLE[name], [])


def _batches(
    connection: sqlite3.Connection, name: str, order: str, trip: str | None = None
) -> Iterator[list[Any]]:
    columns = ", ".join(f"[{column}]" for column in names_of(_TABLE[name]))  # "" may be text
    where, values = ("", ()) if trip is None else ("WHERE trip = ?", (trip,))
    cursor = connection.execute(
        f'SELECT fid, {columns} FROM {name} {where} ORDER BY "{order}", fid',  # noqa: S608
        values,
    )
    return iter(partial(cursor.fetchmany, AT_ONCE), [])


def insert_rows(connection: sqlite3.Connection, name: str, rows: Sequence[Any]) -> None:
    """Add rows, as `to_rows` gives them, to a table."""
    columns = names_of(_TABLE[name])
    quoted = ", ".join(f'"{column}"' for column in columns)
    marks = ", ".join("?" * len(columns))
    connection.executemany(f"INSERT INTO {name} ({quoted}) VALUES ({marks})", rows)  # noqa: S608


def info_of(connection: sqlite3.Connection, name: str) -> str | None:
    """Look up what ``logbook_info`` says of `name`."""
    row = connection.execute("SELECT value FROM logbook_info WHERE name = ?", (name,)).fetchone()
    return None if row is None else str(row[0])


def set_info(connection: sqlite3.Connection, name: str, value: str) -> None:
    """Make ``logbook_info`` say `value` of `name`."""
    connection.execute(
        "INSERT INTO logbook_info (name, value) VALUES (?, ?) "
        "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        (name, value),
    )


def free_name(connection: sqlite3.Connection, trip: str) -> str:
    """Give the trip's name, with a letter if it is taken."""
    taken = {row[0] for row in connection.execute("SELECT trip FROM trips")}
    letters = ("".join(some) for size in count(1) for some in product(_LETTERS, repeat=size))
    names = chain([trip], (f"{trip} {some}" for some in letters if some != "a"))
    return next(name for name in names if name not in taken)  # there is always another


def insert_entry(connection: sqlite3.Connection, entry: Entry, digest: str) -> None:
    """Add a trip with all its tables."""
    about = pd.DataFrame(
        [
            {
                "trip": entry.trip,
                "start": entry.start,
                "end": entry.end,
                "files": json.dumps(entry.files, ensure_ascii=False),
                "added": pd.Timestamp.now(tz="UTC"),
                "digest": digest,
                **entry.totals(),
            }
        ]
    )
    for name, rows in {"trips": to_rows(_TABLE["trips"], about), **entry.rows()}.items():
        insert_rows(connection, name, rows)


def delete_trip(connection: sqlite3.Connection, trip: str) -> None:
    """Take a trip out of every table."""
    for table in TABLES:
        connection.execute(f"DELETE FROM {table.name} WHERE trip = ?", (trip,))  # noqa: S608


def touch(connection: sqlite3.Connection) -> None:
    """Tell other programs that the tables changed."""
    connection.execute(
        "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
    )
