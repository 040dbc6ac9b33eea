"""Ridges of slope: where the bottom is steepest along its own fall line, to a fraction of a cell.

Lindeberg (1998, Int. J. Comput. Vis. 30, 117-154): with v the direction in which the smoothed depth
D rises, an edge is where D_vv = 0 and D_vvv < 0.  The zeros of D_vv are traced by marching squares,
which links them into ordered lines at once; the greatest slope, not the least, is recognised by
looking a step to either side.  Canny's (1986) hysteresis is then applied along the lines.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Mask
from seabed.compiled import compiled

_EASED: Final = 0.05
"""A break is where slope still has this share of its excess over the flank's."""
_DISTINCT: Final = 0.5
"""The flanks of an edge are at most this steep, as a share of its greatest slope."""
_OVER: Final = math.tan(math.radians(1.0))
"""Or the edge is steeper than its flanks by this, metres of depth a metre."""
_THREADS: Final = 2
STRIDES: Final = 8
"""Lengths of a scale beyond a break that give the usual slope of a flank."""
_RISE: Final = 0.25
"""Slope that rises again by this share of the greatest belongs to the next edge."""


@dataclass(frozen=True, slots=True)
class Crossings:
    """What a profile down the fall line shows at each of n points.

    gradient: greatest slope, metres of depth a metre.
    east, north: unit vector toward which the bottom deepens, by grid north.
    top_depth, foot_depth, width: depth at the breaks and the way between them, metres.
    top_line, foot_line, top_slope, foot_slope: depth here of the flanks beyond the breaks, drawn on
        as straight lines, and their slopes.
    distinct: slope is greatest here and eases on both sides.  Where False the other values may be
        NaN.
    """

    gradient: Floats
    east: Floats
    north: Floats
    top_depth: Floats
    foot_depth: Floats
    width: Floats
    top_line: Floats
    foot_line: Floats
    top_slope: Floats
    foot_slope: Floats
    distinct: Mask


def across(
    depth: NDArray[np.float32],
    points: Floats,
    width: Floats,
    height: Floats,
    *,
    step_m: float,
    reach_m: float,
    flank_m: float,
    corner: tuple[int, int] = (0, 0),
) -> Crossings:
    """Walk down and up the fall line from each point to where the slope eases, on smoothed depths.

    width, height, shape (rows,): of the cells, metres.
    step_m, reach_m: length of a step and of the whole way on each side.
    flank_m: a flank's slope is not less than the median of those over eight such lengths beyond the
        break; 0 takes the least slope met, and draws no line on.
    corner: (column, row) of the first of `depth`, where `points` are counted in a whole that it is
        a part of.
    """
    out = np.full((len(points), 11), np.nan)
    steps = max(3, math.ceil(reach_m / step_m))
    ends = np.linspace(0, len(points), _THREADS + 1).astype(int)
    with ThreadPoolExecutor(_THREADS) as pool:
        walks = [
            pool.submit(
                _walk, depth, points[a:b], width, height, step_m, steps, flank_m / step_m, *corner,
                out[a:b],
            )
            for a, b in pairwise(ends)
        ]  # fmt: skip
        for walk in walks:
            walk.result()
    names = [one.name for one in fields(Crossings)]
    columns = dict(zip(names, out.T, strict=True))
    return Crossings(**columns | {"distinct": columns["distinct"] == 1})


@compiled
def steepness(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: NDArray[np.float32],
    points: Floats,
    width: Floats,
    height: Floats,
    left: int,
    top: int,
) -> Floats:
    """Slope at points, metres of depth a metre, as a walk from them begins with it."""
    out = np.empty(len(points))
    for k in range(len(points)):
        column, row = points[k, 0], points[k, 1]
        gx, gy = _gradient(depth, column, row, width, height, left, top)
        out[k] = math.hypot(gx, gy)
    return out


@compiled
def bends(
    depth: NDArray[np.float32], width: Floats, height: Floats, least_gradient: float
) -> Floats:
    """Second derivative of depth in the direction of its gradient; NaN on gentle ground."""
    rows, columns = depth.shape
    out = np.full((rows, columns), np.nan)
    least = least_gradient * least_gradient
    for row in range(1, rows - 1):
        w, h = width[row], height[row]
        for c in range(1, columns - 1):
            middle = float(depth[row, c])
            west, east = depth[row, c - 1] - middle, depth[row, c + 1] - middle
            north, south = depth[row - 1, c] - middle, depth[row + 1, c] - middle
            gx, gy = (east - west) / (2 * w), (north - south) / (2 * h)
            square = gx * gx + gy * gy
            if not square >= least:
                continue
            twist = (
                float(depth[row - 1, c + 1])
                - depth[row - 1, c - 1]
                - depth[row + 1, c + 1]
                + depth[row + 1, c - 1]
            ) / (4 * w * h)
            xx, yy = (east + west) / (w * w), (north + south) / (h * h)
            out[row, c] = (gx * gx * xx + 2 * gx * gy * twist + gy * gy * yy) / square
    return out


@compiled
def at_point(depth: NDArray[np.float32], column: float, row: float, left: int, top: int) -> float:
    """Bilinear; NaN outside and beside voids.

    Columns and rows are those of the whole grid, in which `depth` begins at `left` and `top`: so
    they round alike in every block.
    """
    rows, columns = depth.shape
    if not (left <= column <= left + columns - 1 and top <= row <= top + rows - 1):
        return np.nan
    c, r = min(int(column) - left, columns - 2), min(int(row) - top, rows - 2)
    u, v = column - (c + left), row - (r + top)
    upper = _mixed(depth[r, c], depth[r, c + 1], u)
    lower = _mixed(depth[r + 1, c], depth[r + 1, c + 1], u)
    return _mixed(upper, lower, v)


@compiled
def _mixed(one: float, other: float, part: float) -> float:
    """Linear between two; a void that has no part in it does no harm."""
    if part == 0:
        return float(one)
    if part == 1:
        return float(other)
    return float(one * (1 - part) + other * part)


@compiled
def _gradient(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: NDArray[np.float32],
    column: float,
    row: float,
    width: Floats,
    height: Floats,
    left: int,
    top: int,
) -> tuple[float, float]:
    w, h = width[int(row + 0.5) - top], height[int(row + 0.5) - top]
    gx = (
        at_point(depth, column + 1, row, left, top) - at_point(depth, column - 1, row, left, top)
    ) / (2 * w)
    gy = (
        at_point(depth, column, row - 1, left, top) - at_point(depth, column, row + 1, left, top)
    ) / (2 * h)
    return gx, gy


@compiled
def _walk(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: NDArray[np.float32],
    points: Floats,
    width: Floats,
    height: Floats,
    step: float,
    steps: int,
    stride: float,
    left: int,
    top: int,
    out: Floats,
) -> None:
    way = np.empty(steps + 2)
    for k in range(len(points)):
        column, row = points[k, 0], points[k, 1]
        w, h = width[int(row + 0.5) - top], height[int(row + 0.5) - top]
        gx, gy = _gradient(depth, column, row, width, height, left, top)
        gradient = math.hypot(gx, gy)
        if not gradient > 0:
            continue
        east, north = gx / gradient, gy / gradient
        across, down = step * east / w, -step * north / h
        here = at_point(depth, column, row, left, top)
        above, below = (
            at_point(depth, column - across, row - down, left, top),
            at_point(depth, column + across, row + down, left, top),
        )
        greatest = (below - above) / (2 * step)
        before = (here - at_point(depth, column - 2 * across, row - 2 * down, left, top)) / (
            2 * step
        )
        beyond = (at_point(depth, column + 2 * across, row + 2 * down, left, top) - here) / (
            2 * step
        )
        if not (greatest >= before and greatest >= beyond):
            continue
        out[k, 0], out[k, 1], out[k, 2] = gradient, east, north
        up, upper, top_line, top_slope, up_eased = _ease(
            depth, column, row, -across, -down, -step, greatest, stride, left, top, way
        )
        on, lower, foot_line, foot_slope, on_eased = _ease(
            depth, column, row, across, down, step, greatest, stride, left, top, way
        )
        out[k, 3], out[k, 4], out[k, 5] = upper, lower, (up + on) * step
        out[k, 6], out[k, 7], out[k, 8], out[k, 9] = top_line, foot_line, top_slope, foot_slope
        out[k, 10] = 1.0 if up_eased and on_eased else 0.0


@compiled
def _ease(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: NDArray[np.float32],
    column: float,
    row: float,
    across: float,
    down: float,
    step: float,
    greatest: float,
    stride: float,
    left: int,
    top: int,
    way: Floats,
) -> tuple[float, float, float, float, bool]:
    """Find the break on one side (uphill if `step` is negative).

    Gives steps to it, depth there, depth and slope at the start of the flank drawn on, and whether
    slope eases enough for an edge.
    """
    way[0], way[1] = (
        at_point(depth, column, row, left, top),
        at_point(depth, column + across, row + down, left, top),
    )
    flank, last = greatest, 0
    for n in range(1, len(way) - 1):
        way[n + 1] = at_point(depth, column + (n + 1) * across, row + (n + 1) * down, left, top)
        fall = (way[n + 1] - way[n - 1]) / (2 * step)
        if math.isnan(fall) or fall > flank + _RISE * greatest:
            break
        if fall < flank:
            flank, last = fall, n
        if fall <= 0:
            break
    flank = max(flank, 0.0)
    if stride > 0:
        begin = last
        for n in range(1, last):
            if (way[n + 1] - way[n - 1]) / (2 * step) <= flank + _EASED * (greatest - flank):
                begin = n
                break
        usual = _usual(depth, column, row, across, down, step, begin, stride, left, top)
        flank = max(flank, usual)
    eased, before = flank + _EASED * (greatest - flank), greatest
    clear = flank <= _DISTINCT * greatest or (stride > 0 and greatest - flank >= _OVER)
    for n in range(1, last + 1):
        fall = (way[n + 1] - way[n - 1]) / (2 * step)
        if fall <= eased:
            part = (before - eased) / (before - fall)
            at = way[n - 1] * (1 - part) + way[n] * part
            if stride <= 0:
                return n - 1 + part, at, at, 0.0, clear
            line, stop = 0.0, min(last, n + int(2 * stride))
            for far in range(n, stop + 1):
                line += way[far] - flank * far * step
            return n - 1 + part, at, line / (stop + 1 - n), flank, clear
        before = fall
    return float(last), way[last], way[last], 0.0, False


@compiled
def _usual(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: NDArray[np.float32],
    column: float,
    row: float,
    across: float,
    down: float,
    step: float,
    begin: int,
    stride: float,
    left: int,
    top: int,
) -> float:
    """Median slope over the strides beyond a break, as far as they are known; 0 without three."""
    count = 0
    falls = np.empty(STRIDES)
    before = at_point(depth, column + begin * across, row + begin * down, left, top)
    for k in range(1, STRIDES + 1):
        n = begin + k * stride
        here = at_point(depth, column + n * across, row + n * down, left, top)
        if math.isnan(here):
            break
        falls[count] = (here - before) / (stride * step)
        count += 1
        before = here
    if count < 3:
        return 0.0
    falls = np.sort(falls[:count])
    return float((falls[(count - 1) // 2] + falls[count // 2]) / 2)
