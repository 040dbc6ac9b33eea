"""What soundings say twice: differences where lines cross, and what they show of the tide.

At a crossing both lines sounded one place, so that the difference is error alone: noise, lag,
position, and the height of the tide at two moments.  A constant that is wrong in all soundings -
the transducer's depth, the datum of the tide table - cancels, and crossings **can't show** it; a
grid or a place of known depth does (`seabed.soundings.checks.tide_check.fit_to_chart`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats, Indices, Ints
from seabed.compiled import compiled
from seabed.notebook import NotebookTable
from seabed.robust import robust_sigma
from seabed.schema import Table
from seabed.soundings.orders import ORDERS
from seabed.soundings.sounding_table import SOUNDINGS, degrees_of, even_seconds, metres_of
from seabed.units import half_turned

CROSSOVERS: Final = Table.of(
    "crossovers",
    "seabed.soundings.checks.crossovers.crossovers",
    """
    longitude, latitude degrees, WGS 84
    time_1, time_2 [time] of each line, UTC; the first is the earlier in the logs
    line_1, line_2 [int] their numbers
    depth_1_m, depth_2_m reduced as the soundings are
    difference_m [depth] the first depth less the second
    sigma_m [depth] what that may be off by noise alone
    height_1_m, height_2_m [depth empty] of the tide that was taken off
    rate_1_mps, rate_2_mps [empty] at which the tide rose
    angle_deg between the lines, 0 to 180
    """,
)

_REACH_S: Final = 10.0
_RATE_ROWS: Final = 60
_LEAST_ANGLE: Final = 10.0


STEP_M: Final = 3.0
"""Steps of a line shorter than this are joined, so that a boat lying still crosses nothing."""

_ROW: Final = 1 << 31
_MOST_CELLS: Final = 64  # that one step may touch: longer ones are no sailing


@dataclass(frozen=True, slots=True)
class CrossoverStatistics(NotebookTable):
    """Of the differences of crossovers, metres; NaN where there are none.

    robust_sigma_m: 1.4826 times the median absolute deviation from the median. p95_m: 95 % of the
    absolute differences are less. inside: by order of IHO S-44, the share of differences that it
    allows: both soundings have the greatest uncertainty, so a difference may be its root of 2.
    """

    count: int
    mean_m: float
    median_m: float
    rms_m: float
    robust_sigma_m: float
    p95_m: float
    inside: dict[str, float]


def crossovers(soundings: pd.DataFrame, *, apart_s: float = 120.0) -> pd.DataFrame:
    """Compare depths where lines cross each other or themselves, as `CROSSOVERS`.

    Both lines have good soundings within 10 s before and behind, between which depth is
    interpolated along the line. Crossings at less than 10 degrees are left out: there lines run
    beside each other, and where they cross is chance. apart_s: a line crosses itself only where it
    comes back after this time.
    """
    SOUNDINGS.check(soundings)
    east, north = metres_of(soundings)
    line, seconds = soundings["line"].to_numpy(), even_seconds(soundings["time"])
    crossings = find_crossings(east, north, line, seconds, apart_s=apart_s)
    wide = np.minimum(crossings.angle_deg, 180.0 - crossings.angle_deg) >= _LEAST_ANGLE
    depth = _depths(soundings)
    sides = [
        _at(place[wide], seconds, line, depth, soundings)
        for place in (crossings.first, crossings.second)
    ]
    longitude, latitude = degrees_of(soundings, crossings.east[wide], crossings.north[wide])
    columns = {
        "longitude": longitude,
        "latitude": latitude,
        **{name.format(n): side[name] for n, side in enumerate(sides, 1) for name in side},
        "difference_m": sides[0]["depth_{}_m"] - sides[1]["depth_{}_m"],
        "sigma_m": np.hypot(*(side["sigma"] for side in sides)),
        "angle_deg": crossings.angle_deg[wide],
    }
    known = ~np.isnan(columns["difference_m"])
    return pd.DataFrame({name: columns[name][known] for name in CROSSOVERS.names})


def crossover_statistics(table: pd.DataFrame) -> CrossoverStatistics:
    """Sum up a table of crossovers."""
    off = table["difference_m"].to_numpy(np.float64)
    if not len(off):
        none = dict.fromkeys((order.name for order in ORDERS), np.nan)
        nan = np.nan
        return CrossoverStatistics(0, nan, nan, nan, nan, nan, none)
    deep = 0.5 * (table["depth_1_m"] + table["depth_2_m"]).to_numpy(np.float64)
    return CrossoverStatistics(
        count=len(off),
        mean_m=float(off.mean()),
        median_m=float(np.median(off)),
        rms_m=float(np.sqrt((off**2).mean())),
        robust_sigma_m=robust_sigma(off),
        p95_m=float(np.quantile(np.abs(off), 0.95)),
        inside={
            order.name: float((np.abs(off) <= np.sqrt(2.0) * order.uncertainty_m(deep)).mean())
            for order in ORDERS
        },
    )


def _depths(soundings: pd.DataFrame) -> Floats:
    """Depths of good soundings, reduced if all that can be are; NaN for the others."""
    depth = soundings["depth_m"].to_numpy(np.float64)
    if np.isnan(depth).all():
        depth = soundings["measured_m"].to_numpy(np.float64) + soundings["to_surface_m"].to_numpy()
    return np.where((soundings["flag"] == "").to_numpy(), depth, np.nan)


def _at(
    place: Floats, seconds: Floats, line: Indices, depth: Floats, soundings: pd.DataFrame
) -> dict[str, NDArray[Any]]:
    """Give moment, depth, its noise, the tide and its rate at places along lines, by column."""
    row = np.floor(place).astype(np.int64)
    share = place - row
    after = np.minimum(row + 1, len(seconds) - 1)
    when = seconds[row] + share * (seconds[after] - seconds[row])
    good = np.flatnonzero(np.isfinite(depth))
    low = np.searchsorted(good, row, side="right") - 1
    high = np.searchsorted(good, np.ceil(place).astype(np.int64))
    there = (low >= 0) & (high < len(good))
    safe_low = np.maximum(low, 0)
    safe_high = np.minimum(high, max(len(good) - 1, 0))
    if not len(good):
        good = np.zeros(1, np.int64)
    low_row, high_row = good[safe_low], good[safe_high]
    there &= (line[low_row] == line[row]) & (line[high_row] == line[row])
    there &= (when - seconds[low_row] <= _REACH_S) & (seconds[high_row] - when <= _REACH_S)
    step = seconds[high_row] - seconds[low_row]
    part = np.where(step > 0, (when - seconds[low_row]) / np.where(step > 0, step, 1.0), 0.0)
    between = depth[low_row] + part * (depth[high_row] - depth[low_row])
    sigma = soundings["sigma_m"].to_numpy()
    noise = np.hypot((1 - part) * sigma[low_row], part * sigma[high_row])
    height = soundings["height_m"].to_numpy()
    return {
        "time_{}": soundings["time"].array[row] + pd.to_timedelta(when - seconds[row], unit="s"),
        "line_{}": line[row],
        "depth_{}_m": np.where(there, between, np.nan),
        "sigma": noise,
        "height_{}_m": height[row].astype(np.float64),
        "rate_{}_mps": _rate(row, seconds, height, line),
    }


def _rate(row: Ints, seconds: Floats, height: NDArray[Any], line: Indices) -> Floats:
    """Rate at which the tide rose at rows, from heights of their line some way before and after."""
    before = np.maximum(row - _RATE_ROWS, np.searchsorted(line, line[row]))
    after = np.minimum(row + _RATE_ROWS, np.searchsorted(line, line[row], side="right") - 1)
    step = seconds[after] - seconds[before]
    rise = height[after].astype(np.float64) - height[before]
    return np.where(step > 0, rise / np.where(step > 0, step, 1.0), np.nan)


@dataclass(frozen=True, slots=True)
class LineCrossings:
    """Places where two steps of lines cross, arrays of one value a crossing."""

    first: Floats  # the row of the sounding before, and the share of the way to the next
    second: Floats
    east: Floats  # metres
    north: Floats
    angle_deg: Floats  # between the two directions, 0 to 180

    def __len__(self) -> int:
        return len(self.first)


def find_crossings(
    east: Floats,
    north: Floats,
    line: NDArray[np.int32],
    seconds: Floats,
    *,
    apart_s: float = 120.0,
    step_m: float = STEP_M,
) -> LineCrossings:
    """Find where lines, in one piece each, cross each other and themselves.

    In the order of `first`, then `second`.  Steps are joined up to `step_m`; a line crosses itself
    only where it comes back after `apart_s`.  Lines that only touch at an end cross there once or
    not at all.
    """
    ends = _vertices(east, north, line, step_m)
    joined = line[ends[1:]] == line[ends[:-1]]
    start, stop = ends[:-1][joined], ends[1:][joined]
    length = np.hypot(east[stop] - east[start], north[stop] - north[start])
    real = length > 0
    start, stop, length = start[real], stop[real], length[real]
    if len(start) < 2:
        return LineCrossings(*(np.empty(0) for _ in range(5)))
    cell = float(np.clip(4.0 * np.median(length), step_m, 1000.0))
    entry, key, low = _entries(east, north, start, stop, cell)
    order = np.argsort(key, kind="stable")
    pairs, shares = _crossing_pairs(
        east, north, seconds, line, start, stop, entry[order], key[order], low, apart_s
    )
    (a, b), (share, other_share) = pairs.T, shares.T
    first = start[a] + share * (stop[a] - start[a])
    second = start[b] + other_share * (stop[b] - start[b])
    step_e, step_n = east[stop] - east[start], north[stop] - north[start]
    bearing = np.arctan2(step_e, step_n)
    angle = np.abs(half_turned(np.degrees(bearing[b] - bearing[a])))
    x, y = east[start[a]] + share * step_e[a], north[start[a]] + share * step_n[a]
    low, high = np.minimum(first, second), np.maximum(first, second)
    order = np.lexsort((high, low))
    return LineCrossings(low[order], high[order], x[order], y[order], angle[order])


@compiled
def _vertices(east: Floats, north: Floats, line: NDArray[np.int32], step_m: float) -> Ints:
    """Rows at least a step apart, with the first and last of each line."""
    kept = np.empty(len(east), np.int64)
    count = 0
    for i in range(len(east)):
        if np.isnan(east[i]) or np.isnan(north[i]):
            continue
        if count == 0 or line[kept[count - 1]] != line[i]:
            kept[count] = i
            count += 1
            continue
        before = kept[count - 1]
        far = (east[i] - east[before]) ** 2 + (north[i] - north[before]) ** 2 >= step_m**2
        if far or i + 1 == len(east) or line[i + 1] != line[i]:
            kept[count] = i
            count += 1
    return kept[:count].copy()


def _entries(
    east: Floats, north: Floats, start: Ints, stop: Ints, cell: float
) -> tuple[Ints, Ints, Ints]:
    """Which step is in which cell, by the cells that its box touches; its lowest column and row.

    Steps that touch too many cells are in none.
    """
    ends = np.array([[east[start], east[stop]], [north[start], north[stop]]])
    cells = ((ends - ends.min(axis=(1, 2), keepdims=True)) / cell).astype(np.int64)
    low, sides = cells.min(axis=1), np.ptp(cells, axis=1) + 1
    touched = sides.prod(axis=0)
    touched[touched > _MOST_CELLS] = 0
    entry = np.repeat(np.arange(len(start)), touched)
    nth = np.arange(len(entry)) - np.repeat(np.cumsum(touched) - touched, touched)
    column, row = low[0][entry] + nth % sides[0][entry], low[1][entry] + nth // sides[0][entry]
    return entry, row * _ROW + column, np.ascontiguousarray(low.T)


@compiled
def _crossing_pairs(  # noqa: PLR0917  (compiled functions take no keywords)
    east: Floats,
    north: Floats,
    seconds: Floats,
    line: NDArray[np.int32],
    start: Ints,
    stop: Ints,
    entry: Ints,
    key: Ints,
    low: Ints,
    apart_s: float,
) -> tuple[Ints, Floats]:
    """Pairs of steps that cross, and the share of the way on each."""
    room = 1024
    pairs, shares = np.empty((room, 2), np.int64), np.empty((room, 2))
    count = 0
    first = 0
    while first < len(entry):
        last = first
        while last + 1 < len(entry) and key[last + 1] == key[first]:
            last += 1
        for m in range(first, last):
            i = entry[m]
            x, y = east[start[i]], north[start[i]]
            dx, dy = east[stop[i]] - x, north[stop[i]] - y
            for n in range(m + 1, last + 1):
                j = entry[n]
                column, row = max(low[i, 0], low[j, 0]), max(low[i, 1], low[j, 1])
                if row * _ROW + column != key[first]:
                    continue  # two steps meet in several cells: the lowest of them counts
                if line[start[i]] == line[start[j]] and not (
                    abs(seconds[start[i]] - seconds[start[j]]) >= apart_s
                ):
                    continue
                u, v = east[start[j]], north[start[j]]
                du, dv = east[stop[j]] - u, north[stop[j]] - v
                area = dx * dv - dy * du
                if area == 0.0:
                    continue
                s = ((u - x) * dv - (v - y) * du) / area
                t = ((u - x) * dy - (v - y) * dx) / area
                # a step has its beginning and not its end: a crossing at a corner counts once
                if not (0.0 <= s < 1.0 and 0.0 <= t < 1.0):
                    continue
                if count == room:
                    room *= 2
                    more, further = np.empty((room, 2), np.int64), np.empty((room, 2))
                    more[:count], further[:count] = pairs, shares
                    pairs, shares = more, further
                pairs[count, 0], pairs[count, 1] = i, j
                shares[count, 0], shares[count, 1] = s, t
                count += 1
        first = last + 1
    return pairs[:count].copy(), shares[:count].copy()
