"""What a logged trip would lose if another took its place."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import pandas as pd

from layers.logbook._entries import Entry
from layers.logbook._rows import stored_time
from seabed.units import rounded

SLACK_S: Final = 60.0
"""Track that a trip may lose unsaid: other settings of cleaning move its ends by some fixes."""


@dataclass(frozen=True, slots=True)
class Stored:
    """What is asked of a trip in the logbook before another takes its place.

    tracked_s: seconds with fixes: all pieces but gaps.
    """

    trip: str
    digest: str
    start: pd.Timestamp
    end: pd.Timestamp
    fish: int
    tracked_s: float


def overlapping(connection: sqlite3.Connection, entry: Entry) -> list[Stored]:
    """Give the stored trips that share some time with `entry`, in order of time."""
    start, end = stored_time(entry.start), stored_time(entry.end)
    rows = connection.execute(
        'SELECT trip, digest, start, "end", (SELECT count(*) FROM catches '
        "WHERE catches.trip = trips.trip), (SELECT total(duration_s) FROM pieces "
        "WHERE pieces.trip = trips.trip AND kind <> 'gap') "
        'FROM trips WHERE start < ? AND "end" > ? ORDER BY start',
        (end, start),
    ).fetchall()
    return [
        Stored(trip, digest, pd.Timestamp(begun), pd.Timestamp(ended), fish, tracked_s)
        for trip, digest, begun, ended, fish, tracked_s in rows
    ]


def loss_of(old: Sequence[Stored], entry: Entry) -> str:
    """Say what would be lost if `entry` took the place of stored trips; empty if nothing.

    Lost are fish where it has fewer, track where it begins later, ends earlier or has less between,
    and the parting into trips where it takes the place of several.
    """
    if not old:
        return ""
    lost = []
    fish, tracked_s = sum(one.fish for one in old), sum(one.tracked_s for one in old)
    if len(entry.catches) < fish:
        lost.append(f"{fish - len(entry.catches)} of {fish} fish")
    pieces = entry.pieces
    ends_s = max(
        (entry.start - min(one.start for one in old)).total_seconds(),
        (max(one.end for one in old) - entry.end).total_seconds(),
    )
    less_s = tracked_s - float(pieces.loc[pieces["kind"] != "gap", "duration_s"].sum())
    if max(ends_s, less_s) > SLACK_S:
        lost.append(f"{rounded(max(ends_s, less_s) / 60)} min of track")
    if len(old) > 1:
        lost.append(f"{len(old)} trips becoming one")
    return f"{' and '.join(one.trip for one in old)}: {', '.join(lost)}" if lost else ""
