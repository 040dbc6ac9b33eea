"""Where lines leave a chunk: what the end of one and the start of the next are known by."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Pair
from seabed.structure.tracing.marching import Lines

Borders = tuple[tuple[float, float], tuple[float, float]]
"""First and last row, first and last column shared with a neighbour; NaN for none."""

_NUDGE: Final = 0.25


def crossings_of(
    lines: Lines, values: NDArray[Any], level: float, *, origin: tuple[int, int], borders: Borders
) -> Pair:
    """Tell where lines cross borders that are shared.

    lines: in columns and rows of the grid; traced with the greater values on their left hand
        (columns to the right, rows up).
    values: ndarray, shape (rows, columns); what they were traced on.
    level: the value that was traced.
    origin: (row, column); of the first cell of `values`.
    starts, ends: ndarray, shape (lines, 2); column and row of the crossing; NaN for an end that is
        free and for rings.  A line that runs through the very centre of a cell may leave and come
        back there: these crossings are moved a quarter of a cell toward the neighbour they are
        beside.
    """
    points, offsets = lines
    starts, ends = points[offsets[:-1]].copy(), points[offsets[1:] - 1].copy()
    closed = (starts == ends).all(axis=1)
    for at, leaving in ((starts, False), (ends, True)):
        on = np.isin(at[:, 0], borders[1]) | np.isin(at[:, 1], borders[0])
        at[~on] = np.nan
        exact = np.flatnonzero(on & (at == np.rint(at)).all(axis=1))
        for line in exact:  # few, but for depths in whole steps
            at[line] = _moved(at[line], bool(closed[line]), leaving, values, level, origin, borders)
        ring = closed & ~np.isin(np.arange(len(closed)), exact)
        at[ring] = np.nan
    return starts, ends


def _moved(  # noqa: PLR0917
    at: Floats,
    closed: bool,
    leaving: bool,
    values: NDArray[Any],
    level: float,
    origin: tuple[int, int],
    borders: Borders,
) -> Floats:
    """Move a crossing at a centre toward the neighbour on its border that it is beside."""
    row, column = int(at[1]) - origin[0], int(at[0]) - origin[1]
    sides = []
    for axis, place in ((0, at[1]), (1, at[0])):  # a border along a row, along a column
        for side, border in enumerate(borders[axis]):
            if place != border:
                continue
            outward = 2 * side - 1
            for step in (-1, 1):
                r, c = (row, column + step) if axis == 0 else (row + step, column)
                if not (0 <= r < values.shape[0] and 0 <= c < values.shape[1]):
                    continue
                if (values[r, c] > level) == (values[row, column] > level):
                    continue
                toward_greater = step if values[r, c] > level else -step
                # going out, the greater values must be to the left
                left = -toward_greater * outward if axis == 0 else toward_greater * outward
                sides.append((axis, step, left > 0))
    mine = [side for side in sides if side[2] == leaving]
    if closed and len({side[2] for side in sides}) < 2:
        return np.full(2, np.nan)
    if not mine:
        return at
    axis, step, _ = mine[0]
    return at + ([step * _NUDGE, 0.0] if axis == 0 else [0.0, step * _NUDGE])
