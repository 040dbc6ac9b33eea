"""Axes of troughs: lines along which the bottom is deepest across its sharpest bend.

Lindeberg (1998, Int. J. Comput. Vis. 30, 117-154): with p the direction in which the second
derivative of the smoothed depth is most negative, an axis is where D_p = 0, D_pp < 0 and
|D_pp| >= |D_qq|.  As p has no sense, it is turned to agree between each two neighbouring cells, and
the crossings of zero between them are joined through the squares they border.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Depths, Floats, Indices, Ints
from seabed.compiled import compiled
from seabed.structure.tracing.marching import Lines
from seabed.structure.tracing.ridges import at_point

_RISE: Final = 0.25
_RIM: Final = 0.95
_AGREE: Final = 0.5


@dataclass(frozen=True, slots=True)
class Sides:
    """Both sides of an axis, at each of n points.

    depth: on the axis, metres.
    height: how far the lower of the two sides rises over it, metres; NaN where unknown.
    width: from rim to rim, metres.
    """

    depth: Floats
    height: Floats
    width: Floats


def axis_lines(
    depth: Depths,
    width: Floats,
    height: Floats,
    *,
    own: tuple[slice, slice],
    corner: tuple[int, int],
) -> tuple[Lines, Ints]:
    """Trace axes through a smoothed block.

    width, height, shape (rows,): of the cells, metres.
    own: rows and columns of the cells whose squares are gone through.
    corner: (column, row) of the first of `depth` in the grid.
    Returned: columns and rows of the grid; and row, column and direction (0 to the east, 1 to the
        south) of the two neighbouring cells on both sides of each point, shape (n, 3).
    """
    bend = np.zeros((3, *depth.shape), np.float32)
    _bends(depth, width, height, bend)
    bend = np.ascontiguousarray(bend[:, own[0], own[1]])
    left, top = corner[0] + own[1].start, corner[1] + own[0].start
    number = np.full((2, *bend.shape[1:]), -1, np.int32)
    count = _crossings(bend, number, left, top, np.empty((0, 2)), np.empty((0, 3), np.int64))
    points, between = np.empty((count, 2)), np.empty((count, 3), np.int64)
    _crossings(bend, number, left, top, points, between)
    order = np.empty(count + 1, np.int32)  # room for one more, so that it is never empty
    starts = np.empty(count + 1, np.int32)
    used, lines = _chains(number, count, order, starts)
    offsets = np.append(starts[:lines], used).astype(np.int64)
    return (points[order[:used]], offsets), between[order[:used]]


def sides(
    depth: Depths,
    points: Floats,
    width: Floats,
    height: Floats,
    *,
    step_m: float,
    steps: int,
    corner: tuple[int, int],
) -> Sides:
    """Walk up both sides of an axis from each point, at right angles to its bend."""
    out = np.full((len(points), 3), np.nan)
    _climb(depth, points, width, height, step_m, steps, *corner, out)
    return Sides(out[:, 0], out[:, 1], out[:, 2])


@compiled
def _bend_at(  # noqa: PLR0917  (compiled functions take no keywords)
    northwest: float,
    north: float,
    northeast: float,
    west: float,
    middle: float,
    east: float,
    southwest: float,
    south: float,
    southeast: float,
    w: float,
    h: float,
) -> tuple[float, float, float]:
    """Sharpest bend of nine depths: direction east and north, slope along it; NaN if none."""
    xx, yy = (east - 2 * middle + west) / (w * w), (north - 2 * middle + south) / (h * h)
    xy = (northeast - northwest - southeast + southwest) / (4 * w * h)
    mean, half = (xx + yy) / 2, (xx - yy) / 2
    radius = math.hypot(half, xy)
    least = mean - radius
    # the sharper of the two bends must be the one that turns down at both sides
    if not (least < 0 and -least >= mean + radius):
        return np.nan, np.nan, np.nan
    angle = math.atan2(-xy, -half) / 2
    px, py = math.cos(angle), math.sin(angle)
    return px, py, px * (east - west) / (2 * w) + py * (north - south) / (2 * h)


@compiled
def _bends(depth: Depths, width: Floats, height: Floats, out: NDArray[np.float32]) -> None:
    rows, columns = depth.shape
    out[:] = np.nan
    for row in range(1, rows - 1):
        for c in range(1, columns - 1):
            px, py, along = _bend_at(
                depth[row - 1, c - 1],
                depth[row - 1, c],
                depth[row - 1, c + 1],
                depth[row, c - 1],
                depth[row, c],
                depth[row, c + 1],
                depth[row + 1, c - 1],
                depth[row + 1, c],
                depth[row + 1, c + 1],
                width[row],
                height[row],
            )
            out[0, row, c], out[1, row, c], out[2, row, c] = px, py, along


@compiled
def _crossings(  # noqa: PLR0917  (compiled functions take no keywords)
    bend: NDArray[np.float32],
    number: Indices,
    left: int,
    top: int,
    points: Floats,
    between: Ints,
) -> int:
    """Count the crossings between neighbours, and fill in places if `points` has room.

    ``number[0]`` is for each cell and the next to the east, ``number[1]`` to the south.
    """
    _, rows, columns = bend.shape
    count = 0
    for row in range(rows):
        for c in range(columns):
            first = bend[2, row, c]
            if math.isnan(first):
                continue
            for side in range(2):
                r, k = row + side, c + 1 - side
                if r == rows or k == columns:
                    continue
                second = bend[2, r, k]
                if math.isnan(second):
                    continue
                agree = bend[0, row, c] * bend[0, r, k] + bend[1, row, c] * bend[1, r, k]
                if abs(agree) < _AGREE:
                    continue
                if agree < 0:
                    second = -second
                if (first >= 0) == (second >= 0):
                    continue
                number[side, row, c] = count
                if len(points):
                    part = first / (first - second)
                    points[count, 0] = left + c + part * (1 - side)
                    points[count, 1] = top + row + part * side
                    between[count] = top + row, left + c, side
                count += 1
    return count


@compiled
def _chains(  # noqa: PLR0912  (a square has four sides)
    number: Indices, count: int, order: Indices, starts: Indices
) -> tuple[int, int]:
    """Join crossings that border the same square into chains, each listed in order.

    Gives how many places of `order` are filled and how many chains start.
    """
    _, rows, columns = number.shape
    link = np.full((count, 2), -1, np.int32)
    around = np.empty(4, np.int32)
    for row in range(rows - 1):
        for c in range(columns - 1):
            ends = 0
            for k in range(4):
                if k == 0:
                    at = number[0, row, c]
                elif k == 1:
                    at = number[1, row, c + 1]
                elif k == 2:
                    at = number[0, row + 1, c]
                else:
                    at = number[1, row, c]
                if at >= 0:
                    around[ends] = at
                    ends += 1
            for k in range(0, ends - 1, 2):
                one, other = around[k], around[k + 1]
                link[one, 0 if link[one, 0] < 0 else 1] = other
                link[other, 0 if link[other, 0] < 0 else 1] = one
    done = np.zeros(count, np.bool_)
    used, lines = 0, 0
    for closed in range(2):  # chains with an end first, then rings
        for start in range(count):
            if done[start] or link[start, 0] < 0 or (closed == 0 and link[start, 1] >= 0):
                continue
            starts[lines] = used
            lines += 1
            before, at = -1, start
            while at >= 0 and not done[at]:
                done[at] = True
                order[used] = at
                used += 1
                onward = link[at, 0] if link[at, 0] != before else link[at, 1]
                before, at = at, onward
    return used, lines


@compiled
def _climb(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: Depths,
    points: Floats,
    width: Floats,
    height: Floats,
    step: float,
    steps: int,
    left: int,
    top: int,
    out: Floats,
) -> None:
    way = np.empty(steps + 1)
    for k in range(len(points)):
        column, row = points[k, 0], points[k, 1]
        w, h = width[int(row + 0.5) - top], height[int(row + 0.5) - top]
        px, py, _ = _bend_at(
            at_point(depth, column - 1, row - 1, left, top),
            at_point(depth, column, row - 1, left, top),
            at_point(depth, column + 1, row - 1, left, top),
            at_point(depth, column - 1, row, left, top),
            at_point(depth, column, row, left, top),
            at_point(depth, column + 1, row, left, top),
            at_point(depth, column - 1, row + 1, left, top),
            at_point(depth, column, row + 1, left, top),
            at_point(depth, column + 1, row + 1, left, top),
            w,
            h,
        )
        if math.isnan(px):
            continue
        right, down = step * px / w, -step * py / h
        least, total = np.inf, 0.0
        for side in range(2):
            sign = 1 - 2 * side
            rise, away = _rim(depth, column, row, sign * right, sign * down, left, top, way)
            least, total = min(least, rise), total + away
        out[k, 0], out[k, 1], out[k, 2] = way[0], least, total * step


@compiled
def _rim(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: Depths,
    column: float,
    row: float,
    right: float,
    down: float,
    left: int,
    top: int,
    way: Floats,
) -> tuple[float, float]:
    """How far one side rises, and steps to where it has all but done so."""
    way[0] = at_point(depth, column, row, left, top)
    best, last = way[0], 0
    for n in range(1, len(way)):
        way[n] = at_point(depth, column + n * right, row + n * down, left, top)
        if math.isnan(way[n]) or way[n] > best + _RISE * (way[0] - best) + 1e-6:
            break
        if way[n] < best:
            best, last = way[n], n
    rise = way[0] - best
    for n in range(1, last + 1):
        if way[0] - way[n] >= _RIM * rise:
            gained = way[n - 1] - way[n]
            return rise, n - ((way[0] - way[n]) - _RIM * rise) / gained if gained > 0 else n
    return rise, float(last)
