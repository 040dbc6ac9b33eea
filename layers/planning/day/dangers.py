"""What in a plan could hurt: a pure function of its passes, runs, water and hours."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal, get_args

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.planning.drift._setting import DayWater
from layers.water.day.limits import OpenHours, dark_at
from layers.water.sea.sea import Sea
from layers.water.sea.waves import BREAKING, LEAST_SEA_M, SHORT
from layers.water.times import as_utc, moment, seconds_between, stamp
from seabed.array_types import Floats, Mask
from seabed.geodesy import step_lengths
from seabed.units import SPEED, half_turned

DangerKind = Literal[
    "beyond limits", "launch", "breaking sea", "steep sea", "battery", "run",
    "out beyond limits", "left out", "strong current", "wind against water", "fast drift",
    "dark", "lights", "unknown water", "datum",
]  # fmt: skip

DANGERS: Final[tuple[DangerKind, ...]] = get_args(DangerKind)
"""Every kind, the worst first."""

STRONG_CURRENT_MPS: Final = 3.0 * SPEED["kn"]
STEEP_WIND_MPS: Final = 7.0 * SPEED["kn"]
"""Against the water: from Beaufort 3, in which crests begin to break (WMO's code 1100)."""
STEEP_CURRENT_MPS: Final = 0.5 * SPEED["kn"]
"""Slower water raises little sea.  Common practice, no source."""
AGAINST_DEG: Final = 135.0
"""As `layers.water.motion.wind_and_water`."""
FASTER: Final = 1.02
"""A drift is faster than asked from this share on: what rounding and a step of time make."""
APART: Final = np.timedelta64(45, "m")
"""A danger that returns later than this is named again."""


@dataclass(frozen=True, slots=True)
class Danger:
    """One thing that could hurt, of a kind in `DANGERS`.

    start, end: UTC; NaT for the whole plan.
    cause: which limit ("wind", "gust", "current", "darkness"), what the boat does then ("run",
        "home"), the caution of a run, or the fault of a table or the datum.
    greatest_mps, allowed_mps: of wind, gust, current or speed over the ground; of wind against
        water the strongest current, not always in the hour of the strongest wind.
    greatest_m, allowed_m: of waves.  All four are NaN where they mean nothing.
    """

    kind: DangerKind
    start: pd.Timestamp = pd.NaT
    end: pd.Timestamp = pd.NaT
    lines: tuple[str, ...] = ()
    cause: str = ""
    greatest_mps: float = float("nan")
    allowed_mps: float = float("nan")
    greatest_m: float = float("nan")
    allowed_m: float = float("nan")

    @property
    def limit(self) -> str:
        """Which limit it is about, as a row of `layers.water.OpenHours.left_out` has it."""
        return self.cause


def dangers_of(
    passes: gpd.GeoDataFrame,
    runs: gpd.GeoDataFrame,
    water: DayWater,
    hours: OpenHours,
    *,
    asked_mps: tuple[float, float] | None = None,
    beyond: bool = False,
    unknown: Sequence[str] = (),
    datum: str = "",
    others: Iterable[Danger] = (),
) -> tuple[Danger, ...]:
    """Say what in a plan could hurt: the worst first, then in order of time.

    hours: what they leave out comes first.
    asked_mps: speed over the ground asked for, least and greatest.
    beyond: whether the plan uses hours beyond the limits anyway.
    unknown: within which hours the water is not known.
    datum: what is wrong with the grid's.
    others: what else could hurt, as of the launch.
    """
    drifting = _Moments.of(passes)
    dangers = [*others, *_left_out(hours, beyond=beyond), *_unsafe(runs)]
    if not beyond:
        dangers += _out_beyond(runs, hours)
    if drifting is not None:
        dangers += _water_dangers(drifting, water)
        if asked_mps is not None:
            fast = drifting.speed_mps > FASTER * asked_mps[1]
            dangers += drifting.dangers("fast drift", fast, drifting.speed_mps, asked_mps[1])
    moments = _Moments.of(passes, runs)
    if moments is not None:
        dangers += _light_dangers(moments)
    dangers += [Danger("unknown water", cause=words) for words in unknown]
    if datum:
        dangers.append(Danger("datum", cause=datum))
    never = pd.Timestamp.min.tz_localize("UTC")
    return tuple(
        sorted(
            dangers,
            key=lambda one: (DANGERS.index(one.kind), never if pd.isna(one.start) else one.start),
        )
    )


@dataclass(frozen=True, slots=True)
class _Moments:
    """Every vertex of some ways, in order of time within each."""

    times: NDArray[np.datetime64]
    longitude: Floats
    latitude: Floats
    speed_mps: Floats
    line: NDArray[np.object_]

    @classmethod
    def of(cls, *tables: gpd.GeoDataFrame) -> _Moments | None:
        """Take the vertices of ways apart; None without one."""
        parts = [_vertices(row) for ways in tables for row in ways.itertuples()]
        if not parts:
            return None
        return cls(*(np.concatenate(column) for column in zip(*parts, strict=True)))

    def dangers(
        self, kind: DangerKind, flags: Mask, values: Any, allowed: Any = float("nan")
    ) -> list[Danger]:
        """Gather flagged vertices: one danger for those of one kind near each other in time."""
        order = np.flatnonzero(flags)
        if not order.size:
            return []
        order = order[np.argsort(self.times[order], kind="stable")]
        values = np.broadcast_to(values, flags.shape)
        allowed = np.broadcast_to(allowed, flags.shape)
        groups = np.split(order, np.flatnonzero(np.diff(self.times[order]) > APART) + 1)
        return [
            Danger(
                kind,
                stamp(self.times[group[0]]),
                stamp(self.times[group[-1]]),
                tuple(dict.fromkeys(str(name) for name in self.line[group] if name)),
                "",
                float(np.fmax.reduce(values[group])),
                float(np.fmax.reduce(allowed[group])),
            )
            for group in groups
        ]


def _vertices(row: Any) -> tuple[Any, ...]:
    at = shapely.get_coordinates(row.geometry)
    begin, end = moment(row.start), moment(row.end)
    share = np.linspace(0.0, 1.0, len(at))
    times = begin + (share * float((end - begin) / np.timedelta64(1, "ns"))).astype(
        "timedelta64[ns]"
    )
    seconds = float(seconds_between(begin, end)) / max(len(at) - 1, 1)
    legs = step_lengths(at[:, 0], at[:, 1]) / seconds if seconds > 0 else np.zeros(len(at) - 1)
    speed = np.append(legs, legs[-1:])
    return times, at[:, 0], at[:, 1], speed, np.full(len(at), row.plan_id, object)


def _left_out(hours: OpenHours, *, beyond: bool) -> Iterable[Danger]:
    kind: DangerKind = "beyond limits" if beyond else "left out"
    for row in hours.left_out.itertuples():
        yield Danger(
            kind, row.start, row.end, (), row.limit, row.greatest_mps, row.allowed_mps,
            row.greatest_m, row.allowed_m,
        )  # fmt: skip


def _unsafe(runs: gpd.GeoDataFrame) -> Iterable[Danger]:
    """Say which runs have a caution: one danger for those to a line that have the same."""
    wary = runs[runs["caution"] != ""]
    for (caution, to_a_line), same in wary.groupby(["caution", wary["plan_id"] != ""], sort=False):
        lines = tuple(dict.fromkeys(same["plan_id"])) if to_a_line else ()
        yield Danger("run", same["start"].min(), same["end"].max(), lines, str(caution))


def _out_beyond(runs: gpd.GeoDataFrame, hours: OpenHours) -> list[Danger]:
    """Say which runs fall in hours that are not open."""
    return [
        Danger(
            "out beyond limits", row.start, row.end,
            (str(row.plan_id),) if row.plan_id else (), "run" if row.plan_id else "home",
        )
        for row in runs.itertuples()
        if hours.leaves_out(row.start, row.end)
    ]  # fmt: skip


def _water_dangers(drifting: _Moments, water: DayWater) -> list[Danger]:
    east, north = water.currents.velocity(drifting.times, drifting.longitude, drifting.latitude)
    flow = np.hypot(east, north)
    dangers = drifting.dangers("strong current", flow >= STRONG_CURRENT_MPS, flow)
    if water.wind is None:
        return dangers
    not_known = np.ones(flow.shape, bool)
    if water.sea is not None:
        dangers += _sea_dangers(drifting, water.sea)
        not_known = np.isnan(water.sea.at(drifting.times).still_m)
        not_known |= water.sea.reaches_out(drifting.times)
    speed, from_deg = water.wind.at(as_utc(drifting.times))
    gust = np.fmax(speed, water.wind.gusts(drifting.times))
    toward = np.degrees(np.arctan2(east, north))
    against = np.abs(half_turned(from_deg + 180.0 - toward)) >= AGAINST_DEG
    steep = not_known & against & (gust >= STEEP_WIND_MPS) & (flow >= STEEP_CURRENT_MPS)
    return dangers + drifting.dangers("wind against water", steep, gust, flow)


def _sea_dangers(drifting: _Moments, sea: Sea) -> list[Danger]:
    """Say where the sea breaks, and where it is short and steep."""
    raised = sea.at(drifting.times)
    height = np.fmax(raised.height_m, raised.still_m)
    kinds: tuple[tuple[DangerKind, str], ...] = (
        ("breaking sea", BREAKING), ("steep sea", SHORT),
    )  # fmt: skip
    return [
        replace(one, greatest_mps=float("nan"), greatest_m=one.greatest_mps)
        for kind, word in kinds
        for one in drifting.dangers(kind, (raised.words == word) & (height >= LEAST_SEA_M), height)
    ]


def _light_dangers(moments: _Moments) -> list[Danger]:
    """Say which passes are in the dark, and which between sunset and sunrise."""
    place = float(moments.longitude[0]), float(moments.latitude[0])
    dark = dark_at(moments.times, *place, darkness="civil twilight")
    low = dark_at(moments.times, *place, darkness="sunset") & ~dark
    return [
        *moments.dangers("dark", dark, float("nan")),
        *moments.dangers("lights", low, float("nan")),
    ]
