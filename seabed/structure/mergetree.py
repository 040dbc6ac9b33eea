"""The merge tree of highs: where each peak's closed contours meet those of a higher one.

Cells are first gathered into basins of steepest ascent, one a peak (a cell's way uphill never leaves
the ground above it, so basins carry the whole tree).  Only cells where basins meet, or where the
ground is open to the outside, are then sorted by depth (radix sort) and joined with a union-find:
O(n) to gather, O(m log m) to join m such cells.  Prominence as in Edelsbrunner, Letscher & Zomorodian
(2002, Discrete Comput. Geom. 28, 511-533), where it is called persistence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from seabed.terrain.compiled import compiled, inlined

__all__ = ["PINHOLE_CELLS", "Peaks", "flood", "merge_tree"]

Depths = NDArray[np.float32]
Indices = NDArray[np.int32]

PINHOLE_CELLS: Final = 16
"""Voids of at most so many cells, away from the border, are overlooked: neither high nor outside."""


@dataclass(frozen=True, slots=True)
class Peaks:
    """Local highs of a grid, n of them.

    Attributes
    ----------
    cell : ndarray of int32, shape (n,)
        Flat index of the highest cell.
    crest, saddle : ndarray of float32, shape (n,)
        Depth there, and depth at which its ground joins that of a higher peak or the outside;
        infinite if it never does.
    absorber : ndarray of int32, shape (n,)
        The higher peak it then joins, as a row of these arrays; -1 for the outside.
    """

    cell: Indices
    crest: Depths
    saddle: Depths
    absorber: Indices


def merge_tree(depth: Depths) -> Peaks:
    """Find every local high of a grid and its key saddle.

    Parameters
    ----------
    depth : ndarray of float32, shape (rows, columns), in row order
        Metres down, so that highs are the least values; NaN for void.  Eight neighbours touch.

    Returns
    -------
    Peaks
        Equal depths are told apart by their place, so that a level top is one peak.  What lies
        beyond the grid's border or in a void of more than `PINHOLE_CELLS` cells is taken as higher
        than all: ground that reaches it is open from that depth down.
    """
    outside = _outside(depth)
    way, count = _uphill(depth)
    cell = np.empty(count, np.int32)
    _gather(way, cell)
    meeting = _meetings(depth, way, outside)
    order = _radix_order(depth.ravel(), meeting)
    saddle = np.full(count + 1, np.inf, np.float32)
    absorber = np.full(count + 1, -1, np.int32)
    _join(depth, way, outside, order, cell, saddle, absorber)
    return Peaks(cell, depth.ravel()[cell], saddle[1:], absorber[1:] - 1)


@compiled
def flood(
    depth: Depths, seed: int, level: float, mark: Indices, stamp: int, stack: Indices
) -> tuple[int, int, int, int, int]:
    """Mark the ground above `level` that hangs together with a cell.

    Parameters
    ----------
    depth : shape (rows, columns)
    seed : flat index of the cell to start from
    level : only cells with less depth count
    mark : flat, one a cell; set to `stamp` where reached
    stack : scratch, one a cell

    Returns
    -------
    (cells, first row, last row, first column, last column)
    """
    rows, columns = depth.shape
    top, bottom, left, right = rows, 0, columns, 0
    mark[seed] = stamp
    stack[0] = seed
    size, count = 1, 0
    while size:
        size -= 1
        at = stack[size]
        count += 1
        row, column = at // columns, at % columns
        top, bottom = min(top, row), max(bottom, row)
        left, right = min(left, column), max(right, column)
        for r in range(max(row - 1, 0), min(row + 2, rows)):
            for c in range(max(column - 1, 0), min(column + 2, columns)):
                n = r * columns + c
                if mark[n] != stamp and depth[r, c] < level:
                    mark[n] = stamp
                    stack[size] = n
                    size += 1
    return count, top, bottom, left, right


def _outside(depth: Depths) -> NDArray[np.bool_]:
    """Void cells that count as the outside; an empty array if there are none."""
    void = np.isnan(depth)
    if not void.any():
        return np.empty((0, 0), bool)
    names, count = label(void, structure=np.ones((3, 3), int))
    large = np.bincount(names.ravel(), minlength=count + 1) > PINHOLE_CELLS
    for side in (names[0], names[-1], names[:, 0], names[:, -1]):
        large[side] = True
    large[0] = False
    return np.asarray(large[names], bool)


@compiled
def _uphill(depth: Depths) -> tuple[Indices, int]:
    """Flat index of the highest cell of each 3x3 window (-1 for void), and how many are their own."""
    rows, columns = depth.shape
    way = np.empty(rows * columns, np.int32)
    count = 0
    for row in range(rows):
        for column in range(columns):
            at = row * columns + column
            best = depth[row, column]
            if np.isnan(best):
                way[at] = -1
                continue
            to = at
            # ties go to the lowest index: cells before this one from last to first, then those after
            if column > 0 and depth[row, column - 1] <= best:
                best, to = depth[row, column - 1], at - 1
            if row > 0:
                for c in range(min(column + 1, columns - 1), max(column - 1, 0) - 1, -1):
                    if depth[row - 1, c] <= best:
                        best, to = depth[row - 1, c], (row - 1) * columns + c
            if column + 1 < columns and depth[row, column + 1] < best:
                best, to = depth[row, column + 1], at + 1
            if row + 1 < rows:
                for c in range(max(column - 1, 0), min(column + 2, columns)):
                    if depth[row + 1, c] < best:
                        best, to = depth[row + 1, c], (row + 1) * columns + c
            way[at] = to
            count += to == at
    return way, count


@compiled
def _gather(way: Indices, cell: Indices) -> None:
    """Replace each way by the code of the peak it leads to: -2, -3, ... ; -1 stays void."""
    count = 0
    for at in range(len(way)):
        if way[at] == at:
            cell[count] = at
            way[at] = -2 - count
            count += 1
    for start in range(len(way)):
        at = start
        while way[at] >= 0:
            at = way[at]
        code = way[at]
        at = start
        while way[at] >= 0:
            onward = way[at]
            way[at] = code
            at = onward


@inlined
def _is_door(outside: NDArray[np.bool_], rows: int, columns: int, row: int, column: int) -> bool:
    """Say whether a cell touches the border or an outside void."""
    if row == 0 or column == 0 or row == rows - 1 or column == columns - 1:
        return True
    if outside.size:
        for r in range(row - 1, row + 2):
            for c in range(column - 1, column + 2):
                if outside[r, c]:
                    return True
    return False


@compiled
def _meetings(depth: Depths, code: Indices, outside: NDArray[np.bool_]) -> Indices:
    """Cells where ground of another peak, or the outside, is reached on the way down."""
    rows, columns = depth.shape
    found = np.empty(rows * columns, np.int32)
    count = 0
    for row in range(rows):
        for column in range(columns):
            at = row * columns + column
            own = code[at]
            if own == -1:
                continue
            meets = _is_door(outside, rows, columns, row, column)
            if not meets:
                here = depth[row, column]
                for r in range(row - 1, row + 2):
                    for c in range(column - 1, column + 2):
                        other = code[r * columns + c]
                        if other != own and other != -1 and depth[r, c] <= here:
                            meets = True
            if meets:
                found[count] = at
                count += 1
    return found[:count].copy()


@compiled
def _radix_order(depth: Depths, cells: Indices) -> Indices:
    """Sort cells by depth, shallowest first; equal depths stay in order."""
    count = len(cells)
    keys = np.empty(count, np.uint32)
    bits = depth[cells].view(np.uint32)
    for i in range(count):
        word = bits[i]
        negative = word >> np.uint32(31)
        keys[i] = ~word if negative else word | np.uint32(0x80000000)
    order, spare, spare_keys = cells.copy(), np.empty_like(cells), np.empty_like(keys)
    for shift in (np.uint32(0), np.uint32(11), np.uint32(22)):
        start = np.zeros(2049, np.int64)
        for i in range(count):
            start[((keys[i] >> shift) & np.uint32(2047)) + 1] += 1
        for digit in range(2048):
            start[digit + 1] += start[digit]
        for i in range(count):
            digit = (keys[i] >> shift) & np.uint32(2047)
            to = start[digit]
            spare[to], spare_keys[to] = order[i], keys[i]
            start[digit] = to + 1
        order, spare = spare, order
        keys, spare_keys = spare_keys, keys
    return order


@inlined
def _root(up: Indices, peak: int) -> int:
    while up[peak] != peak:
        up[peak] = up[up[peak]]
        peak = up[peak]
    return peak


@compiled
def _join(
    depth: Depths,
    code: Indices,
    outside: NDArray[np.bool_],
    order: Indices,
    cell: Indices,
    saddle: Depths,
    absorber: Indices,
) -> None:
    """Union-find from the shallowest meeting down; peak 0 is the outside, peak k is cell[k - 1]."""
    rows, columns = depth.shape
    flat = depth.ravel()
    up = np.arange(len(saddle)).astype(np.int32)
    for at in order:
        row, column = at // columns, at % columns
        here = depth[row, column]
        own = _root(up, -1 - code[at])
        for r in range(max(row - 1, 0), min(row + 2, rows)):
            for c in range(max(column - 1, 0), min(column + 2, columns)):
                n = r * columns + c
                if code[n] == -1 or code[n] == code[at]:
                    continue
                if depth[r, c] > here or (depth[r, c] == here and n > at):
                    continue
                own = _link(up, own, _root(up, -1 - code[n]), here, flat, cell, saddle, absorber)
        if own != 0 and _is_door(outside, rows, columns, row, column):
            _link(up, own, 0, here, flat, cell, saddle, absorber)


@inlined
def _link(
    up: Indices,
    one: int,
    other: int,
    level: float,
    flat: Depths,
    cell: Indices,
    saddle: Depths,
    absorber: Indices,
) -> int:
    """Let the lower of two peaks end at `level`; give the higher."""
    if one == other:
        return one
    higher, lower = one, other
    if one != 0:
        a, b = flat[cell[one - 1]], np.float32(-np.inf)
        if other != 0:
            b = flat[cell[other - 1]]
        if other == 0 or b < a or (b == a and other < one):
            higher, lower = other, one
    up[lower] = higher
    saddle[lower] = level
    absorber[lower] = higher
    return higher
