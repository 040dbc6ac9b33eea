"""The wind, and its gusts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Protocol, runtime_checkable

import numpy as np

from layers.water.currents.currents import vector
from layers.water.times import as_utc, hours_between
from seabed.array_types import Floats, Mask, Pair, Times

LONGEST_GAP_HOURS: Final = 6.0
"""A table's wind is not carried over longer holes than this."""


@runtime_checkable
class Wind(Protocol):
    """Anything that knows the wind."""

    def at(self, times: Any) -> Pair:
        """Speed (m/s, at 10 m) and direction from (degrees true) at UTC times; NaN if unknown."""
        ...

    def gusts(self, times: Any) -> Floats:
        """Speed of the gusts, m/s; the mean wind where none are named, NaN where it is unknown."""
        ...


@dataclass(frozen=True, slots=True)
class FixedWind:
    """The same wind always, m/s, from degrees true; `gust_mps` is NaN where no gusts are named."""

    speed_mps: float
    from_deg: float
    gust_mps: float = float("nan")

    def at(self, times: Any) -> Pair:
        """Speed and direction from."""
        shape = as_utc(times).shape
        return np.full(shape, self.speed_mps), np.full(shape, self.from_deg % 360.0)

    def gusts(self, times: Any) -> Floats:
        """Speed of the gusts."""
        return np.full(as_utc(times).shape, np.fmax(self.speed_mps, self.gust_mps))


@dataclass(frozen=True, slots=True)
class WindTable:
    """Wind at moments, interpolated between them as a vector; its gusts as a number.

    Attributes
    ----------
    times : ndarray of datetime64[ns], shape (n,)
        UTC, rising.
    speed_mps, from_deg : ndarray of float64, shape (n,)
    gust_mps : ndarray of float64, shape (n,), optional
        NaN in rows that name none.
    longest_gap_hours : float
        Between rows further apart the wind is unknown.
    lasts_hours : float
        How long the last row holds.
    """

    times: Times
    speed_mps: Floats
    from_deg: Floats
    gust_mps: Floats | None = None
    longest_gap_hours: float = LONGEST_GAP_HOURS
    lasts_hours: float = 1.0

    def at(self, times: Any) -> Pair:
        """Speed and direction from; NaN outside the table and in its holes."""
        hours, known, unknown = self._hours(times)
        east, north = vector(self.speed_mps, self.from_deg)
        mean_east, mean_north = np.interp(hours, known, east), np.interp(hours, known, north)
        speed = np.where(unknown, np.nan, np.hypot(mean_east, mean_north))
        toward = np.degrees(np.arctan2(mean_east, mean_north)) % 360.0
        return speed, np.where(unknown, np.nan, toward)

    def gusts(self, times: Any) -> Floats:
        """Speed of the gusts; a row that names none counts with its mean wind."""
        if self.gust_mps is None:
            return self.at(times)[0]
        hours, known, unknown = self._hours(times)
        gusts = np.interp(hours, known, np.fmax(self.speed_mps, self.gust_mps))
        return np.where(unknown, np.nan, gusts)

    def _hours(self, times: Any) -> tuple[Floats, Floats, Mask]:
        """Hours of moments and of the rows, and which moments the table does not cover."""
        hours = hours_between(self.times[0], as_utc(times))
        known = hours_between(self.times[0], self.times)
        after = np.clip(np.searchsorted(known, hours), 0, len(known) - 1)
        before = np.clip(after - 1, 0, None)
        hole = (known[after] - known[before] > self.longest_gap_hours) & (hours < known[after])
        unknown = (
            hole & (hours > known[before])
            | (hours < known[0])
            | (hours > known[-1] + self.lasts_hours)
            | np.isnan(hours)
        )
        return hours, known, unknown
