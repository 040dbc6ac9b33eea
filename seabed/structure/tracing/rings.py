"""Rings that noise alone makes: no ground within them is far from the level they were traced at."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.structure.tracing.marching import Lines

MOST_CELLS: Final = 4096
"""Cells of the box about a ring beyond which it is not looked into: so large a one is ground."""


def noise_made(
    lines: Lines, depth: NDArray[np.float32], level: float, least_m: Floats, corner: tuple[int, int]
) -> Mask:
    """Say which lines are small rings whose ground differs from the level by less than some depth.

    lines, depth: columns and rows of a grid; what they were traced on.
    corner: (column, row) of the first of `depth` in that grid.
    """
    points, offsets = lines
    out = np.zeros(len(offsets) - 1, np.bool_)
    if len(out) and least_m.any():
        _look_into(points - np.array(corner), offsets, depth, float(level), least_m, out)
    return out


@compiled
def _look_into(  # noqa: PLR0917  (compiled functions take no keywords)
    points: Floats,
    offsets: Ints,
    depth: NDArray[np.float32],
    level: float,
    least: Floats,
    out: Mask,
) -> None:
    rows, columns = depth.shape
    for line in range(len(out)):
        first, last = offsets[line], offsets[line + 1] - 1
        if last - first < 3 or (points[first] != points[last]).any():
            continue
        left, right = points[first, 0], points[first, 0]
        top, bottom = points[first, 1], points[first, 1]
        for i in range(first, last):
            left, right = min(left, points[i, 0]), max(right, points[i, 0])
            top, bottom = min(top, points[i, 1]), max(bottom, points[i, 1])
        if (right - left + 1) * (bottom - top + 1) > MOST_CELLS:
            continue
        greatest = 0.0
        for row in range(max(int(np.ceil(top)), 0), min(int(bottom), rows - 1) + 1):
            for column in range(max(int(np.ceil(left)), 0), min(int(right), columns - 1) + 1):
                off = abs(depth[row, column] - level)
                if off > greatest and _holds(points, first, last, column, row):
                    greatest = off
        out[line] = greatest < least[line]


@compiled
def _holds(points: Floats, first: int, last: int, column: float, row: float) -> bool:
    """Whether a ring goes round a cell's centre an odd number of times."""
    inside = False
    for i in range(first, last):
        x0, y0, x1, y1 = points[i, 0], points[i, 1], points[i + 1, 0], points[i + 1, 1]
        if (y0 > row) != (y1 > row) and column < x0 + (row - y0) * (x1 - x0) / (y1 - y0):
            inside = not inside
    return inside
