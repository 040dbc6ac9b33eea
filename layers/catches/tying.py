"""Each fish onto the drift it came from, or onto the two that it may have come from.

A time in a log is off by what the two clocks differ, by what passes between the bite and the
writing, and by rounding.  Each is taken as even within its limits (`CLOCK_S`, `AFTER_S`,
`rounding_s`), so that a fish well inside a drift is of that drift alone; near an end, the drifts
share it by the chance that the bite was in each.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import factorial
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.catches.reading import CATCHES
from layers.tracks import DRIFTS, FIXES
from layers.tracks.motion import seconds_of
from layers.water.times import as_utc
from seabed.array_types import Times
from seabed.geodesy import local_metres
from seabed.schema import Table, documented

TIES: Final = Table.of(
    "ties",
    "layers.catches.tie",
    """
    drift_id [text empty "Drift"] it came from, or most likely did; ``""`` for none
    or_drift_id [text empty "Or of drift"] it may have come from too; ``""`` for none
    sure [empty share "Sure"] how likely it is of ``drift_id``, where it may be of two; else NaN
    tied_by [text empty] time or place; ``""`` for neither
    why [text empty "Why none"] what spoke against a tie
    """,
)
AFTER_S: Final = 60.0
"""A fish logged up to this many seconds after a drift's end still belongs to it: it is unhooked and
measured first.  Common practice, no source."""

CLOCK_S: Final = 30.0
"""Seconds that the clocks of log and track differ by at most, once an offset is set.  Common
practice, no source."""

LEAST_WEIGHT: Final = 0.05
"""A drift that a fish is less likely to be of is ruled out."""

PLACE_ERROR_M: Final = 10.0
"""Standard deviation of the place that a log gives.  Common practice, no source."""

NEAR_M: Final = 30.0
"""A fish without a drift at its time is tied by place to one whose line passes within this."""


@documented(TIES)
def tie(
    catches: gpd.GeoDataFrame,
    drifts: gpd.GeoDataFrame,
    fixes: pd.DataFrame,
    *,
    clock_offset_s: float | NDArray[np.float64] = 0.0,
    after_s: float = AFTER_S,
    near_m: float = NEAR_M,
) -> gpd.GeoDataFrame:
    """Tie catches to drifts: by time, else by place on the same day.

    Parameters
    ----------
    catches : from `read_catches`
    drifts, fixes : from `drifts_of` and `clean`
    clock_offset_s : float or ndarray, shape (n,)
        Seconds that the log's clock was ahead of the track's; of each row if they differ.
    after_s : float
        How long after a drift's end a fish still belongs to it.
    near_m : float
        How near a drift's line a fish with a position but no drift at its time must lie.

    Returns
    -------
    GeoDataFrame
        As `catches`, every row kept, with more columns.  Positions that the log does not give are
        those of the track at that time, where it has one within two minutes; a time that it does
        not give is that of the track's fix nearest to the place, on the drift the fish is tied to.

        {ties}

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> tie(catches, drifts(cut(fixes), fixes), fixes)["drift_id"].str[-2:].tolist()
    ['#1', '#1', '#2', '#2', '#3']
    """
    CATCHES.check(catches, "time", "longitude", "latitude", "geometry")
    DRIFTS.check(drifts, "drift_id", "start", "end", "geometry")
    FIXES.check(fixes, "time", "longitude", "latitude")
    tied = catches.copy()
    tied["time"] = tied["time"] - pd.to_timedelta(clock_offset_s, unit="s")
    tied = _placed(tied, fixes)
    spans = _Spans.of(drifts)
    moment = as_utc(tied["time"])
    given = catches[["longitude", "latitude"]].to_numpy(float)
    owners, sure = _by_time(moment, catches, spans, after_s)
    by = np.where(owners[:, 0] >= 0, "time", "").astype(object)
    why = np.full(len(tied), "", dtype=object)
    for i in np.flatnonzero(owners[:, 0] < 0):
        owners[i], sure[i] = _by_place(moment[i], given[i], spans, near_m)
        first = int(owners[i, 0])
        if first < 0:
            why[i] = _reason(moment[i], spans)
            continue
        by[i] = "place"
        if np.isnat(moment[i]):
            tied.iloc[i, tied.columns.get_loc("time")] = _time_at(
                given[i], drifts.iloc[first], fixes
            )
    named = np.append(spans.ids, "").astype(object)[owners]  # the last is -1's
    return tied.assign(
        drift_id=named[:, 0], or_drift_id=named[:, 1], sure=sure, tied_by=by, why=why
    )


def by_weight(catches: pd.DataFrame) -> pd.DataFrame:
    """Repeat fish that may be of two drifts, once on each, its chance of that as ``weight``."""
    if "sure" not in catches or not catches["sure"].notna().any():
        return catches.assign(weight=1.0)
    open_ = catches[catches["sure"].notna()]
    other = open_.assign(drift_id=open_["or_drift_id"], weight=1.0 - open_["sure"])
    return pd.concat([catches.assign(weight=catches["sure"].fillna(1.0)), other])


def _nanoseconds(times: Any) -> NDArray[np.int64]:
    return as_utc(times).astype(np.int64)


@dataclass(frozen=True, slots=True)
class _Spans:
    """Drifts as arrays."""

    ids: NDArray[np.str_]
    start: Times
    end: Times
    lines: NDArray[np.object_]

    @classmethod
    def of(cls, drifts: gpd.GeoDataFrame) -> _Spans:
        ids = drifts["drift_id"].astype(str).to_numpy()
        lines = drifts.geometry.to_numpy()
        return cls(ids, as_utc(drifts["start"]), as_utc(drifts["end"]), lines)


def _by_time(
    times: Times, catches: gpd.GeoDataFrame, drifts: _Spans, after_s: float
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Rows of the likeliest drift of each time and of the next, -1 for none; and how likely."""
    owners, sure = np.full((len(times), 2), -1), np.full(len(times), np.nan)
    if not len(drifts.ids) or not len(times):
        return owners, sure
    start, end, moment = (one.astype(np.int64) / 1e9 for one in (drifts.start, drifts.end, times))
    owners[:, 0] = np.where(np.isnat(times), -1, drift_at(moment, start, end, after_s))
    timed = np.flatnonzero(owners[:, 0] >= 0)
    files = catches.groupby("file")["time"]
    rounded = catches["file"].map({file: rounding_s(own) for file, own in files}).to_numpy(float)
    order = np.argsort(start, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    beside = place[owners[timed, 0]][:, None] + np.arange(-2, 3)
    row = order[np.clip(beside, 0, len(order) - 1)]
    late = moment[timed, None] - np.stack([start[row], end[row]])
    chance = [_later(one, after_s, rounded[timed]) for one in late]
    weight = (chance[0] - chance[1]) * (beside == np.clip(beside, 0, len(order) - 1))
    owners[timed], sure[timed] = _likeliest(weight, row)
    return owners, sure


def _later(
    seconds: NDArray[np.float64], after_s: float, rounded_s: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Chance that a time is written no more than so many seconds after the bite.

    The sum of even laws: `CLOCK_S` either way, up to `after_s`, and half of `rounded_s` either way.
    """
    known = (2 * CLOCK_S, max(after_s, 1.0))
    widths = np.stack(
        [*(np.full(len(rounded_s), one) for one in known), np.maximum(rounded_s, 1.0)]
    )
    from_low = seconds + CLOCK_S + widths[2][:, None] / 2
    total = np.zeros_like(seconds)
    for some in product((0, 1), repeat=len(widths)):  # Irwin 1927, Hall 1927, of unequal widths
        reach = np.maximum(from_low - (np.array(some) @ widths)[:, None], 0.0)
        total += (-1) ** sum(some) * reach ** len(widths)
    whole = factorial(len(widths)) * widths.prod(axis=0)[:, None]
    return np.asarray(np.clip(total / whole, 0.0, 1.0))


def _likeliest(
    weight: NDArray[np.float64], row: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Find the two greatest weights of each row; the share of the first, NaN where it is alone."""
    order = np.argsort(-weight, axis=1, kind="stable")[:, :2]
    best = np.take_along_axis(weight, order, axis=1)
    share = best[:, 0] / best.sum(axis=1)
    owners = np.take_along_axis(row, order, axis=1)
    alone = share > 1.0 - LEAST_WEIGHT
    owners[alone, 1] = -1
    return owners, np.where(alone, np.nan, share)


def drift_at(
    moment: NDArray[np.float64],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    after_s: float = AFTER_S,
) -> NDArray[np.int64]:
    """Row of the drift that each moment falls in, or just after; -1 for none.  All in seconds.

    >>> start, end = np.array([0.0, 900.0]), np.array([600.0, 1500.0])
    >>> drift_at(np.array([-1.0, 10.0, 650.0, 700.0, 901.0]), start, end).tolist()
    [-1, 0, 0, -1, 1]
    """
    order = np.argsort(start, kind="stable")
    at = np.searchsorted(start[order], moment, side="right") - 1
    row = order[np.clip(at, 0, None)]
    return np.where((at >= 0) & (moment <= end[row] + after_s), row, -1)


def _by_place(
    time: np.datetime64, place: NDArray[np.float64], drifts: _Spans, near_m: float
) -> tuple[NDArray[np.int64], float]:
    """Rows of the drifts of that day nearest to the position that the log gave, as `_by_time`."""
    none = np.array([-1, -1])
    if not np.isfinite(place).all() or not len(drifts.ids):
        return none, float("nan")
    day = np.timedelta64(12, "h")
    within = (drifts.start - day <= time) & (drifts.end + day >= time)
    same = np.flatnonzero(within | np.isnat(time))[::-1]
    away = np.array([_metres_to_line(place, line) for line in drifts.lines[same]])
    same, away = same[away <= near_m], away[away <= near_m]
    if not len(same):
        return none, float("nan")
    weight = np.exp(-(away**2 - away.min() ** 2) / (2 * PLACE_ERROR_M**2))
    owners, sure = _likeliest(np.append(weight, 0.0)[None], np.append(same, -1)[None])
    return owners[0], float(sure[0])


def _time_at(place: NDArray[np.float64], drift: Any, fixes: pd.DataFrame) -> pd.Timestamp:
    """Give the time of the fix of a drift that is nearest to a fish's place."""
    on = fixes[(fixes["time"] >= drift["start"]) & (fixes["time"] <= drift["end"])]
    if not len(on):
        return drift["start"]
    here = local_metres(on["longitude"].to_numpy(), on["latitude"].to_numpy(), centre=tuple(place))
    away = np.hypot(*here)
    return on["time"].iloc[int(away.argmin())]


def _metres_to_line(place: NDArray[np.float64], line: Any) -> float:
    """Least distance to a line, on a plane tangent at the place."""
    lon, lat = np.asarray(line.coords)[:, :2].T
    x, y = local_metres(lon, lat, centre=tuple(place))
    dx, dy = np.diff(x), np.diff(y)
    length = np.maximum(dx**2 + dy**2, 1e-12)
    along = np.clip(-(x[:-1] * dx + y[:-1] * dy) / length, 0, 1)
    return float(np.hypot(x[:-1] + along * dx, y[:-1] + along * dy).min())


def _placed(catches: gpd.GeoDataFrame, fixes: pd.DataFrame) -> gpd.GeoDataFrame:
    """Fill positions that are missing from the track."""
    missing = catches["longitude"].isna() | catches["latitude"].isna()
    timed = fixes[fixes["time"].notna()]
    if not missing.any() or timed.empty:
        return catches
    known = _nanoseconds(timed["time"])
    moments = _nanoseconds(catches["time"])
    after = np.clip(np.searchsorted(known, moments), 0, len(known) - 1)
    before = np.clip(after - 1, 0, None)
    away = np.minimum(np.abs(known[after] - moments), np.abs(known[before] - moments))
    fill = missing.to_numpy() & catches["time"].notna().to_numpy() & (away <= 120e9)
    for name in ("longitude", "latitude"):
        between = np.interp(moments, known, timed[name].to_numpy())
        catches[name] = np.where(fill, between, catches[name])
    placed = catches["longitude"].notna().to_numpy()
    points = gpd.GeoSeries(gpd.points_from_xy(catches["longitude"], catches["latitude"]))
    catches.geometry = points.where(placed, None).set_crs("EPSG:4326").to_numpy()
    return catches.set_crs("EPSG:4326", allow_override=True)


def _reason(time: np.datetime64, drifts: _Spans) -> str:
    if not len(drifts.ids):
        return "there are no drifts"
    if np.isnat(time):
        return "it has no time, and no drift passes near its place"
    gap = np.minimum(np.abs(drifts.start - time), np.abs(drifts.end - time))
    nearest = int(np.argmin(gap))
    minutes = gap[nearest] / np.timedelta64(1, "m")
    apart = f"{minutes:.0f} min" if minutes < 600 else f"{minutes / 1440:.0f} days"
    return f"no drift at its time; the nearest, {drifts.ids[nearest]}, is {apart} away"


LEAST_TIMES: Final = 5
ROUND_STEPS_S: Final = ((3600.0, 2), (1800.0, 2), (900.0, 3), (600.0, 2), (300.0, 5))
"""Steps that hands round to, and one in how many times on the next finer step are on it."""
ROUNDED_SHARE: Final = 0.3
"""Of the times of a log beyond chance on a round step, above which the log is taken as rounded."""


def rounding_s(times: pd.Series) -> float:
    """Find to how many seconds the times of a log are rounded: the coarsest step that most keep to.

    Five or fifteen minutes are taken only if more times are on them than by chance.
    """
    known = times.dropna()
    if len(known) < LEAST_TIMES:
        return 0.0
    second = seconds_of(known)
    for step, one_in in ROUND_STEPS_S:
        share = float(np.mean(np.abs(second / step - np.round(second / step)) * step < 1.0))
        if (share - 1 / one_in) / (1 - 1 / one_in) > ROUNDED_SHARE:
            return step
    return 60.0 if float(np.mean(second % 60 < 1.0)) > 0.5 else 0.0
