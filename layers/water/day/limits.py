"""The hours that the boat's limits leave open: wind, gusts, waves, current, darkness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.water.currents.currents import Currents
from layers.water.day.sun import HORIZON_DEG, sun_altitude
from layers.water.sea.sea import Sea
from layers.water.times import HOUR, MINUTE, as_utc, runs_of, stamp
from layers.water.wind._wind import Wind
from seabed.array_types import Floats, Mask, Pair
from seabed.schema import Table, documented
from seabed.units import LENGTH, SPEED

Span = tuple[np.datetime64, np.datetime64]
"""Begin and end, UTC."""

DARKNESS: Final = {"sunset": HORIZON_DEG, "civil twilight": -6.0, "night": -90.0}
"""Altitude of the sun's centre, degrees, down to which each limit lets a boat drift.  Civil
twilight ends 6 degrees below the horizon, as almanacs define it."""

LEFT_OUT: Final = Table.of(
    "left_out",
    "layers.water.day.limits.open_spans",
    """
    start, end [time] UTC
    limit [text] wind, gust, waves, current or darkness
    greatest_mps [empty] in that time; NaN in the dark and where the wind is not known
    allowed_mps [empty] NaN in the dark and of waves
    greatest_m, allowed_m [depth empty] of waves; NaN of all else
    """,
)

A_DAY: Final = np.timedelta64(1, "D")
ON_THE_WAY: Final = 3 * HOUR
"""The limits are checked this long before and after the hours asked for, for the ways out and home
and for late drifts."""


@dataclass(frozen=True, slots=True)
class BoatLimits:
    """What a boat may be out in.

    The defaults are for an open boat of 5-6 m: common practice, no source.

    Attributes
    ----------
    wind_mps, gust_mps, current_mps : float
        The greatest of each.
    darkness : {"sunset", "civil twilight", "night"}
        How dark it may get; see `DARKNESS`.
    wave_m : float
        The greatest significant height of waves.
    """

    wind_mps: float = 20.0 * SPEED["kn"]
    gust_mps: float = 25.0 * SPEED["kn"]
    current_mps: float = 4.0 * SPEED["kn"]
    darkness: str = "civil twilight"
    wave_m: float = 3.0 * LENGTH["ft"]


@dataclass(frozen=True, slots=True)
class LimitedCurrents:
    """Currents that are known only where they run no faster than a limit."""

    currents: Currents
    limit_mps: float

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s; NaN where the current is not known or beyond the limit."""
        east, north = self.currents.velocity(times, longitude, latitude)
        slow = np.hypot(east, north) <= self.limit_mps
        return np.where(slow, east, np.nan), np.where(slow, north, np.nan)


@documented(LEFT_OUT)
@dataclass(frozen=True, slots=True)
class OpenHours:
    """Which of the hours asked for a plan may use.

    Attributes
    ----------
    spans : tuple of (datetime64, datetime64)
        UTC, in order of time; they neither meet nor overlap.
    around : tuple of (datetime64, datetime64)
        The hours about each span in which the boat may be on its way, not only those asked for.
    left_out : DataFrame
        A row for each stretch of time beyond each limit, in order of time.
        {left_out}
    """

    spans: tuple[Span, ...]
    around: tuple[Span, ...]
    left_out: pd.DataFrame

    @classmethod
    def whole(
        cls, start: np.datetime64, end: np.datetime64, left_out: pd.DataFrame | None = None
    ) -> OpenHours:
        """Use all hours, also those beyond the limits."""
        if left_out is None:
            left_out = LEFT_OUT.empty()
        return cls(((start, end),), ((start - A_DAY, end + A_DAY),), left_out)

    def leaves_out(self, start: Any, end: Any) -> bool:
        """Say whether a boat on its way from one UTC time to the other is out in no open hours."""
        return not any(as_utc(start) >= a and as_utc(end) <= b for a, b in self.around)

    def limits_at(self, times: Any) -> NDArray[np.object_]:
        """Name the limits that are passed at UTC times, ``"wind, gust"``; ``""`` for none."""
        moments = as_utc(times)
        names = np.full(moments.shape, "", object)
        for row in self.left_out.itertuples():
            inside = (moments >= as_utc(row.start)) & (moments < as_utc(row.end))
            for at in np.flatnonzero(inside):
                names[at] = f"{names[at]}, {row.limit}" if names[at] else row.limit
        return names


def open_spans(
    start: np.datetime64,
    end: np.datetime64,
    *,
    limits: BoatLimits,
    wind: Wind | None,
    currents: Currents | None,
    longitude: Any,
    latitude: Any,
    sea: Sea | None = None,
) -> OpenHours:
    """Find the hours within a boat's limits, to the minute, UTC.

    wind: None is a calm; hours in which it is not known are left out.
    currents: hours are left out where the current is beyond the limit at every place.
    longitude, latitude: places on the water; darkness is that of the first, unknown without one.
    sea: without it no hour is left out for waves.
    """
    times = np.arange(start - ON_THE_WAY, end + ON_THE_WAY + MINUTE, MINUTE)
    within = (times >= start) & (times <= end)
    beyond = _beyond(
        times.astype("datetime64[ns]"), limits, within, wind=wind, currents=currents,
        longitude=longitude, latitude=latitude, sea=sea,
    )  # fmt: skip
    rows = [row for each in beyond for row in _stretches_beyond(times[within], each.within(within))]
    table = LEFT_OUT.frame(dict(zip(LEFT_OUT.names, row, strict=True)) for row in rows)
    table = table.sort_values(["start", "end"], kind="stable", ignore_index=True)
    closed = np.any([_steps(each.flags) for each in beyond], axis=0)
    wide = [(times[a], times[b]) for a, b in runs_of(~closed)]
    both = [((max(a, start), min(b, end)), (a, b)) for a, b in wide if a < end and b > start]
    return OpenHours(tuple(span for span, _ in both), tuple(about for _, about in both), table)


def dark_at(times: Any, longitude: float, latitude: float, *, darkness: str) -> Mask:
    """Say at which times it is darker than one of `DARKNESS` lets it be."""
    altitude = sun_altitude(times, longitude=longitude, latitude=latitude)
    return np.asarray(altitude < DARKNESS[darkness], bool)


@dataclass(frozen=True, slots=True)
class _Beyond:
    """When one of the limits is passed."""

    limit: str
    values: Floats
    allowed: float
    flags: Mask

    def within(self, some: Mask) -> _Beyond:
        """Keep some of the times."""
        return _Beyond(self.limit, self.values[some], self.allowed, self.flags[some])


def _beyond(
    times: NDArray[np.datetime64],
    limits: BoatLimits,
    within: Mask,
    *,
    wind: Wind | None,
    currents: Currents | None,
    longitude: Any,
    latitude: Any,
    sea: Sea | None,
) -> list[_Beyond]:
    limits_passed = []
    if wind is not None:
        speed, gust = wind.at(times)[0], wind.gusts(times)
        windy = (speed > limits.wind_mps) | (np.isnan(speed) & within)
        gusty = (gust > limits.gust_mps) & ((gust > speed) | ~windy)  # not the mean wind again
        limits_passed.append(_Beyond("wind", speed, limits.wind_mps, windy))
        limits_passed.append(_Beyond("gust", gust, limits.gust_mps, gusty))
    if sea is not None:
        high = sea.at(times).height_m
        limits_passed.append(_Beyond("waves", high, limits.wave_m, high > limits.wave_m))
    if currents is not None:
        flow = _least_current(currents, times, longitude, latitude)
        limits_passed.append(
            _Beyond("current", flow, limits.current_mps, flow > limits.current_mps)
        )
    nothing = np.full(times.shape, np.nan)
    dark = np.zeros(times.shape, bool)
    if longitude is not None and latitude is not None:
        place = float(np.atleast_1d(longitude)[0]), float(np.atleast_1d(latitude)[0])
        dark = dark_at(times, *place, darkness=limits.darkness)
    return [*limits_passed, _Beyond("darkness", nothing, float("nan"), dark)]


def _least_current(
    currents: Currents, times: NDArray[np.datetime64], longitude: Any, latitude: Any
) -> Floats:
    """Speed of the current where it runs least, at each time; NaN where it is not known."""
    if longitude is None or latitude is None:
        return np.asarray(np.hypot(*currents.velocity(times)))
    least = np.full(times.shape, np.inf)
    for east, north in zip(np.atleast_1d(longitude), np.atleast_1d(latitude), strict=True):
        place = np.full(times.shape, east), np.full(times.shape, north)
        least = np.fmin(least, np.hypot(*currents.velocity(times, *place)))
    return np.where(np.isinf(least), np.nan, least)


def _steps(flags: Mask) -> Mask:
    """Say of each step between neighbouring times whether one of its ends is beyond."""
    return np.asarray(flags[1:] | flags[:-1], bool)


def _stretches_beyond(times: NDArray[np.datetime64], beyond: _Beyond) -> list[tuple[Any, ...]]:
    rows = []
    for first, last in runs_of(_steps(beyond.flags)):
        inside = beyond.values[first : last + 1][beyond.flags[first : last + 1]]
        known = inside[np.isfinite(inside)]
        greatest = float(known.max()) if known.size else float("nan")
        begin, end = (stamp(times[at]) for at in (first, last))
        figures = (greatest, beyond.allowed)
        nothing = (float("nan"),) * 2
        pairs = (*nothing, *figures) if beyond.limit == "waves" else (*figures, *nothing)
        rows.append((begin, end, beyond.limit, *pairs))
    return rows
