"""The logbook file: opened, added to, read.

A GeoPackage is a SQLite file, and SQLite's own transactions are what keeps it whole: a trip is
written inside one, so that a machine that stops at any moment leaves the trips that were there
before, or those and the new one.  Writers take turns.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from layers.logbook.entries import Entry
from layers.logbook.losses import loss_of, overlapping
from layers.logbook.rows import to_rows
from layers.logbook.schema import LINES, MIGRATIONS, SCHEMA_VERSION, create, version_of
from layers.logbook.sql import (
    delete_trip,
    free_name,
    info_of,
    insert_entry,
    insert_rows,
    read_table,
    set_info,
    touch,
)
from seabed.errors import LogbookError
from seabed.files import replacing

__all__ = ["AddReport", "Logbook", "Naming"]

WAIT_S: Final = 30.0
SQLITE_HEADER_BYTES: Final = 100
CORRIDOR: Final = "lines_named_for_m"
"""Of ``logbook_info``: the corridor that all ground is named for; empty if not all is."""


@dataclass(frozen=True, slots=True)
class AddReport:
    """What adding did, by names of trips."""

    added: tuple[str, ...]
    replaced: tuple[str, ...]
    unchanged: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Naming:
    """How the lines that drifts ran are named.

    Attributes
    ----------
    corridor_m : float
    name : function of drifts, known lines and corridor
        `layers.scoring.name_lines`: gives the drifts with their ``line``, and the lines, the known
        ones first.
    """

    corridor_m: float
    name: Callable[..., tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]]


class Logbook:
    """A logbook file.

    Parameters
    ----------
    path : str or Path
        Need not exist: adding makes it.
    wait_s : float
        How long to wait for another writer.
    """

    def __init__(self, path: str | Path, *, wait_s: float = WAIT_S) -> None:
        self.path = Path(path)
        self._wait_s = wait_s

    @property
    def is_new(self) -> bool:
        """Whether there is nothing in the file yet, or no file."""
        return not self._bytes()

    def add(
        self, entries: Sequence[Entry], *, replace: bool = False, naming: Naming | None = None
    ) -> AddReport:
        """Add trips: all of them or, if anything fails, none.

        A trip that is there already, unchanged, stays as it is.  One that overlaps it in time takes
        its place whole.  One of the same date that does not overlap gets a letter: "2031-06-14 b".

        Parameters
        ----------
        entries : sequence of Entry
        replace : bool
            Let a trip take the place of one with more fish or more track, or of several.
        naming : Naming, optional
            Names new ground in the same transaction; else it is named when next one is given.

        Raises
        ------
        LogbookError
            If something would be lost and `replace` does not allow it, the file is no logbook, is
            of a newer version, or another writer does not finish.
        """
        added: list[str] = []
        replaced: list[str] = []
        unchanged: list[str] = []
        losses: list[str] = []
        with self._writing() as connection:
            for entry in entries:
                digest = entry.digest()
                old = overlapping(connection, entry)
                if len(old) == 1 and old[0].digest == digest:
                    unchanged.append(old[0].trip)
                    continue
                losses.append(loss_of(old, entry))
                for one in old:
                    delete_trip(connection, one.trip)
                name = free_name(connection, entry.trip)
                insert_entry(
                    connection, entry if name == entry.trip else entry.renamed(name), digest
                )
                (replaced if old else added).append(name)
            self._hold_back(list(filter(None, losses)), allowed=replace)
            changed = (*added, *replaced)
            if naming is not None:
                _name(connection, naming, changed)
            elif changed:
                set_info(connection, CORRIDOR, "")
        return AddReport(tuple(added), tuple(replaced), tuple(unchanged))

    def _hold_back(self, losses: list[str], *, allowed: bool) -> None:
        """Undo the writing that this is called in where something would be lost."""
        if losses and not allowed:
            raise LogbookError(
                f"this would be lost of trips logged before: {'; '.join(losses)}",
                file=self.path,
                do="Log each with all its tracks and catch logs, or say --replace if that is meant;"
                " nothing was changed.",
            )

    def remove(self, trip: str) -> None:
        """Take a trip out.

        Raises
        ------
        LogbookError
            If there is no such trip.
        """
        with self._writing(must_exist=True) as connection:
            known = [row[0] for row in connection.execute("SELECT trip FROM trips ORDER BY start")]
            if trip not in known:
                raise LogbookError(
                    f"no trip named {trip!r}",
                    file=self.path,
                    do=f"There are {', '.join(known[-8:])}." if known else "It has no trips.",
                )
            delete_trip(connection, trip)

    def name_lines(self, naming: Naming) -> None:
        """Name the ground of all drifts that has no name yet, for a corridor; often nothing to do.

        A name that is there stays what it is.
        """
        with self._open(must_exist=True) as connection:
            self._check(connection)
            if _named_for(connection, naming):
                return
        with self._writing(must_exist=True) as connection:
            _name(connection, naming, ())

    def lines(self) -> gpd.GeoDataFrame:
        """Ground that was named, in the order in which it was: ``line``, ``course_deg``."""
        return self._read(LINES.name, "fid")

    def trips(self) -> pd.DataFrame:
        """Every trip, in order of time, a row each."""
        return self._read("trips", "start")

    def drifts(self, trip: str | None = None) -> gpd.GeoDataFrame:
        """Drifts of one trip or all, in order of time."""
        return self._read("drifts", "start", trip)

    def pieces(self, trip: str | None = None) -> gpd.GeoDataFrame:
        """Pieces of one trip or all, in order of time."""
        return self._read("pieces", "start", trip)

    def catches(self, trip: str | None = None) -> gpd.GeoDataFrame:
        """Fish of one trip or all, in order of time; with ``longitude`` and ``latitude``."""
        fish = self._read("catches", "time", trip)
        return fish.assign(longitude=fish.geometry.x, latitude=fish.geometry.y)

    def entry(self, trip: str) -> Entry:
        """Give a trip back as it was added.

        Raises
        ------
        LogbookError
            If there is no such trip.
        """
        trips = self.trips()
        found = trips[trips["trip"] == trip]
        if not len(found):
            names = ", ".join(trips["trip"].tail(8)) or "none"
            raise LogbookError(f"no trip named {trip!r}", file=self.path, do=f"There are {names}.")
        row = found.iloc[0]
        return Entry(
            trip,
            row["start"],
            row["end"],
            tuple(json.loads(row["files"] or "[]")),
            self.drifts(trip).drop(columns="trip"),
            self.pieces(trip).drop(columns="trip"),
            self.catches(trip).drop(columns=["trip", "longitude", "latitude"]),
        )

    def _read(self, name: str, order: str, trip: str | None = None) -> Any:
        with self._open(must_exist=True) as connection:
            self._check(connection)
            return read_table(connection, name, order, trip)

    @contextmanager
    def _open(self, *, must_exist: bool) -> Iterator[sqlite3.Connection]:
        if must_exist and not self.path.is_file():
            raise LogbookError(
                "no such logbook",
                file=self.path,
                do="Add a trip first: seabed trip TRACK --log FILE.",
            )
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(self.path, timeout=self._wait_s, isolation_level=None)
        except sqlite3.Error as error:
            raise self._told(error) from error
        except OSError as error:
            raise LogbookError(
                f"can't be written: {(error.strerror or str(error)).lower()}",
                file=self.path,
                do="Name another place with --log.",
            ) from error
        if (
            0 < self._bytes() < SQLITE_HEADER_BYTES
        ):  # SQLite would take it for new, and write over it
            connection.close()
            raise self._told(sqlite3.DatabaseError("file is not a database"))
        with closing(connection):
            try:
                yield connection
            except sqlite3.Error as error:
                raise self._told(error) from error

    def _bytes(self) -> int:
        return self.path.stat().st_size if self.path.is_file() else 0

    @contextmanager
    def _writing(self, *, must_exist: bool = False) -> Iterator[sqlite3.Connection]:
        """Open a transaction that holds the file against other writers."""
        with self._open(must_exist=must_exist) as connection:
            self._migrate(connection)
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("BEGIN IMMEDIATE")
            try:
                if version_of(connection) == 0:
                    create(connection)
                self._check(connection)
                yield connection
                touch(connection)
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def _check(self, connection: sqlite3.Connection) -> None:
        """Hold that the file is a logbook of a version that can be read."""
        version = version_of(connection)
        if version == 0:
            raise LogbookError("the logbook is empty", file=self.path, do="Add a trip first.")
        if version is None:
            raise LogbookError(
                "this GeoPackage is no logbook", file=self.path, do="Name another file with --log."
            )
        if version > SCHEMA_VERSION:
            raise LogbookError(
                f"written by a newer seabed-layers (version {version} of the logbook)",
                file=self.path,
                do="Update seabed-layers.",
            )
        if version < SCHEMA_VERSION and not connection.in_transaction:
            raise LogbookError(
                f"of an older version ({version})",
                file=self.path,
                do="Run seabed season --update on it; a copy of the old one is kept.",
            )

    def update(self) -> Path | None:
        """Bring an older logbook to today's version; give the backup made, if one was needed."""
        with self._open(must_exist=True) as connection:
            return self._migrate(connection)

    def _migrate(self, connection: sqlite3.Connection) -> Path | None:
        version = version_of(connection)
        if version is None or not 0 < version < SCHEMA_VERSION:
            return None
        backup = self.path.with_name(f"{self.path.stem}.version-{version}{self.path.suffix}")
        with replacing(backup) as partial, closing(sqlite3.connect(partial)) as copy:
            connection.backup(copy)
        connection.execute("BEGIN IMMEDIATE")
        try:
            for step in range(version_of(connection) or SCHEMA_VERSION, SCHEMA_VERSION):
                MIGRATIONS[step](connection)
            connection.execute(
                "UPDATE logbook_info SET value = ? WHERE name = 'schema_version'", (SCHEMA_VERSION,)
            )
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        return backup

    def _told(self, error: sqlite3.Error) -> LogbookError:
        words = str(error)
        if "locked" in words or "busy" in words:
            return LogbookError(
                f"another program has been writing to it for {self._wait_s:.0f} s",
                file=self.path,
                do="Close that program, or wait, and run again; nothing was changed.",
            )
        if "not a database" in words or "malformed" in words:
            return LogbookError(
                "damaged, or no logbook", file=self.path, do="Take a backup, or name another file."
            )
        if "full" in words or "I/O" in words:
            return LogbookError(
                "can't be written: the disk is full, or fails",
                file=self.path,
                do="Make room; nothing was changed.",
            )
        if "readonly" in words or "unable to open" in words:
            return LogbookError(
                "can't be written", file=self.path, do="Check the folder's permissions."
            )
        return LogbookError(f"can't be used: {words}", file=self.path)


def _name(connection: sqlite3.Connection, naming: Naming, new: Sequence[str]) -> None:
    """Name the drifts of `new` trips, or of all where not all are named for this corridor."""
    only = list(new) if _named_for(connection, naming) else [None]
    drifts = [read_table(connection, "drifts", "start", trip) for trip in only]
    every = pd.concat(drifts, ignore_index=True) if drifts else []
    if len(every):
        known = read_table(connection, LINES.name, "fid")
        _, lines = naming.name(every, known, corridor_m=naming.corridor_m)
        insert_rows(connection, LINES.name, to_rows(LINES, lines.iloc[len(known) :]))
    set_info(connection, CORRIDOR, repr(naming.corridor_m))


def _named_for(connection: sqlite3.Connection, naming: Naming) -> bool:
    """Say whether all ground is named for this corridor."""
    return info_of(connection, CORRIDOR) == repr(naming.corridor_m)
