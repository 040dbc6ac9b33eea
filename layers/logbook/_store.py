"""The logbook: trips added, taken out and read, ground named."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from layers.logbook._backups import LAST, find_backup
from layers.logbook._book_file import WAIT_S, BookFile
from layers.logbook._columns import names_of_files
from layers.logbook._entries import Entry, loss_of, overlapping
from layers.logbook._forgetting import (
    forget_ground,
    forget_reach,
    forget_squares,
    renew_indexes,
    squares_of,
)
from layers.logbook._naming import Naming
from layers.logbook._repairing import RepairReport, readable_trips
from layers.logbook._rows import to_rows
from layers.logbook._sql import (
    delete_trip,
    free_name,
    info_of,
    insert_entry,
    insert_rows,
    read_parts,
    read_table,
    set_info,
)
from layers.logbook.schema import LATER, LINES
from seabed.errors import LogbookError

CORRIDOR: Final = "lines_named_for_m"
"""Of ``logbook_info``: the corridor that all ground is named for; empty if not all is."""


@dataclass(frozen=True, slots=True)
class AddReport:
    """What adding did, by names of trips; and where the logbook is kept as it was, if it is."""

    added: tuple[str, ...]
    replaced: tuple[str, ...]
    unchanged: tuple[str, ...]
    backup: Path | None = None


class Logbook:
    """A logbook file.

    Parameters
    ----------
    path : str or Path
        Need not exist: adding makes it.
    wait_s : float
        How long to wait for another writer.

    Examples
    --------
    >>> from layers import clean, cut, drifts, entries_of, example_trip, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> pieces = cut(fixes)
    >>> own = drifts(pieces, fixes)
    >>> trips = entries_of(pieces, own, tie(catches, own, fixes), files=["trip.gpx"])
    >>> book = Logbook("book.gpkg")
    >>> book.add(trips).added
    ('2031-06-14',)
    >>> book.trips()[["drifts", "kept"]].values.tolist()
    [[4, 3]]
    """

    def __init__(self, path: str | Path, *, wait_s: float = WAIT_S) -> None:
        self.path = Path(path)
        self._file = BookFile(self.path, wait_s=wait_s)

    @property
    def is_new(self) -> bool:
        """Whether there is nothing in the file yet, or no file."""
        return not self._file.size

    def add(
        self,
        entries: Sequence[Entry],
        *,
        replace: bool = False,
        naming: Naming | None = None,
        before: str = "",
    ) -> AddReport:
        """Add trips: all of them or, if anything fails, none.

        A trip that already exists, unchanged, stays as it is.  One that overlaps it in time takes
        its place whole.  One of the same date that does not overlap gets a letter: "2031-06-14 b".

        Parameters
        ----------
        entries : sequence of Entry
        replace : bool
            Let a trip take the place of one with more fish or more track, or of several.
        naming : Naming, optional
            Names new ground in the same transaction; else it is named when next one is given.
        before : str
            What this is called, if a backup is to be made first.  With `replace` one is made where
            a trip's place is taken.

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
        new = self.is_new
        with self._file.writing() as connection:
            backup = None
            if not new and (before or (replace and _some_goes(connection, entries))):
                backup = self._file.keep(before=before or "replace")
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
                if replaced:
                    forget_ground(connection, naming)
                _name(connection, naming, changed)
            elif changed:
                set_info(connection, CORRIDOR, "")
        return AddReport(tuple(added), tuple(replaced), tuple(unchanged), backup)

    def _hold_back(self, losses: list[str], *, allowed: bool) -> None:
        """Undo the transaction that this is called in where something would be lost."""
        if losses and not allowed:
            raise LogbookError(
                f"trips logged before would lose this: {'; '.join(losses)}",
                file=self.path,
                do="Log each with all its tracks and catch logs, or allow it with {replace} if "
                "that is meant; nothing was changed.",
            )

    def remove(self, trip: str, *, naming: Naming) -> Path:
        """Take a trip out, and all that the file holds of it; give the backup made before.

        naming: finds the drifts that lend their line to ground that a drift of this trip named.

        Raises LogbookError if there is no such trip, or another program still holds its pages.
        """
        with self._file.writing(must_exist=True) as connection:
            known = [row[0] for row in connection.execute("SELECT trip FROM trips ORDER BY start")]
            if trip not in known:
                raise LogbookError(
                    f"no trip named {trip!r}",
                    file=self.path,
                    do=f"There are {', '.join(known[-8:])}." if known else "It has no trips.",
                )
            backup = self._file.keep(before="remove")
            delete_trip(connection, trip)
            forget_ground(connection, naming)
            forget_reach(connection)
            forget_squares(connection)
            renew_indexes(connection)
        self._file.compact()
        return backup

    def name_lines(self, naming: Naming) -> None:
        """Name all ground that has no name yet, for a corridor; names that exist stay."""
        with self._file.reading() as connection:
            if _named_for(connection, naming):
                return
        with self._file.writing(must_exist=True) as connection:
            _name(connection, naming, ())

    def note(self, name: str, change: Callable[[str | None], str]) -> str:
        """Change a note that the logbook keeps of itself; give the new one.

        change: makes the new text from the old, which is None at first.
        """
        with self._file.writing(must_exist=True) as connection:
            text = change(info_of(connection, name))
            set_info(connection, name, text)
        return text

    def update(self) -> Path | None:
        """Bring an older logbook to today's version; give the backup made, if one was needed."""
        return self._file.update()

    def restore(self, which: str = LAST) -> tuple[Path, Path | None]:
        """Make the logbook what it was; give the backup, and where the replaced logbook is kept.

        That is None if there was none.

        which: ``"last"``, the name of a backup, or the path of another copy.

        Raises LogbookError if there is no such backup, or another program has the logbook open.
        """
        source = find_backup(self.path, which)
        return source, self._file.restore(source)

    def repair(self) -> RepairReport:
        """Make a logbook of the whole trips of a damaged one; LogbookError if it has none."""
        with self._file.damaged() as connection:
            whole, lines, lost = readable_trips(connection)
            if not whole:
                raise LogbookError(
                    "no whole trip can be read", file=self.path, do="Restore a backup: {restore}."
                )
            notes = squares_of(connection)
        with self._file.anew() as (connection, damaged):
            for entry, digest in whole:
                insert_entry(connection, entry, digest)
            insert_rows(connection, LINES.name, to_rows(LINES, lines))
            for name, text in notes.items():
                set_info(connection, name, text)
        return RepairReport(tuple(entry.trip for entry, _ in whole), tuple(lost), damaged)

    def lines(self) -> gpd.GeoDataFrame:
        """Named ground, in the order of naming: ``line``, ``course_deg``."""
        return self._read(LINES.name, "fid")

    def trips(self) -> pd.DataFrame:
        """Every trip, in order of time, a row each."""
        return self._read("trips", "start")

    def drifts(self, trip: str | None = None) -> gpd.GeoDataFrame:
        """Drifts of one trip or all, in order of time."""
        return self._read("drifts", "start", trip)

    def drift_parts(self) -> Iterator[gpd.GeoDataFrame]:
        """Drifts in order of time, some hundreds at a time: their points take much memory."""
        with self._file.reading() as connection:
            yield from read_parts(connection, "drifts", "start")

    def pieces(self, trip: str | None = None) -> gpd.GeoDataFrame:
        """Pieces of one trip or all, in order of time."""
        return self._read("pieces", "start", trip)

    def catches(self, trip: str | None = None) -> gpd.GeoDataFrame:
        """Fish of one trip or all, in order of time; with ``longitude`` and ``latitude``."""
        fish = self._read("catches", "time", trip)
        later = {
            name: fish[name].fillna(blank) if name in fish else blank
            for name, blank in LATER.items()
        }
        return fish.assign(**later, longitude=fish.geometry.x, latitude=fish.geometry.y)

    def entry(self, trip: str) -> Entry:
        """Give a trip back as it was added; LogbookError if there is none of that name."""
        trips = self.trips()
        own = trips[trips["trip"] == trip]
        if not len(own):
            names = ", ".join(trips["trip"].tail(8)) or "none"
            raise LogbookError(f"no trip named {trip!r}", file=self.path, do=f"There are {names}.")
        row = own.iloc[0]
        with self._file.named():
            files = names_of_files(row["files"])
        return Entry(
            trip,
            row["start"],
            row["end"],
            files,
            self.drifts(trip).drop(columns="trip"),
            self.pieces(trip).drop(columns="trip"),
            self.catches(trip).drop(columns=["trip", "longitude", "latitude"]),
        )

    def _read(self, name: str, order: str, trip: str | None = None) -> Any:
        with self._file.reading() as connection:
            return read_table(connection, name, order, trip)


def _some_goes(connection: sqlite3.Connection, entries: Sequence[Entry]) -> bool:
    """Say whether adding `entries` would replace a different trip."""
    for entry in entries:
        old = overlapping(connection, entry)
        if old and not (len(old) == 1 and old[0].digest == entry.digest()):
            return True
    return False


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
