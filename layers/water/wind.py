"""The wind: by hand, by hour, or from a CSV."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from layers.water.currents import vector
from layers.water.tables import read_table
from layers.water.times import Times, as_utc, hours_between, moment
from seabed.errors import WaterError
from seabed.units import parse_speed

__all__ = [
    "FixedWind",
    "Wind",
    "WindTable",
    "parse_direction",
    "parse_wind",
    "read_wind",
    "wind_by_hour",
]

Floats = NDArray[np.float64]

POINTS: Final = (
    "n", "nne", "ne", "ene", "e", "ese", "se", "sse",
    "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw",
)  # fmt: skip

LONGEST_GAP_HOURS: Final = 6.0
"""A table's wind is not carried over longer holes than this."""


SPEED_FIRST: Final = re.compile(
    r"\s*([\d.,]+\s*(?:kn|kts?|knots?|mph|mps|m/s|km/h|kmh))\s+(?:from\s+)?(\S+)\s*", re.IGNORECASE
)

DAY_HOURS: Final = 25.0  # the longest day there is, when clocks go back


@runtime_checkable
class Wind(Protocol):
    """Anything that knows the wind."""

    def at(self, times: Any) -> tuple[Floats, Floats]:
        """Speed (m/s, at 10 m) and direction from (degrees true) at UTC times; NaN if unknown."""
        ...


@dataclass(frozen=True, slots=True)
class FixedWind:
    """The same wind always.

    Attributes
    ----------
    speed_mps : float
    from_deg : float
        Where it comes from, degrees true.
    """

    speed_mps: float
    from_deg: float

    def at(self, times: Any) -> tuple[Floats, Floats]:
        """Speed and direction from."""
        shape = as_utc(times).shape
        return np.full(shape, self.speed_mps), np.full(shape, self.from_deg % 360.0)


@dataclass(frozen=True, slots=True)
class WindTable:
    """Wind at moments, interpolated between them as a vector.

    Attributes
    ----------
    times : ndarray of datetime64[ns], shape (n,)
        UTC, rising.
    speed_mps, from_deg : ndarray of float64, shape (n,)
    longest_gap_hours : float
        Between rows further apart the wind is unknown.
    lasts_hours : float
        How long the last row holds.
    """

    times: Times
    speed_mps: Floats
    from_deg: Floats
    longest_gap_hours: float = LONGEST_GAP_HOURS
    lasts_hours: float = 1.0

    def at(self, times: Any) -> tuple[Floats, Floats]:
        """Speed and direction from; NaN outside the table and in its holes."""
        moments = as_utc(times)
        hours = hours_between(self.times[0], moments)
        known = hours_between(self.times[0], self.times)
        east, north = vector(self.speed_mps, self.from_deg)
        after = np.clip(np.searchsorted(known, hours), 0, len(known) - 1)
        before = np.clip(after - 1, 0, None)
        hole = (known[after] - known[before] > self.longest_gap_hours) & (hours < known[after])
        unknown = (
            hole & (hours > known[before])
            | (hours < known[0])
            | (hours > known[-1] + self.lasts_hours)
        )
        unknown |= np.isnan(hours)
        mean_east, mean_north = np.interp(hours, known, east), np.interp(hours, known, north)
        speed = np.where(unknown, np.nan, np.hypot(mean_east, mean_north))
        toward = np.degrees(np.arctan2(mean_east, mean_north)) % 360.0
        return speed, np.where(unknown, np.nan, toward)


def parse_direction(text: str | float) -> float:
    """Read the direction a wind comes from: ``230``, ``"230°"``, ``"SW"``; degrees true.

    Raises
    ------
    WaterError
        If it is neither degrees from 0 to 360 nor one of the sixteen points of the compass.
    """
    word = str(text).strip().casefold().removesuffix("°").removesuffix("deg").strip()
    if word in POINTS:
        return POINTS.index(word) * 22.5
    if re.fullmatch(r"\d+(\.\d+)?", word) and float(word) <= 360.0:
        return float(word) % 360.0
    raise WaterError(
        f"{str(text)!r} is no direction of the wind",
        do="Write degrees true from 0 to 360, or a point like N, NE or SSW: where it comes from.",
    )


def wind_by_hour(
    words: Sequence[str], day_start: Any, *, default_unit: str | None = None
) -> WindTable:
    """Read a wind said by hour, such as ``["6:00 SW 8 kn", "12:00 W 12 kn"]``.

    Parameters
    ----------
    words : sequence of str
        Clock time, direction from, speed.  The first holds from the day's start, the last to the
        day's end.
    day_start : UTC time
        The moment that 0:00 of these clock times is.
    default_unit : str, optional
        The unit of a speed without one.

    Raises
    ------
    WaterError
        If one can't be read, or the hours do not rise.
    """
    start = moment(day_start)
    times, speeds, directions = [], [], []
    for word in words:
        match = re.fullmatch(r"\s*(\d{1,2})(?::(\d{2}))?\s+(\S+)\s+(.+?)\s*", word)
        if match is None:
            raise WaterError(f"can't read the wind {word!r}", do="Write it like 6:00 SW 8 kn.")
        hour, minute, direction, speed = match.groups()
        times.append(start + np.timedelta64(int(hour) * 60 + int(minute or 0), "m"))
        directions.append(parse_direction(direction))
        speeds.append(parse_speed(speed, default=default_unit))
    if not times or np.any(np.diff(times) <= np.timedelta64(0, "ns")):
        raise WaterError("the hours of the wind do not rise", do="Put them in order, each once.")
    if times[0] > start:
        times.insert(0, start)
        speeds.insert(0, speeds[0])
        directions.insert(0, directions[0])
    moments = np.array(times, "datetime64[ns]")
    return WindTable(
        moments,
        np.array(speeds),
        np.array(directions),
        longest_gap_hours=DAY_HOURS,
        lasts_hours=DAY_HOURS - float(hours_between(start, moments[-1])),
    )


def parse_wind(
    words: Sequence[str], day_start: Any, *, timezone: str, default_unit: str | None = None
) -> Wind:
    """Read the wind as a skipper gives it for a day.

    Parameters
    ----------
    words : sequence of str
        One ``"SW 8 kn"`` (or ``"8 kn from 225"``) for the whole day; several with clock times, as
        `wind_by_hour`; or one CSV file.
    day_start, default_unit
        As `wind_by_hour`.
    timezone : str
        The zone of times in a CSV.

    Raises
    ------
    WaterError
        If it can't be read.
    """
    first = words[0].strip() if len(words) == 1 else ""
    if first.lower().endswith((".csv", ".txt")):
        return read_wind(first, timezone=timezone)
    if re.match(r"\s*\d{1,2}(:\d{2})?\s+[A-Za-z]", words[0]) and not SPEED_FIRST.match(words[0]):
        return wind_by_hour(words, day_start, default_unit=default_unit)
    if first.lower() in {"calm", "none", "0"}:
        return FixedWind(0.0, 0.0)
    match = SPEED_FIRST.fullmatch(first)
    speed, direction = match.groups() if match else (first.partition(" ")[2], first.split(" ")[0])
    if len(words) != 1 or not speed.strip():
        raise WaterError(
            f"can't read the wind {'; '.join(words)!r}",
            do='Write it like "SW 8 kn", by hour like "6:00 SW 8 kn", or give a CSV file.',
        )
    from_deg = parse_direction(direction)
    return FixedWind(parse_speed(speed, default=default_unit), from_deg)


def read_wind(path: str | Path, *, timezone: str = "UTC") -> WindTable:
    """Read a table of wind.

    Parameters
    ----------
    path : str or Path
        CSV with columns ``time``, ``speed_kn`` (or ``speed_mps``) and ``from`` (degrees true or a
        point of the compass).
    timezone : str
        The zone of times without an offset.

    Raises
    ------
    WaterError
        If the file can't be read, or a direction is none.
    """
    table = read_table(path, timezone=timezone)
    like = "time,speed_kn,from"
    speeds = table.quantities(
        table.needed("speed", "wind speed", like=like), partial(parse_speed, default=None)
    )
    directions = np.empty(len(speeds))
    for i, word in enumerate(table.needed("from", "direction", like=like).words):
        try:
            directions[i] = parse_direction(word)
        except WaterError as error:
            table.refuse(i, error.what, error.do or "")
    if np.any(speeds < 0):
        table.refuse(int(np.argmax(speeds < 0)), "a wind speed is below nought", "")
    return WindTable(table.times, speeds, directions)
