"""One trip as the logbook keeps it, and what a logged trip would lose if another replaced it."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import PurePath
from typing import Any, Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from layers.catches.reading import CATCHES
from layers.catches.tying import TIES
from layers.logbook._rows import stored_time, to_rows
from layers.logbook.schema import TABLES
from layers.tracks.drifts import DRIFTS
from layers.tracks.pieces import PIECES
from seabed.geodesy import local_metres
from seabed.units import rounded

_AROUND: Final = pd.Timedelta(hours=2)


@dataclass(frozen=True, slots=True)
class Entry:
    """A trip.

    trip: its name, the local date of its first drift (or first fix, without one).
    start, end: UTC times of the first and last fix.
    files: names of the tracks and logs that it came from, without their folders.
    drifts, pieces, catches: tables in EPSG:4326.
    """

    trip: str
    start: pd.Timestamp
    end: pd.Timestamp
    files: tuple[str, ...]
    drifts: gpd.GeoDataFrame
    pieces: gpd.GeoDataFrame
    catches: gpd.GeoDataFrame

    @property
    def tables(self) -> dict[str, gpd.GeoDataFrame]:
        """Its tables by name."""
        return {"drifts": self.drifts, "pieces": self.pieces, "catches": self.catches}

    def rows(self) -> dict[str, list[tuple[Any, ...]]]:
        """Rows of each table as the logbook stores them."""
        return {
            table.name: to_rows(table, self.tables[table.name].assign(trip=self.trip))
            for table in TABLES
            if table.name in self.tables
        }

    def digest(self) -> str:
        """Fingerprint all that is stored; the same for the same trip worked out again."""
        written = repr([self.rows(), self.start.value, self.end.value])
        return hashlib.sha256(written.encode("utf-8", "surrogateescape")).hexdigest()

    def totals(self) -> dict[str, Any]:
        """Count the trip up; ``short`` are fish known to have gone back."""
        kept = self.catches["kept"].astype("boolean")
        return {
            "drifts": len(self.drifts),
            "rod_hours": float(self.drifts["rod_hours"].sum()),
            "kept": int(kept.fillna(False).sum()),
            "short": int((~kept).fillna(False).sum()),
            "fish": len(self.catches),
        }

    def renamed(self, trip: str) -> Entry:
        """Give the same trip under another name, its drifts' names with it."""

        def named(drift_id: str) -> str:
            _, mark, number = drift_id.rpartition(" #")
            return f"{trip}{mark}{number}" if mark else drift_id

        return replace(
            self,
            trip=trip,
            drifts=self.drifts.assign(
                trip=trip, drift_id=[named(word) for word in self.drifts["drift_id"]]
            ),
            catches=self.catches.assign(
                **{
                    name: [named(word) for word in self.catches[name]]
                    for name in ("drift_id", "or_drift_id")
                    if name in self.catches
                }
            ),
        )


def entries_of(
    pieces: gpd.GeoDataFrame,
    drifts: gpd.GeoDataFrame,
    catches: gpd.GeoDataFrame,
    *,
    files: Sequence[str] = (),
    timezone: str = "UTC",
) -> list[Entry]:
    """Part what was worked out into trips.

    Parameters
    ----------
    pieces, drifts : from ``layers.tracks``
    catches : from ``layers.catches.tie``
        A fish tied to a drift belongs to its trip; one that is not, to the trip of its local date
        or within two hours of it.  Others are in no entry.  One without a time counts as caught
        when the fish before it in its file was, else the one after it; where none there has a time,
        it belongs to the trip whose track passes nearest.
    files : sequence of str
        Tracks and logs; kept without their folders.
    timezone : str
        Whose dates name trips without a drift.

    Returns
    -------
    list of Entry
        In order of time; outings of one date that were worked out together are one trip.

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> pieces = cut(fixes)
    >>> own = drifts(pieces, fixes)
    >>> trips = entries_of(pieces, own, tie(catches, own, fixes), files=["trip.gpx"])
    >>> [trip.trip for trip in trips]
    ['2031-06-14']
    """
    PIECES.check(pieces, "piece_id", "outing", "start", "end", "geometry")
    DRIFTS.check(drifts, "drift_id", "piece_id", "trip", "geometry")
    CATCHES.check(catches, "time", "file", "row", "geometry")
    TIES.check(catches, "drift_id")
    zone = ZoneInfo(timezone)
    outings = drifts["piece_id"].map(pieces.set_index("piece_id")["outing"])
    outing_trip = dict(zip(outings, drifts["trip"], strict=True))
    begins = pieces.groupby("outing")["start"].min().dt.tz_convert(zone).dt.strftime("%Y-%m-%d")
    trip_of = pieces["outing"].map({**begins.to_dict(), **outing_trip})
    names = tuple(dict.fromkeys(PurePath(name).name for name in files))
    moments = _moments(catches)
    nearest = _nearest_trips(catches, moments, pieces, trip_of)
    entries = []
    for trip in dict.fromkeys(trip_of):
        own = pieces[trip_of == trip]
        start, end = own["start"].min(), own["end"].max()
        own_drifts = drifts[drifts["trip"] == trip]
        tied = catches["drift_id"].isin(own_drifts["drift_id"])
        around = moments.between(start - _AROUND, end + _AROUND)
        same_day = moments.dt.tz_convert(zone).dt.strftime("%Y-%m-%d") == trip
        free = catches["drift_id"] == ""
        fish = catches[tied | (free & (around | same_day | (nearest == trip)))]
        fish = fish.assign(file=[PurePath(name).name for name in fish["file"]])
        entries.append(
            Entry(
                trip,
                start,
                end,
                names,
                _plain(own_drifts, ("first_fix", "last_fix", "piece_id", "line")),
                _plain(own, ("first_fix", "last_fix", "piece_id", "outing")),
                _plain(fish, ("longitude", "latitude")),
            )
        )
    return entries


def _moments(catches: gpd.GeoDataFrame) -> pd.Series:
    """Give the times of fish; if there is none, that of a neighbour in the same file."""
    times = catches["time"]
    if times.notna().all():
        return times
    ordered = times[np.argsort(catches["row"].to_numpy(), kind="stable")]
    files = catches["file"].loc[ordered.index]
    filled = ordered.groupby(files).ffill()
    return filled.fillna(filled.groupby(files).bfill()).reindex(catches.index)


def _metres_from(centre: tuple[float, float], places: Any) -> Any:
    return np.column_stack(local_metres(places[:, 0], places[:, 1], centre=centre))


def _nearest_trips(
    catches: gpd.GeoDataFrame, moments: pd.Series, pieces: gpd.GeoDataFrame, trip_of: pd.Series
) -> pd.Series:
    """Name, for fish of which no time is known, the trip whose track passes nearest; else ""."""
    names = pd.Series("", index=catches.index, dtype=object)
    for label in catches.index[moments.isna()]:
        longitude, latitude = catches.loc[label, ["longitude", "latitude"]].astype(float)
        onto_plane = partial(_metres_from, (longitude, latitude))
        lines = shapely.transform(pieces.geometry.to_numpy(), onto_plane)
        away = shapely.distance(lines, shapely.Point(0.0, 0.0))
        known = np.isfinite(away)
        best = int(np.argmin(np.where(known, away, np.inf))) if known.any() else 0
        names[label] = trip_of.iloc[best]
    return names


def _plain(table: gpd.GeoDataFrame, dropped: Sequence[str]) -> gpd.GeoDataFrame:
    """Leave out columns that mean something only where the table was worked out."""
    return table.drop(columns=[name for name in dropped if name in table]).reset_index(drop=True)


SLACK_S: Final = 60.0
"""Track that a trip may lose unsaid: other settings of cleaning move its ends by some fixes."""


@dataclass(frozen=True, slots=True)
class Stored:
    """A trip of the logbook as it counts before another takes its place.

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

    That is fish where it has fewer, track where it begins later, ends earlier or has less between,
    and the separation of trips where it takes the place of several.
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
