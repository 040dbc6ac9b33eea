"""Sunrise and sunset."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal

import numpy as np
from astral import Observer
from astral.sun import elevation, sunrise, sunset

from layers.water.times import day_bounds, moment, zone_of

__all__ = ["SunTimes", "sun_times"]


@dataclass(frozen=True, slots=True)
class SunTimes:
    """The sun on a day.

    Attributes
    ----------
    rises, sets : datetime64[ns] or None
        UTC; None where it does not.
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
    """
    observer = Observer(latitude=latitude, longitude=longitude)
    start, end = day_bounds(day, timezone)
    found = [_within(event, observer, day, start, end) for event in (sunrise, sunset)]
    if found == [None, None]:
        noon = datetime(day.year, day.month, day.day, 12, tzinfo=zone_of(timezone))
        up = elevation(observer, noon.astimezone(UTC)) > 0
        return SunTimes(None, None, "up all day" if up else "down all day")
    return SunTimes(found[0], found[1])


def _within(
    event: object, observer: Observer, day: date, start: np.datetime64, end: np.datetime64
) -> np.datetime64 | None:
    """Find the event of the UTC days around that falls into the local day."""
    for shift in (0, -1, 1):
        try:
            at = event(observer, date=day + timedelta(days=shift), tzinfo=UTC)  # type: ignore[operator]
        except ValueError:  # the sun does not get there on that day
            continue
        time = moment(at)
        if start <= time < end:
            return time
    return None
