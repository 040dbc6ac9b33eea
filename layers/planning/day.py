"""The plan for a day: which drift in which slot of the tide."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

import geopandas as gpd
import numpy as np
import xarray as xr
from pyproj import Geod

from layers.planning.candidates import Candidates, follow, starts_over
from layers.planning.choice import LEFT_AFTER_A_DRIFT, choose
from layers.planning.hot import hot_now, over_hot, shortened_to
from layers.planning.latest import latest_start
from layers.planning.line import line_row, lines_table, stamp
from layers.planning.setting import Setting
from layers.planning.words import Say, Structure, in_metres
from seabed.errors import SeabedError

__all__ = ["Slot", "WorthAt", "plan_day", "slots_of_day", "worth_of"]

WorthAt = Callable[[np.datetime64], xr.DataArray]
"""From a UTC moment to the worth of an hour over each cell then."""

STRUCTURE_SCORE: Final = "structure score"

_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True)
class Slot:
    """A piece of the day, and every drift that could be made in it.

    Attributes
    ----------
    begin : datetime64
        UTC.
    lasts_s : float
    worth : DataArray
        Over each cell in its middle, hot stretches counted.
    hot : GeoDataFrame or None
        Hot stretches that the water runs over as it did then.
    candidates : Candidates
    """

    begin: np.datetime64
    lasts_s: float
    worth: xr.DataArray
    hot: gpd.GeoDataFrame | None
    candidates: Candidates


def worth_of(worth: xr.DataArray | WorthAt, time: np.datetime64) -> xr.DataArray:
    """Give the worth at a moment, of one that changes or one that does not."""
    return worth if isinstance(worth, xr.DataArray) else worth(time)


def slots_of_day(
    setting: Setting,
    worth: xr.DataArray | WorthAt,
    start: np.datetime64,
    end: np.datetime64,
    *,
    slot_s: float = 2700.0,
    spacing_m: float = 40.0,
    stretches: gpd.GeoDataFrame | None = None,
    corridor_m: float = 40.0,
) -> list[Slot]:
    """Try every drift in each slot from `start` to `end`; arguments as `plan_day`.

    Raises
    ------
    SeabedError
        If `end` is not after `start`, or no bottom on the grid is worth anything in any slot.
    """
    if not end > start:
        raise SeabedError("the plan ends before it starts", do="Give a later --to than --from.")
    slots: list[Slot] = []
    for begin, lasts_s in _pieces(start, end, slot_s, setting.limits.shortest_s):
        middle = begin + np.timedelta64(int(lasts_s * 5e8), "ns")
        ground, hot = worth_of(worth, middle), None
        if stretches is not None and len(stretches):
            hot = hot_now(stretches, setting.water.currents, middle)
            ground = over_hot(ground, hot, corridor_m)
        if not (ground.values > 0).any() and callable(worth):
            continue
        longitude, latitude = starts_over(ground, spacing_m, reach_m=4 * spacing_m)
        limits = replace(setting.limits, longest_s=min(setting.limits.longest_s, lasts_s))
        tried = follow(
            ground, longitude, latitude, begin, setting.water.velocity, limits=limits,
            depth_under=setting.safe.depth, stops=setting.safe.stops,
        )  # fmt: skip
        slots.append(Slot(begin, lasts_s, ground, hot, tried))
    return slots


def plan_day(
    setting: Setting,
    worth: xr.DataArray | WorthAt,
    start: np.datetime64,
    end: np.datetime64,
    *,
    slot_s: float = 2700.0,
    spacing_m: float = 40.0,
    corridor_m: float = 40.0,
    stretches: gpd.GeoDataFrame | None = None,
    structure: Structure | None = None,
    worth_kind: str = STRUCTURE_SCORE,
    say: Say = in_metres,
    slots: list[Slot] | None = None,
    left: float = LEFT_AFTER_A_DRIFT,
) -> gpd.GeoDataFrame:
    """Lay one drift in each slot from `start` to `end`, in the order the tide wants.

    Parameters
    ----------
    setting : Setting
    worth : DataArray or callable
        Worth of an hour over each cell (`structure_worth`, or expected fish for a rod-hour), on the
        cells of the setting's grid; or a function that gives it for a UTC moment.
    start, end : datetime64
        UTC.
    slot_s : float
        Seconds spent on one line before the next; the last slot and its drift end by `end`, and
        there is none where that leaves less than the shortest drift.
    spacing_m : float
        Metres between the starts that are tried.
    corridor_m : float
        Half width of ground one line uses up, and of a hot stretch.
    stretches : GeoDataFrame, optional
        From `layers.scoring.hot_stretches`: the hot ones count for more while the water runs over
        them as it did when they paid, so that drifts are shortened to them.
    structure : Structure, optional
        To name in ``why``.
    worth_kind : str
        What ``worth`` is, for the reader.
    say : callable
        Writes lengths in ``why``.
    slots : list of Slot, optional
        `slots_of_day`, if they are at hand.
    left : float
        As `choose`.

    Returns
    -------
    GeoDataFrame, EPSG:4326, in order of time
        plan_id, kind ("line"), slot_start, slot_end, latest_start (UTC; a later start from the same
        mark is worth less than seven tenths as much, or is stopped), drift_s, passes, distance_m,
        bearing_deg, sog_mps, push_mps, push_deg (motor through the water at the start; 0 and NaN if
        left to itself), trim (words), depth_start_m, depth_min_m, depth_mean_m, depth_max_m (water
        under the boat then), share_in_band, band_s (of one pass, by charted depth), fan_in_band
        (share of the time of 64 doubtful boats), fan_stays (chance that one is four fifths of its
        time in the band), worth (an hour of fishing, running back and setting up), worth_kind,
        why, geometry LineString.  Slots in which no drift is worth anything are left out; none at
        all gives an empty table.

    Raises
    ------
    SeabedError
        As `slots_of_day`.
    """
    if slots is None:
        slots = slots_of_day(
            setting, worth, start, end, slot_s=slot_s, spacing_m=spacing_m,
            stretches=stretches, corridor_m=corridor_m,
        )  # fmt: skip
    chosen = choose(
        [slot.candidates for slot in slots], [slot.worth for slot in slots],
        corridor_m=corridor_m, left=left,
    )  # fmt: skip
    rows: list[dict[str, Any]] = []
    for slot, place in zip(slots, chosen, strict=True):
        if place is None:
            continue
        found = slot.candidates
        last = int(found.last[place])
        row = line_row(setting, found.tracks, place, last, structure=structure, say=say)
        row |= {
            "kind": "line",
            "slot_end": stamp(slot.begin + np.timedelta64(int(slot.lasts_s * 1e9), "ns")),
            "worth": float(found.worth_per_hour[place]),
            "worth_kind": worth_kind,
        }
        if slot.hot is not None and (name := shortened_to(row["geometry"], slot.hot, corridor_m)):
            row["why"] = f"Hot stretch of {name}: shorten up. {row['why']}"
        row["latest_start"] = latest_start(setting, slot.worth, row)
        rows.append(row)
    _fit_passes(rows, setting)
    for number, row in enumerate(rows, 1):
        row["plan_id"] = f"P{number}"
    return lines_table(rows)


def _pieces(
    start: np.datetime64, end: np.datetime64, slot_s: float, shortest_s: float
) -> list[tuple[np.datetime64, float]]:
    """When each slot begins and how many seconds it lasts.

    The last is as short as `end` wants; one too short for a drift is none.
    """
    whole_s = float((end - start) / np.timedelta64(1, "s"))
    first = start.astype("datetime64[ns]")
    begins_s = np.arange(0.0, whole_s, slot_s)
    lasts_s = np.minimum(slot_s, whole_s - begins_s)
    return [
        (first + np.timedelta64(round(begin_s * 1e9), "ns"), float(lasts))
        for begin_s, lasts in zip(begins_s, lasts_s, strict=True)
        if lasts >= shortest_s
    ]


def _fit_passes(rows: list[dict[str, Any]], setting: Setting) -> None:
    """Count, in place, the passes that fit before the run to the next line must begin."""
    limits = setting.limits
    for row, following in pairwise([*rows, None]):
        assert row is not None
        path = row["geometry"].coords
        back_s = _metres(path[-1], path[0]) / limits.running_mps
        away_s = 0.0
        if following is not None:
            to_next = _metres(path[-1], following["geometry"].coords[0])
            away_s = to_next / limits.running_mps + limits.set_up_s
        room_s = (row["slot_end"] - row["slot_start"]).total_seconds() - away_s
        again_s = row["drift_s"] + limits.set_up_s + back_s
        row["passes"] = max(1, 1 + int((room_s - row["drift_s"]) // again_s))


def _metres(start: tuple[float, ...], end: tuple[float, ...]) -> float:
    return float(_GEOD.inv(start[0], start[1], end[0], end[1])[2])
