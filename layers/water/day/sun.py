"""Sunrise, sunset and civil twilight."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal

import numpy as np

from layers.water.times import MINUTE, as_utc, day_bounds
from seabed.array_types import Floats, Mask, Times

HORIZON_DEG: Final = -50.0 / 60.0
"""Of the sun's centre at rise and set: 34' of refraction, 16' of half-width, as in almanacs."""

CIVIL_DEG: Final = -6.0
"""Of the sun's centre where civil twilight begins and ends, as almanacs define it."""

J2000: Final = np.datetime64("2000-01-01T12:00", "ns")
CENTURY_DAYS: Final = 36525.0
Otherwise = Literal["", "up all day", "down all day"]


@dataclass(frozen=True, slots=True)
class SunTimes:
    """The sun on a day: rises, sets (UTC, the first of each; None where it does not).

    otherwise: "up all day" or "down all day" where it does neither.
    dawn, dusk: begin and end of civil twilight; None where it does not begin or end on that day.
    """

    rises: np.datetime64 | None
    sets: np.datetime64 | None
    otherwise: Otherwise = ""
    dawn: np.datetime64 | None = None
    dusk: np.datetime64 | None = None


def sun_times(day: date, timezone: str, *, longitude: float, latitude: float) -> SunTimes:
    """Find sunrise and sunset of a day in a zone: upper limb on a sea horizon, usual refraction."""
    times = minutes_of(day, timezone)
    altitude = sun_altitude(times, longitude=longitude, latitude=latitude)
    dawn, dusk, _ = crossings(times, altitude - CIVIL_DEG)
    rises, sets, otherwise = crossings(times, altitude - HORIZON_DEG)
    return SunTimes(rises, sets, otherwise, dawn, dusk)


def minutes_of(day: date, timezone: str) -> Times:
    """Give every minute of a day in a zone, its end too, UTC."""
    start, end = day_bounds(day, timezone)
    return np.arange(start, end + MINUTE, MINUTE).astype("datetime64[ns]")


def crossings(
    times: Times, above: Floats
) -> tuple[np.datetime64 | None, np.datetime64 | None, Otherwise]:
    """Say when a body first rises above a line and first sets below it; what it does if neither.

    above: its altitude over the line, degrees, at rising times.
    """
    up = above >= 0
    rises, sets = _first(times, above, ~up[:-1] & up[1:]), _first(times, above, up[:-1] & ~up[1:])
    if rises is None and sets is None:
        return None, None, "up all day" if up[0] else "down all day"
    return rises, sets, ""


def sun_altitude(times: Any, *, longitude: float, latitude: float) -> Floats:
    """Altitude of the sun's centre without refraction, degrees, at UTC times.

    The low-precision series of Meeus, "Astronomical Algorithms" (1998), chapters 22, 25 and 28, as
    the U.S. agency's solar calculator uses them, but for terms below 0.0005 degrees: good to 0.01
    degrees from 1950 to 2050.
    """
    days = days_since_2000(times)
    century = days / CENTURY_DAYS
    mean_longitude = np.radians(280.46646 + century * 36000.76983)
    anomaly = np.radians(357.52911 + century * 35999.05029)
    eccentricity = 0.016708634 - century * 0.000042037
    node = np.radians(125.04 - 1934.136 * century)
    centre = np.radians(
        (1.914602 - century * 0.004817) * np.sin(anomaly) + 0.019993 * np.sin(2 * anomaly)
    )
    apparent = mean_longitude + centre - np.radians(0.00569 + 0.00478 * np.sin(node))
    obliquity = np.radians(23.4392911 - 0.0130042 * century + 0.00256 * np.cos(node))
    declination = np.arcsin(np.sin(obliquity) * np.sin(apparent))
    y = np.tan(obliquity / 2) ** 2
    equation_of_time = (
        y * np.sin(2 * mean_longitude)
        - 2 * eccentricity * np.sin(anomaly)
        + 4 * eccentricity * y * np.sin(anomaly) * np.cos(2 * mean_longitude)
        - y**2 / 2 * np.sin(4 * mean_longitude)
        - 1.25 * eccentricity**2 * np.sin(2 * anomaly)
    )
    hour_angle = 2 * np.pi * days + np.radians(longitude) + equation_of_time
    north = np.radians(latitude)
    sine = np.sin(north) * np.sin(declination)
    sine = sine + np.cos(north) * np.cos(declination) * np.cos(hour_angle)
    return np.asarray(np.degrees(np.arcsin(sine)), np.float64)


def days_since_2000(times: Any) -> Floats:
    """Days and their parts from noon of 1 January 2000 to UTC times."""
    return np.asarray((as_utc(times) - J2000) / np.timedelta64(86_400 * 10**9, "ns"), np.float64)


def _first(times: Times, above: Floats, crosses: Mask) -> np.datetime64 | None:
    at = np.flatnonzero(crosses)
    if not at.size:
        return None
    i = int(at[0])
    share = above[i] / (above[i] - above[i + 1])
    moment: np.datetime64 = times[i] + np.timedelta64(int(share * 60e9), "ns")
    return moment
