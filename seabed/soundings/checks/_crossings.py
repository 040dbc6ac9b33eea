"""Where the lines of a survey cross, found with a grid of cells, in machine code."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled
from seabed.units import half_turned

STEP_M: Final = 3.0
"""Steps of a line shorter than this are joined, so that a boat lying still crosses nothing."""

_ROW: Final = 1 << 31
_MOST_CELLS: Final = 64  # that one step may touch: longer ones are no sailing


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
