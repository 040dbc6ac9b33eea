"""Lines of the logbook that paid, as drifts to make again at the stage at which they paid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely

from layers.planning.drift._setting import DayWater, Setting
from layers.planning.ground._hot_stretches import SAME_WAY_DEG
from layers.planning.ground.fished import LEAST_ROD_HOURS
from layers.water import Currents, Heights
from layers.water.currents.currents import own_spread
from layers.water.heights.stage import stage
from layers.water.motion import set_and_drift
from layers.water.times import as_utc
from seabed.array_types import Floats, Pair
from seabed.geodesy import ahead, bearing_and_distance
from seabed.units import half_turned

HOURS_APART: Final = 1.0
"""A line is drifted again up to this long before and after the hours of its own tides.
Our choice, no source."""

ALONG_M: Final = 20.0
ACROSS_M: Final = (-30.0, -15.0, 0.0, 15.0, 30.0)
BEFORE_M: Final = 60.0
"""Starts that are tried: spacing along a line, to its left and right, and up-current of it."""


@dataclass(frozen=True, slots=True)
class RotatedCurrents:
    """Currents turned and scaled against their table: (east + i north) multiplied by `times`."""

    currents: Currents
    times: complex

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, as `Currents.velocity`."""
        east, north = self.currents.velocity(times, longitude, latitude)
        rotated = (east + 1j * north) * self.times
        return rotated.real, rotated.imag

    def spread(self, times: Any) -> Floats | None:
        """Covariance, as `layers.water.currents.currents.own_spread`."""
        spread = own_spread(self.currents, times)
        if spread is None:
            return None
        rotation = np.array(
            [[self.times.real, -self.times.imag], [self.times.imag, self.times.real]]
        )
        return np.asarray(rotation @ spread @ rotation.T, np.float64)


@dataclass(frozen=True, slots=True)
class ProvenLine:
    """A line that gave fish, and how the water ran over it.

    longest: its longest drift, degrees.
    hours: from high water, least and greatest; NaN if unknown.
    times: how its drifts ran against the tables, as `RotatedCurrents` takes it.
    """

    name: str
    course_deg: float
    longest: shapely.LineString
    hours: tuple[float, float]
    times: complex

    @classmethod
    def of_course(cls, course_deg: float) -> ProvenLine:
        """Give a course to hold in the water of the tables, of no line."""
        course = course_deg % 360.0
        return cls("", course, shapely.LineString(), (np.nan, np.nan), 1.0 + 0.0j)

    def runs_at(self, time: np.datetime64, currents: Currents, hour: float | None) -> bool:
        """Whether stage and current are as on its drifts, at an hour from `tide_hour`."""
        middle = self.longest.interpolate(0.5, normalized=True)
        moment = np.array([time])
        water = RotatedCurrents(currents, self.times).velocity(
            moment, np.array([middle.x]), np.array([middle.y])
        )
        toward = float(set_and_drift(*water)[0][0])
        if not abs(half_turned(toward - self.course_deg)) <= SAME_WAY_DEG:
            return False
        if hour is None or not np.isfinite(self.hours).all():
            return True
        return bool(self.hours[0] - HOURS_APART <= hour <= self.hours[1] + HOURS_APART)


def tide_hour(time: np.datetime64, heights: Heights | None) -> float | None:
    """Hours from high water at a moment, NaN if unknown; None without a source of heights."""
    if heights is None:
        return None
    return float(stage(heights, np.array([time]))["hours_from_high"].iloc[0])


def proven_lines(
    drifts: gpd.GeoDataFrame,
    lines: gpd.GeoDataFrame,
    currents: Currents,
    heights: Heights | None,
) -> tuple[ProvenLine, ...]:
    """Gather the lines that gave a fish in `LEAST_ROD_HOURS` or more, best first.

    Drifts on n days turn and scale the tables' water by n/(n+1) of what they show: on each of them
    the wind moved the boat too.
    """
    proven = []
    for line in lines[(lines["fish"] > 0) & (lines["rod_hours"] >= LEAST_ROD_HOURS)].itertuples():
        own = drifts[drifts["line"] == line.line]
        middle = as_utc(own["start"]) + (as_utc(own["end"]) - as_utc(own["start"])) // 2
        hours = np.array([np.nan])
        if heights is not None:
            hours = stage(heights, middle)["hours_from_high"].to_numpy(float)
        longest = own.geometry.iloc[int(np.argmax(own["distance_m"].to_numpy(float)))]
        proven.append(
            ProvenLine(
                str(line.line), float(line.course_deg), longest,
                (float(hours.min()), float(hours.max())), _times(own, middle, currents),
            )
        )  # fmt: skip
    return tuple(proven)


def setting_over(line: ProvenLine, setting: Setting) -> Setting:
    """Give the water as it runs over a line, and hold the boat to the line's course, if held."""
    water: DayWater = setting.water
    currents = RotatedCurrents(water.currents, line.times)
    along = None if water.held_mps is None else line.course_deg
    return replace(setting, water=replace(water, currents=currents, along_deg=along))


def setting_for(line: ProvenLine | None, setting: Setting) -> Setting:
    """Give the setting over a line that is drifted again, else the setting itself."""
    return setting if line is None else setting_over(line, setting)


def starts_on(line: ProvenLine) -> Pair:
    """Lay starts along a line, up-current of it and to either side; longitude, latitude."""
    first, last = line.longest.coords[0][:2], line.longest.coords[-1][:2]
    course, length = bearing_and_distance(*first, *last)
    along, across = np.meshgrid(np.arange(-BEFORE_M, length, ALONG_M), ACROSS_M)
    east, north = ahead(first[0], first[1], course, along.ravel())
    return ahead(east, north, course + 90.0, across.ravel())


def _times(own: gpd.GeoDataFrame, middle: Any, currents: Currents) -> complex:
    """How drifts ran over how the water should have, by least squares, drawn toward 1."""
    centre = shapely.line_interpolate_point(own.geometry.to_numpy(), 0.5, normalized=True)
    east, north = currents.velocity(middle, shapely.get_x(centre), shapely.get_y(centre))
    tabled = east + 1j * north
    course = np.radians(own["course_deg"].to_numpy(float))
    ran = own["sog_mps"].to_numpy(float) * (np.sin(course) + 1j * np.cos(course))
    known = np.isfinite(tabled) & np.isfinite(ran)
    size = float((np.abs(tabled[known]) ** 2).sum())
    if not size > 0:
        return 1.0 + 0.0j
    days = own.loc[known, "trip"].nunique()
    shown = (ran[known] * np.conj(tabled[known])).sum() / size
    return complex(1.0 + (shown - 1.0) * days / (days + 1.0))
