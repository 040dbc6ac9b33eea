"""A plan followed by an integrator that shares no code with the planner.

Runge-Kutta 4(5) of scipy with its step chosen by the error, in degrees on the radii of curvature of
WGS 84, through currents, tide, wind and leeway written out here from what is published about each:

* streams between slack and greatest run as a quarter sine (the hand method of tide tables);
* heights between high and low water as half a cosine (the same);
* leeway is a share of the wind and an offset (Allen & Plourde 1999);
* a boat that is held goes along the water, or along a course so many degrees off it, at the speed
  within its bounds that is nearest to its own: the push that is missing is then the least.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import rioxarray  # noqa: F401 (grids learn their CRS)
import shapely
from pyproj import Geod, Transformer
from scipy.integrate import solve_ivp
from scipy.interpolate import RegularGridInterpolator

GEOD = Geod(ellps="WGS84")
AXIS, ECCENTRICITY_SQUARED = 6378137.0, 0.00669437999014


@dataclass(frozen=True)
class Streams:
    """Slacks and greatest streams: hours, and m/s along the flood (below 0 the ebb, 0 slack)."""

    epoch: np.datetime64
    hours: tuple[float, ...]
    along: tuple[float, ...]
    flood_toward_deg: float

    def __call__(self, hour: Any, longitude: Any, latitude: Any) -> Any:
        after = np.clip(np.searchsorted(self.hours, hour, side="right"), 1, len(self.hours) - 1)
        t0, t1 = np.take(self.hours, after - 1), np.take(self.hours, after)
        a0, a1 = np.take(self.along, after - 1), np.take(self.along, after)
        quarter = (hour - t0) / (t1 - t0) * np.pi / 2
        speed = np.where(a0 == 0, a1 * np.sin(quarter), a0 * np.cos(quarter))
        toward = np.radians(self.flood_toward_deg)
        return speed * np.sin(toward), speed * np.cos(toward)


@dataclass(frozen=True)
class Heights:
    """High and low waters: hours, and metres."""

    hours: tuple[float, ...]
    metres: tuple[float, ...]

    def __call__(self, hour: Any) -> Any:
        after = np.clip(np.searchsorted(self.hours, hour, side="right"), 1, len(self.hours) - 1)
        t0, t1 = np.take(self.hours, after - 1), np.take(self.hours, after)
        h0, h1 = np.take(self.metres, after - 1), np.take(self.metres, after)
        return h0 + (h1 - h0) * (1 - np.cos(np.pi * (hour - t0) / (t1 - t0))) / 2


@dataclass(frozen=True)
class World:
    """All that a pass depends on, in plain numbers.

    Attributes
    ----------
    epoch : datetime64
        Hours are counted from it, UTC.
    current : callable
        (hour, longitude, latitude) to east and north, m/s.
    heights : callable
        Hour to metres.
    leeway_mps : (east, north)
    held_mps : (least, greatest) or None
    grid : depth grid in metres of its own projection
    off_water_deg : angles off the water's way at which a boat may be held too; a leg's bearing says
        which
    """

    epoch: np.datetime64
    current: Any
    heights: Any
    leeway_mps: tuple[float, float]
    held_mps: tuple[float, float] | None
    grid: Any
    off_water_deg: tuple[float, ...] = ()

    def hour(self, time: Any) -> Any:
        return (np.asarray(time, "datetime64[ns]") - self.epoch) / np.timedelta64(
            3_600_000_000_000, "ns"
        )

    def velocity(
        self, hour: float, longitude: float, latitude: float, off_deg: float = 0.0
    ) -> tuple[float, float]:
        east, north = (float(part) for part in self.current(hour, longitude, latitude))
        free_east, free_north = east + self.leeway_mps[0], north + self.leeway_mps[1]
        if self.held_mps is None:
            return free_east, free_north
        way = np.arctan2(east, north) + np.radians(off_deg)
        own = free_east * np.sin(way) + free_north * np.cos(way)
        held = min(max(own, self.held_mps[0]), self.held_mps[1])
        return held * np.sin(way), held * np.cos(way)

    def off_water(self, start: tuple[float, float], begin: Any, bearing_deg: float) -> float:
        """Give which angle off the water, of those a boat may be held at, is a bearing's."""
        east, north = self.current(float(self.hour(begin)), *start)
        off = (bearing_deg - np.degrees(np.arctan2(east, north)) + 180) % 360 - 180
        return min((0.0, *self.off_water_deg), key=lambda angle: abs(angle - float(off)))

    def follow(
        self, start: tuple[float, float], begin: Any, seconds: float, off_deg: float = 0.0
    ) -> Any:
        """Drift; gives a function of seconds to longitude and latitude."""
        first = float(self.hour(begin))

        def rate(second: float, at: Any) -> list[float]:
            east, north = self.velocity(first + second / 3600.0, *at, off_deg)
            sine = np.sin(np.radians(at[1])) ** 2 * ECCENTRICITY_SQUARED
            parallel = AXIS / np.sqrt(1 - sine) * np.cos(np.radians(at[1]))
            meridian = AXIS * (1 - ECCENTRICITY_SQUARED) / (1 - sine) ** 1.5
            return [np.degrees(east / parallel), np.degrees(north / meridian)]

        found = solve_ivp(
            rate, (0.0, seconds), start, method="RK45", rtol=1e-10, atol=1e-10, dense_output=True,
            max_step=120.0,
        )  # fmt: skip
        assert found.success
        return found.sol

    def water(self, longitude: Any, latitude: Any, times: Any) -> Any:
        """Depth of water: bilinear between the cells, by scipy."""
        turn = Transformer.from_crs("EPSG:4326", self.grid.rio.crs, always_xy=True)
        look = RegularGridInterpolator(
            (self.grid["y"].values[::-1], self.grid["x"].values),
            self.grid.values[::-1].astype(float), bounds_error=False,
        )  # fmt: skip
        x, y = turn.transform(longitude, latitude)
        return look(np.column_stack([y, x])) + self.heights(self.hour(times))


def check_plan(
    world: World, lines: Any, legs: Any, hours: tuple[Any, Any], least_m: float, *, within_m: float
) -> None:
    """Follow every pass of a plan through a world, and hold it to what the plan says.

    `lines` and `legs` are the tables of its lines, and of its drifts and runs; the least water they
    name is held to `within_m`.
    """
    drifts = legs[legs["what"] == "drift"]
    lines = lines.set_index("plan_id")
    assert len(drifts) == lines["passes"].sum() > 0
    assert drifts["start"].min() >= pd.Timestamp(hours[0], tz="UTC")
    assert drifts["end"].max() <= pd.Timestamp(hours[1], tz="UTC")
    assert (drifts["start"].to_numpy()[1:] >= drifts["end"].to_numpy()[:-1]).all()
    for name, own in drifts.groupby("plan_id"):
        assert len(own) == lines["passes"][name]
        assert abs(own["least_water_m"].min() - lines["depth_min_m"][name]) < 1e-6
        assert (own["start"] <= lines["latest_start"][name]).all()
        _check_tide(world, lines.loc[name], own)
    for leg in drifts.itertuples():
        _check_pass(world, leg, least_m, within_m)


@dataclass(frozen=True)
class Followed:
    """How a pass went: metres off what the plan draws at most, its least water, what was named."""

    apart_m: float
    least_m: float
    named_m: float


def follow_leg(world: World, leg: Any) -> Followed:
    """Follow a pass from its first place on, for as long as it lasts."""
    seconds = (leg.end - leg.start).total_seconds()
    places = shapely.get_coordinates(leg.geometry)
    begin = np.datetime64(leg.start.tz_localize(None))
    start = float(places[0, 0]), float(places[0, 1])
    way = world.follow(start, begin, seconds, world.off_water(start, begin, leg.bearing_deg))
    apart = GEOD.inv(*way(np.linspace(0.0, seconds, len(places))), *places.T)[2]
    dense = np.linspace(0.0, seconds, 1 + int(seconds / 2))
    water = world.water(*way(dense), begin + (dense * 1e9).astype("timedelta64[ns]"))
    return Followed(float(apart.max()), float(water.min()), float(leg.least_water_m))


def _check_pass(world: World, leg: Any, least_m: float, within_m: float) -> None:
    places = shapely.get_coordinates(leg.geometry)
    assert (leg.end - leg.start).total_seconds() <= 30.0 * (len(places) - 1) + 1e-6
    found = follow_leg(world, leg)
    # steps of 30 s or less through streams that change over hours, and kinks of the tables: 0.5 m
    assert found.apart_m < 0.5
    assert found.least_m >= least_m
    assert abs(found.least_m - found.named_m) <= within_m
    bearing = GEOD.inv(*places[0], *places[-1])[0]
    assert abs((bearing - leg.bearing_deg + 180) % 360 - 180) < 0.1


def _check_tide(world: World, line: Any, own: Any) -> None:
    """The water over the mark never runs back from the first pass to the latest start."""
    moments = pd.date_range(own["start"].min(), line["latest_start"], freq="1min").tz_localize(None)
    mark = line.geometry.coords[0]
    hour = world.hour(moments.to_numpy())
    east, north = (np.broadcast_to(part, hour.shape) for part in world.current(hour, *mark))
    assert (east * east[0] + north * north[0] >= 0).all()
    # slack is 0.2 kn (common practice, no source): none once it has run faster, to the minute
    speed = np.hypot(east, north)
    ran = np.logical_or.accumulate(speed >= 0.105)
    assert (speed[ran] >= 0.1).all()
