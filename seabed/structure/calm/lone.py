"""Lone soundings: far off the ground around them, with no neighbour at their depth."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

import numpy as np

from seabed.array_types import Depths, Ints
from seabed.compiled import compiled
from seabed.structure.calm.noise import Zone

REACH: Final = 2
"""Cells needed to each side."""
LEAST_M: Final = 0.5
DEVIATIONS: Final = 6.0
_SHARED: Final = 0.1
"""Neighbours that are, in the mean but for the one furthest off, so far off as well make it
ground: those of a Gaussian hump of 0.8 cells are 0.32 as far, those on a wall one cell wide 0.14,
those of a lone sounding or a pair 0."""
_FEWEST: Final = 8
"""Known cells of the sixteen around below which a cell is not judged."""


def doubtful_by_zone(depth: Depths, zones: Iterable[Zone]) -> tuple[Ints, Depths]:
    """Find doubtful cells of a block by the noise of each of its zones; as `doubtful_cells`."""
    cells, medians = [np.empty((0, 2), np.int64)], [np.empty(0, np.float32)]
    for rows, columns, sigma_m in zones:
        top, left = max(rows.start - REACH, 0), max(columns.start - REACH, 0)
        part = depth[top : rows.stop + REACH, left : columns.stop + REACH]
        inside, middle = doubtful_cells(np.ascontiguousarray(part), sigma_m)
        cells.append(inside + np.array([top, left]))
        medians.append(middle)
    return np.concatenate(cells), np.concatenate(medians)


def doubtful_cells(depth: Depths, sigma_m: float) -> tuple[Ints, Depths]:
    """Find cells off the median of 5 x 5 cells, and off the plane of the outer ones of these.

    By the greater of 0.5 m and six deviations `sigma_m` of the noise.  Cells closer than `REACH` to
    the border are not judged.  On steep broken ground this may take rock for a doubtful sounding.
    Returned: row and column, shape (n, 2); the median there, metres.
    """
    limit = max(LEAST_M, DEVIATIONS * sigma_m)
    count, cells, medians = _sought(depth, limit, 1024)
    if count > len(cells):
        count, cells, medians = _sought(depth, limit, count)
    return cells[:count], medians[:count]


@compiled
def _sought(depth: Depths, limit: float, room: int) -> tuple[int, Ints, Depths]:
    rows, columns = depth.shape
    cells, medians = np.empty((room, 2), np.int64), np.empty(room, np.float32)
    peaked = np.empty(columns, np.bool_)
    third, half = np.float32(limit / 3), np.float32(0.5)
    count = 0
    for row in range(REACH, rows - REACH):
        north, here, south = depth[row - 1], depth[row], depth[row + 1]
        some = False
        for c in range(REACH, columns - REACH):  # most cells end here; those beside voids go on
            down = here[c] - half * (north[c] + south[c])
            across = here[c] - half * (here[c - 1] + here[c + 1])
            flat = (abs(down) < third) | (abs(across) < third) | (down * across < 0)
            peaked[c] = not flat
            some |= not flat
        if some:
            for c in range(REACH, columns - REACH):
                if peaked[c]:
                    count = _count_lone(depth, row, c, limit, cells, medians, count)
    return count, cells, medians


@compiled
def _count_lone(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: Depths,
    row: int,
    column: int,
    limit: float,
    cells: Ints,
    medians: Depths,
    count: int,
) -> int:
    """Keep a cell if it is doubtful; gives how many are kept, or would be with more room."""
    own = depth[row, column]
    if math.isnan(own):
        return count
    about = np.empty(25, np.float32)
    known = ring = 0
    total = down = across = downs = acrosses = 0.0
    for r in range(row - 2, row + 3):
        for c in range(column - 2, column + 3):
            value = depth[r, c]
            if math.isnan(value):
                continue
            about[known] = value
            known += 1
            dr, dc = r - row, c - column
            if max(abs(dr), abs(dc)) == 2:
                ring += 1
                total += value
                down += dr * value
                across += dc * value
                downs += dr * dr
                acrosses += dc * dc
    if ring < _FEWEST:
        return count
    middle = np.sort(about[:known])[known // 2]
    off, off_plane = own - middle, own - total / ring
    if abs(off) < limit or abs(off_plane) < limit or off * off_plane < 0:
        return count
    whole = ring == 16
    falls = down / downs if whole else 0.0
    runs = across / acrosses if whole else 0.0
    shares = greatest = 0.0
    beside = 0
    for r in range(row - 1, row + 2):
        for c in range(column - 1, column + 2):
            if (r == row and c == column) or math.isnan(depth[r, c]):
                continue
            share = (depth[r, c] - middle - falls * (r - row) - runs * (c - column)) / off
            shares += share
            greatest = max(greatest, share)
            beside += 1
    if beside > 1 and (shares - greatest) / (beside - 1) >= _SHARED:
        return count
    if count < len(cells):
        cells[count, 0], cells[count, 1], medians[count] = row, column, middle
    return count + 1
