"""Where the moon is, when it rises and sets, how much of it is lit, and how dark it gets."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np

from layers.water.day.limits import dark_at
from layers.water.day.sun import CENTURY_DAYS, Otherwise, crossings, days_since_2000, minutes_of
from layers.water.times import as_utc
from seabed.array_types import Floats, Pair
from seabed.units import half_turned, percent

REFRACTION_DEG: Final = 34.0 / 60.0
EARTH_KM: Final = 6378.14
MEAN_KM: Final = 385_000.56
SUN_KM: Final = 149_597_870.0

# D, M, M', F; longitude (sine, 1e-6 degrees), distance (cosine, metres)
_LONGITUDE_DISTANCE: Final = np.array([
    (0, 0, 1, 0, 6288774, -20905355), (2, 0, -1, 0, 1274027, -3699111),
    (2, 0, 0, 0, 658314, -2955968), (0, 0, 2, 0, 213618, -569925),
    (0, 1, 0, 0, -185116, 48888), (0, 0, 0, 2, -114332, -3149),
    (2, 0, -2, 0, 58793, 246158), (2, -1, -1, 0, 57066, -152138),
    (2, 0, 1, 0, 53322, -170733), (2, -1, 0, 0, 45758, -204586),
    (0, 1, -1, 0, -40923, -129620), (1, 0, 0, 0, -34720, 108743),
    (0, 1, 1, 0, -30383, 104755), (2, 0, 0, -2, 15327, 10321),
    (0, 0, 1, 2, -12528, 0), (0, 0, 1, -2, 10980, 79661),
    (4, 0, -1, 0, 10675, -34782), (0, 0, 3, 0, 10034, -23210),
    (4, 0, -2, 0, 8548, -21636), (2, 1, -1, 0, -7888, 24208),
    (2, 1, 0, 0, -6766, 30824), (1, 0, -1, 0, -5163, -8379),
    (1, 1, 0, 0, 4987, -16675), (2, -1, 1, 0, 4036, -12831),
    (2, 0, 2, 0, 3994, -10445), (4, 0, 0, 0, 3861, -11650),
    (2, 0, -3, 0, 3665, 14403),
], np.float64)  # fmt: skip
# D, M, M', F; latitude (sine, 1e-6 degrees)
_LATITUDE: Final = np.array([
    (0, 0, 0, 1, 5128122), (0, 0, 1, 1, 280602), (0, 0, 1, -1, 277693), (2, 0, 0, -1, 173237),
    (2, 0, -1, 1, 55413), (2, 0, -1, -1, 46271), (2, 0, 0, 1, 32573), (0, 0, 2, 1, 17198),
    (2, 0, 1, -1, 9266), (0, 0, 2, -1, 8822), (2, -1, 0, -1, 8216), (2, 0, -2, -1, 4324),
    (2, 0, 1, 1, 4200), (2, 1, 0, -1, -3359), (2, -1, -1, 1, 2463), (2, -1, 0, 1, 2211),
    (2, -1, -1, -1, 2065), (0, 1, -1, -1, -1870), (4, 0, -1, -1, 1828), (0, 1, 0, 1, -1794),
], np.float64)  # fmt: skip

_PHASES: Final = (
    "new moon", "waxing crescent", "first quarter", "waxing gibbous",
    "full moon", "waning gibbous", "last quarter", "waning crescent",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class MoonTimes:
    """The moon on a day: rises, sets (UTC, the first of each; None where it does not) and phase.

    otherwise: "up all day" or "down all day" where it does neither.
    lit, phase: share of its disc that is lit, and the nearest of eight phases, in the middle of the
        day.
    """

    rises: np.datetime64 | None
    sets: np.datetime64 | None
    otherwise: Otherwise
    lit: float
    phase: str


def moon_times(day: date, timezone: str, *, longitude: float, latitude: float) -> MoonTimes:
    """Find moonrise, moonset and phase of a day in a zone: upper limb on a sea horizon.

    After Meeus, "Astronomical Algorithms" (1998): rise and set where the altitude is 0.7275 of the
    parallax less 34' of refraction (chapter 15), the place of the moon by the greatest terms of
    chapter 47, its phase by chapter 48. Within a minute and 0.02 degrees from 1950 to 2050.
    """
    times = minutes_of(day, timezone)
    above = moon_altitude(times, longitude=longitude, latitude=latitude)
    lit, ahead = moon_phase(times[len(times) // 2])
    return MoonTimes(*crossings(times, above), float(lit), _PHASES[round(float(ahead) / 45.0) % 8])


def moon_altitude(times: Any, *, longitude: float, latitude: float) -> Floats:
    """Altitude of the moon over where its upper limb is seen on a sea horizon, degrees, UTC."""
    days = days_since_2000(times)
    ecliptic, north_deg, away_km = moon_place(days)
    tilt = np.radians(23.4392911 - 0.0130042 * days / CENTURY_DAYS)
    along, north = np.radians(ecliptic), np.radians(north_deg)
    declination = np.arcsin(
        np.sin(north) * np.cos(tilt) + np.cos(north) * np.sin(tilt) * np.sin(along)
    )
    ascension = np.arctan2(
        np.sin(along) * np.cos(tilt) - np.tan(north) * np.sin(tilt), np.cos(along)
    )
    sidereal = np.radians(280.46061837 + 360.98564736629 * days + longitude)
    here = np.radians(latitude)
    sine = np.sin(here) * np.sin(declination)
    sine = sine + np.cos(here) * np.cos(declination) * np.cos(sidereal - ascension)
    parallax = np.degrees(np.arcsin(EARTH_KM / away_km))
    return np.asarray(np.degrees(np.arcsin(sine)) - 0.7275 * parallax + REFRACTION_DEG, np.float64)


def moon_place(days: Floats) -> tuple[Floats, Floats, Floats]:
    """Give the moon's ecliptic longitude and latitude, degrees, and its distance, km.

    By the greatest terms of Meeus (1998), tables 47.A and 47.B.  days: from noon of 1 January 2000;
    Terrestrial and Universal Time are taken as one, which turns the moon by 0.01 degrees.
    """
    t = np.asarray(days, float) / CENTURY_DAYS
    mean = 218.3164477 + 481267.88123421 * t - 0.0015786 * t**2
    arguments = np.stack([
        297.8501921 + 445267.1114034 * t - 0.0018819 * t**2,
        357.5291092 + 35999.0502909 * t - 0.0001536 * t**2,
        134.9633964 + 477198.8675055 * t + 0.0087414 * t**2,
        93.2720950 + 483202.0175233 * t - 0.0036539 * t**2,
    ], axis=-1)  # fmt: skip
    # Meeus's E, by which the earth's path grows rounder, would move the moon by 0.0005 degrees
    long = np.radians(arguments @ _LONGITUDE_DISTANCE[:, :4].T)
    wide = np.radians(arguments @ _LATITUDE[:, :4].T)
    venus, jupiter = np.radians(119.75 + 131.849 * t), np.radians(53.09 + 479264.290 * t)
    own = np.radians(mean - arguments[..., 3])
    along = np.sin(long) @ _LONGITUDE_DISTANCE[:, 4]
    along = along + 3958 * np.sin(venus) + 1962 * np.sin(own) + 318 * np.sin(jupiter)
    across = np.sin(wide) @ _LATITUDE[:, 4] - 2235 * np.sin(np.radians(mean))
    away = np.cos(long) @ _LONGITUDE_DISTANCE[:, 5]
    return (mean + along / 1e6) % 360.0, across / 1e6, MEAN_KM + away / 1e3


def moon_phase(time: Any) -> Pair:
    """Give the share of the moon's disc that is lit, and how far it is ahead of the sun, degrees.

    Meeus (1998), chapter 48; the sun by the low precision of chapter 25.
    """
    days = days_since_2000(time)
    ecliptic, north_deg, away_km = moon_place(days)
    anomaly = np.radians(357.52911 + 35999.05029 * days / CENTURY_DAYS)
    sun = 280.46646 + 36000.76983 * days / CENTURY_DAYS
    sun = sun + 1.914602 * np.sin(anomaly) + 0.019993 * np.sin(2 * anomaly)
    ahead = half_turned(ecliptic - sun)
    apart = np.arccos(np.cos(np.radians(north_deg)) * np.cos(np.radians(ahead)))
    seen = np.arctan2(SUN_KM * np.sin(apart), away_km - SUN_KM * np.cos(apart))
    return np.asarray((1 + np.cos(seen)) / 2, np.float64), np.asarray(ahead % 360.0, np.float64)


def light_on(times: Any, *, longitude: float, latitude: float) -> str:
    """Say how dark it gets at UTC times: "twilight", "dark, no moon", or ``""`` by day."""
    moments = as_utc(times)
    at = {"longitude": longitude, "latitude": latitude}
    dark = dark_at(moments, longitude, latitude, darkness="civil twilight")
    if not dark.any():
        return "twilight" if dark_at(moments, longitude, latitude, darkness="sunset").any() else ""
    if not (moon_altitude(moments[dark], **at) > 0).all():
        return "dark, no moon"
    return f"dark, moon {percent(float(moon_phase(moments[dark][0])[0]))} lit"
