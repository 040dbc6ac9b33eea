"""Two logbooks into one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from layers.logbook._entries import Entry
from layers.logbook._store import Logbook


@dataclass(frozen=True, slots=True)
class MergeReport:
    """What merging did, by names of trips in the other logbook; and where the backup is."""

    added: tuple[str, ...]
    same: tuple[str, ...]
    differing: tuple[str, ...]
    backup: Path | None = None


def merge(into: Logbook, other: Logbook, *, prefer_other: bool = False) -> MergeReport:
    """Add the trips of another logbook: all that are missing, or none if anything fails.

    Parameters
    ----------
    into, other : Logbook
        `other` is only read.
    prefer_other : bool
        Where both have a trip of the same time that differs, take the other's; else keep ours.

    Returns
    -------
    MergeReport
        `differing` are trips that both have and that differ.

    Raises
    ------
    LogbookError
        If one can't be read, or the first can't be written.

    Examples
    --------
    >>> from layers import Logbook, clean, cut, drifts, entries_of, example_trip, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> pieces = cut(fixes)
    >>> own = drifts(pieces, fixes)
    >>> book = Logbook("ours.gpkg")
    >>> _ = book.add(entries_of(pieces, own, tie(catches, own, fixes), files=["trip.gpx"]))
    >>> merge(Logbook("theirs.gpkg"), book).added
    ('2031-06-14',)
    """
    ours = {row.trip: row for row in into.trips().itertuples()} if into.path.exists() else {}
    missing: list[Entry] = []
    same: list[str] = []
    differing: list[str] = []
    for entry in (other.entry(trip) for trip in other.trips()["trip"]):
        overlapping = [
            row for row in ours.values() if row.start < entry.end and row.end > entry.start
        ]
        if not overlapping:
            missing.append(entry)
        elif len(overlapping) == 1 and into.entry(overlapping[0].trip).digest() == entry.digest():
            same.append(entry.trip)
        else:
            differing.append(entry.trip)
            if prefer_other:
                missing.append(entry)
    done = into.add(missing, replace=prefer_other, before="merge" if missing else "")
    return MergeReport((*done.added, *done.replaced), tuple(same), tuple(differing), done.backup)
