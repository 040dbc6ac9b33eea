"""The plan for a day: which drift in which slot of the tide."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from pyproj import Geod
from shapely.geometry import LineString

from layers.planning.candidates import Candidates, DriftLimits, follow, starts_over
from layers.planning.choice import choose
from layers.planning.drift import DepthUnder, Floats, Times, Velocity
from layers.planning.fan import Doubt, fan, share_in_band
from layers.planning.motor import held_velocity
from layers.water import Currents, Heights, Leeway, Trim, Wind, boat_velocity, trim
from layers.water.times import as_utc
from seabed.errors import SeabedError
from seabed.grid import sample

__all__ = ["DayWater", "depth_over", "plan_day"]

_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True)
class DayWater:
    """What moves on the day.

    Attributes
    ----------
    currents : Currents
    leeway : Leeway
    wind : Wind or None
        None is no wind.
    heights : Heights or None
        None is the tide at datum all day.
    doubt : Doubt
    held_mps : (float, float) or None
        Speed over the ground, least and greatest, at which the motor holds the boat along the
        water; None is a boat left to itself.
    motor_limit_mps : float
        The most the motor drives the boat through the water.
    """

    currents: Currents
    leeway: Leeway
    wind: Wind | None = None
    heights: Heights | None = None
    doubt: Doubt = field(default_factory=Doubt)
    held_mps: tuple[float, float] | None = None
    motor_limit_mps: float = 1.0

    @property
    def velocity(self) -> Velocity:
        """Velocity over the ground of the boat, held or left to itself."""
        if self.held_mps is None:
            return boat_velocity(self.currents, self.wind, self.leeway)
        return held_velocity(
            self.currents,
            self.wind,
            self.leeway,
            speed_mps=self.held_mps,
            limit_mps=self.motor_limit_mps,
        )

    def push_at(self, time: np.datetime64, longitude: float, latitude: float) -> Trim:
        """Motor trim at one time and place, each of its arrays of shape (1,)."""
        moment, place = np.array([time]), (np.array([longitude]), np.array([latitude]))
        water = self.currents.velocity(moment, *place)
        wind = (np.zeros(1), np.zeros(1))
        if self.wind is not None:
            wind = self.leeway.velocity(*self.wind.at(as_utc(moment)))
        wanted = self.held_mps or (0.0, np.inf)
        return trim(water, wind, speed_mps=wanted, limit_mps=self.motor_limit_mps)


def depth_over(grid: xr.DataArray, heights: Heights | None) -> DepthUnder:
    """Metres of water at a time and place: charted depth and the tide's height."""

    def depth(times: Times, longitude: Floats, latitude: Floats) -> Floats:
        charted = sample(grid, longitude, latitude)
        return charted if heights is None else charted + heights.height_m(times)

    return depth


def plan_day(
    grid: xr.DataArray,
    worth: xr.DataArray,
    water: DayWater,
    start: np.datetime64,
    end: np.datetime64,
    *,
    band_m: tuple[float, float],
    slot_s: float = 2700.0,
    spacing_m: float = 40.0,
    corridor_m: float = 40.0,
    limits: DriftLimits | None = None,
) -> gpd.GeoDataFrame:
    """Lay one drift in each slot from `start` to `end`, in the order the tide wants.

    Parameters
    ----------
    grid : depth grid, held in memory
    worth : DataArray
        Worth of an hour over each cell (`structure_worth`, or expected fish for a rod-hour), on the
        cells of `grid`.
    water : DayWater
    start, end : datetime64
        UTC.
    band_m : (float, float)
        Band of charted depth, for the reasons given and the fan.
    slot_s : float
        Seconds spent on one line before the next; the last slot and its drift end by `end`, and
        there is none where that leaves less than the shortest drift.
    spacing_m : float
        Metres between the starts that are tried.
    corridor_m : float
        Half width of ground one line uses up.
    limits : DriftLimits, optional

    Returns
    -------
    GeoDataFrame, EPSG:4326, in order of time
        plan_id, slot_start, slot_end (UTC), drift_s, passes, distance_m, bearing_deg, sog_mps,
        push_mps, push_deg (motor through the water at the start; 0 and NaN if left to itself),
        depth_start_m, depth_min_m, depth_mean_m, depth_max_m (water under the boat then),
        share_in_band (of the line, by charted depth), fan_in_band (of 64 doubtful boats), worth
        (an hour), why, geometry LineString.  Slots in which no drift is worth anything are left
        out; none at all gives an empty table.

    Raises
    ------
    SeabedError
        If `end` is not after `start`, or no bottom on the grid has any worth.
    """
    if not end > start:
        raise SeabedError("the plan ends before it starts", do="Give a later --to than --from.")
    limits = limits or DriftLimits()
    depth_under = depth_over(grid, water.heights)
    longitude, latitude = starts_over(worth, spacing_m, reach_m=4 * spacing_m)
    times = _slots(start, end, slot_s, limits.shortest_s)
    slots = [
        follow(
            worth, longitude, latitude, at, water.velocity,
            limits=replace(limits, longest_s=min(limits.longest_s, lasts_s)),
            depth_under=depth_under,
        )
        for at, lasts_s in times
    ]  # fmt: skip
    rows = [
        _row(grid, water, at, slot, row, band_m=band_m, slot_s=lasts_s, limits=limits)
        for (at, lasts_s), slot, row in zip(
            times, slots, choose(slots, worth, corridor_m=corridor_m), strict=True
        )
        if row is not None
    ]
    for number, row in enumerate(rows, 1):
        row["plan_id"] = f"P{number}"
    return gpd.GeoDataFrame(
        pd.DataFrame(rows, columns=[*_COLUMNS, "geometry"]), geometry="geometry", crs="EPSG:4326"
    )


_COLUMNS = (
    "plan_id", "slot_start", "slot_end", "drift_s", "passes", "distance_m", "bearing_deg",
    "sog_mps", "push_mps", "push_deg", "depth_start_m", "depth_min_m", "depth_mean_m",
    "depth_max_m", "share_in_band", "fan_in_band", "worth", "why",
)  # fmt: skip


def _slots(
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


def _row(
    grid: xr.DataArray,
    water: DayWater,
    begin: np.datetime64,
    slot: Candidates,
    row: int,
    *,
    band_m: tuple[float, float],
    slot_s: float,
    limits: DriftLimits,
) -> dict[str, object]:
    """Measure one chosen drift."""
    last = int(slot.last[row])
    along = slice(0, last + 1)
    longitude = slot.tracks.longitude[row, along]
    latitude = slot.tracks.latitude[row, along]
    drift_s = float((slot.tracks.times[last] - slot.tracks.times[0]) / np.timedelta64(1, "s"))
    distance = float(_GEOD.line_length(longitude, latitude))
    bearing, _, back = _GEOD.inv(longitude[0], latitude[0], longitude[-1], latitude[-1])
    depth = slot.tracks.depth_m[row, along]
    charted = sample(grid, longitude, latitude)
    in_band = float(np.mean((charted >= band_m[0]) & (charted <= band_m[1])))
    boats = fan(
        longitude[0], latitude[0], begin, currents=water.currents, wind=water.wind,
        leeway=water.leeway, duration_s=drift_s, doubt=water.doubt,
        depth_under=depth_over(grid, None), step_s=limits.step_s, held_mps=water.held_mps,
        motor_limit_mps=water.motor_limit_mps,
    )  # fmt: skip
    held = water.held_mps is not None
    push = water.push_at(begin, longitude[0], latitude[0])
    running_s = back / limits.running_mps
    each_pass = drift_s + limits.set_up_s + running_s
    return {
        "slot_start": pd.Timestamp(begin, tz="UTC"),
        "slot_end": pd.Timestamp(begin, tz="UTC") + pd.Timedelta(seconds=slot_s),
        "drift_s": drift_s,
        "passes": max(1, int((slot_s + running_s) / each_pass)),  # none runs back after the last
        "distance_m": distance,
        "bearing_deg": bearing % 360.0,
        "sog_mps": distance / drift_s,
        "push_mps": float(push.push_mps[0]) if held else 0.0,
        "push_deg": float(push.heading_deg[0]) if held else np.nan,
        "depth_start_m": float(depth[0]),
        "depth_min_m": float(depth.min()),
        "depth_mean_m": float(depth.mean()),
        "depth_max_m": float(depth.max()),
        "share_in_band": in_band,
        "fan_in_band": share_in_band(boats, band_m),
        "worth": float(slot.worth_per_hour[row]),
        "why": _why(in_band, float(slot.worth_per_hour[row])),
        "geometry": LineString(np.column_stack([longitude, latitude])),
    }


def _why(in_band: float, worth: float) -> str:
    return f"{in_band:.0%} of it lies in the band; worth {worth:.2f} an hour, running back counted"
