"""Sunrise and sunset."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from layers.water.times import as_utc, day_bounds

Floats = NDArray[np.float64]

HORIZON_DEG: Final = -50.0 / 60.0
"""Of the sun's centre at rise and set: 34' of refraction, 16' of half-width, as in almanacs."""

MINUTE: Final = np.timedelta64(60, "s")
J2000: Final = np.datetime64("2000-01-01T12:00", "ns")
CENTURY_DAYS: Final = 36525.0


@dataclass(frozen=True, slots=True)
class SunTimes:
    """The sun on a day.

    Attributes
    ----------
    rises, sets : datetime64[ns] or None
        UTC, the first of each; None where it does not.
    otherwise : {"", "up all day", "down all day"}
        Said where it neither rises nor sets.
    """

    rises: np.datetime64 | None
    sets: np.datetime64 | None
    otherwise: Literal["", "up all day", "down all day"] = ""


def sun_times(day: date, timezone: str, *, longitude: float, latitude: float) -> SunTimes:
    """Find sunrise and sunset of a day in a zone: upper limb on a sea horizon, usual refraction.

    Parameters
    ----------
    day : date
        The day by the zone's calendar.
    timezone : str
    longitude, latitude : float
        Degrees, WGS 84.

    Examples
    --------
    >>> from datetime import date
    >>> sun = sun_times(date(2031, 6, 14), "Etc/GMT+2", longitude=-33.4, latitude=46.2)
    >>> str(sun.rises)[:16]
    '2031-06-14T06:21'
    """
    start, end = day_bounds(day, timezone)
    times = np.arange(start, end + MINUTE, MINUTE).astype("datetime64[ns]")
    above = sun_altitude(times, longitude=longitude, latitude=latitude) - HORIZON_DEG
    rises = _first(times, above, (above[:-1] < 0) & (above[1:] >= 0))
    sets = _first(times, above, (above[:-1] >= 0) & (above[1:] < 0))
    if rises is None and sets is None:
        return SunTimes(None, None, "up all day" if above[0] > 0 else "down all day")
    return SunTimes(rises, sets)


def sun_altitude(times: Any, *, longitude: float, latitude: float) -> Floats:
    """Altitude of the sun's centre without refraction, degrees, at UTC times.

    The low-precision series of Meeus, "Astronomical Algorithms" (1998), chapters 22, 25 and 28, as
    the U.S. agency's solar calculator uses them: good to about 0.01 degrees from 1950 to 2050.
    """
    days = (as_utc(times) - J2000) / np.timedelta64(86_400 * 10**9, "ns")
    century = days / CENTURY_DAYS
    mean_longitude = np.radians(280.46646 + century * (36000.76983 + 0.0003032 * century))
    anomaly = np.radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
    eccentricity = 0.016708634 - century * (0.000042037 + 0.0000001267 * century)
    node = np.radians(125.04 - 1934.136 * century)
    centre = np.radians(
        (1.914602 - century * (0.004817 + 0.000014 * century)) * np.sin(anomaly)
        + (0.019993 - 0.000101 * century) * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
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


def _first(
    times: NDArray[np.datetime64], above: Floats, crosses: NDArray[np.bool_]
) -> np.datetime64 | None:
    at = np.flatnonzero(crosses)
    if not at.size:
        return None
    i = int(at[0])
    share = above[i] / (above[i] - above[i + 1])
    moment: np.datetime64 = times[i] + np.timedelta64(int(share * 60e9), "ns")
    return moment
