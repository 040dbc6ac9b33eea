"""Basins of steepest ascent, one a peak, and the passes between them.

A cell's way uphill never leaves the ground above it, so basins carry all that a merge tree needs.
"""

from __future__ import annotations

from typing import Final, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from seabed.array_types import Depths, Indices, Mask
from seabed.compiled import compiled, inlined

Outside = Mask
Values = TypeVar("Values", Depths, Indices, Mask)

PINHOLE_CELLS: Final = 16
"""Voids of at most this many cells, away from the border, are overlooked."""

_LOOK_BACK: Final = 8


class Passes(NamedTuple):
    """Passes between basins, m of them.

    level: depth of each.
    high, low: the higher and the lower number of the two basins: 0 is the outside, k + 1 is peak k.
    door: whether the deepest cell of the pass touches the outside.
    """

    level: Depths
    high: Indices
    low: Indices
    door: Outside


def basins(depth: Depths, outside: Outside, walls: Outside) -> tuple[Indices, Indices, Passes]:
    """Gather cells into basins of steepest ascent, and list the passes between them, highest first.

    outside, shape (rows + 2, columns + 2): cells, and those all around, that count as the outside;
    empty if none but `walls` do.
    walls, shape (4,): whether the outside is to the north, south, west and east.
    cell, code: flat index of each peak, rising; of each cell -1 for void, -2 - k in the basin of
        peak k.
    """
    code = np.empty(depth.size, np.int32)
    _uphill(depth, code)
    cell = np.flatnonzero(code == np.arange(depth.size, dtype=np.int32)).astype(np.int32)
    _gather(code, cell)
    level, high, low, door, count = _passes(depth, code, outside, walls, len(cell))
    order = sorted_depths(level[:count])
    return cell, code, Passes(level[order], high[order], low[order], door[order])


def doors_of(
    outside: Outside, walls: Outside, shape: tuple[int, int]
) -> tuple[Outside, Outside, Outside, Outside]:
    """Whether the cells of the first and last row, first and last column touch the outside."""
    rows, columns = shape
    doors = [
        np.array([_is_door(outside, walls, rows, columns, row, c) for c in range(columns)], bool)
        for row in (0, rows - 1)
    ]
    doors += [
        np.array([_is_door(outside, walls, rows, columns, r, column) for r in range(rows)], bool)
        for column in (0, columns - 1)
    ]
    return doors[0], doors[1], doors[2], doors[3]


def outside_of(depth: Depths, rim: tuple[bool, bool, bool, bool] = (True,) * 4) -> Outside:
    """Void cells that count as the outside, with a rim of one cell all around; empty without void.

    rim: whether the outside is to the north, south, west and east.
    """
    void = np.isnan(depth)
    if not void.any():
        return np.empty((0, 0), bool)
    names, count = label(void, structure=np.ones((3, 3), int))
    large = np.bincount(names.ravel(), minlength=count + 1) > PINHOLE_CELLS
    for side in (names[0], names[-1], names[:, 0], names[:, -1]):
        large[side] = True
    large[0] = False
    outside = np.zeros((depth.shape[0] + 2, depth.shape[1] + 2), bool)
    outside[0], outside[-1], outside[:, 0], outside[:, -1] = rim
    outside[1:-1, 1:-1] = large[names]
    return outside


@compiled
def _uphill(depth: Depths, way: Indices) -> None:
    """Flat index of the highest cell of each 3x3 window; -1 for void.

    Ties go to the lowest index: cells before this one are looked at from last to first, and taken
    if equal, then those after it.
    """
    rows, columns = depth.shape
    for row in range(rows):
        inner = 0 < row < rows - 1 and columns > 2
        for column in range(0, columns, columns - 1 if inner else 1):
            way[row * columns + column] = _uphill_at(depth, row, column)
        if inner:
            own = way[row * columns : (row + 1) * columns]
            _uphill_row(depth[row - 1], depth[row], depth[row + 1], own, row * columns)


@compiled
def _uphill_row(north: Depths, here: Depths, south: Depths, way: Indices, first: int) -> None:
    """Take a row's inner cells without branches."""
    columns = np.int32(len(here))
    one = np.int32(1)
    for c in range(len(here) - 2):
        best, to = here[c + 1], np.int32(0)
        best, to = (here[c], -one) if here[c] <= best else (best, to)
        best, to = (north[c + 2], one - columns) if north[c + 2] <= best else (best, to)
        best, to = (north[c + 1], -columns) if north[c + 1] <= best else (best, to)
        best, to = (north[c], -one - columns) if north[c] <= best else (best, to)
        best, to = (here[c + 2], one) if here[c + 2] < best else (best, to)
        best, to = (south[c], columns - one) if south[c] < best else (best, to)
        best, to = (south[c + 1], columns) if south[c + 1] < best else (best, to)
        best, to = (south[c + 2], columns + one) if south[c + 2] < best else (best, to)
        void = here[c + 1] != here[c + 1]
        way[c + 1] = -one if void else np.int32(first + c + 1) + to


@compiled
def _uphill_at(depth: Depths, row: int, column: int) -> int:
    rows, columns = depth.shape
    best, to = depth[row, column], int(row * columns + column)
    if np.isnan(best):
        return -1
    for r in range(max(row - 1, 0), min(row + 2, rows)):
        for c in range(max(column - 1, 0), min(column + 2, columns)):
            n = r * columns + c
            if depth[r, c] < best or (depth[r, c] == best and n < to):
                best, to = depth[r, c], n
    return to


@compiled
def _gather(way: Indices, cell: Indices) -> None:
    """Replace each way by the code of the peak it leads to: -2, -3, ... ; -1 stays void."""
    for peak in range(len(cell)):
        way[cell[peak]] = -2 - peak
    for start in range(len(way)):
        at = way[start]
        if at < 0:
            continue
        while way[at] >= 0:
            at = way[at]
        code = way[at]
        at = start
        while way[at] >= 0:
            onward = way[at]
            way[at] = code
            at = onward


@compiled
def _passes(  # noqa: PLR0912  (one compiled loop)
    depth: Depths, code: Indices, outside: Outside, walls: Outside, peaks: int
) -> tuple[Depths, Indices, Indices, Outside, int]:
    """Highest pass from each basin to each neighbour; basin 0 is the outside, k is peak k - 1.

    Gives depths, the higher and the lower number of the two, whether the deepest cell touches the
    outside, and how many of each are filled.  Passes are chained by the higher of their two numbers
    and looked up there before a new one is made.  A long chain is not looked through to its end: a
    pass may come twice, which is harmless.
    """
    rows, columns = depth.shape
    room = 4 * peaks + 1024
    level, low, onward = (
        np.empty(room, np.float32),
        np.empty(room, np.int32),
        np.empty(room, np.int32),
    )
    high, door = np.empty(room, np.int32), np.empty(room, np.bool_)
    first = np.full(peaks + 1, -1, np.int32)
    count = 0
    for row in range(rows):
        for column in range(columns):
            own = -1 - code[row * columns + column]
            if own == 0:
                continue
            here = depth[row, column]
            for k in range(5):
                if k == 4:
                    if not _is_door(outside, walls, rows, columns, row, column):
                        continue
                    other, at, open_there = 0, here, True
                else:
                    r, c = row + (k > 0), column + (1 if k == 0 else k - 2)
                    if r == rows or c < 0 or c == columns:
                        continue
                    other = -1 - code[r * columns + c]
                    if other in (own, 0):
                        continue
                    at = max(here, depth[r, c])
                    open_there = (
                        here == at and _is_door(outside, walls, rows, columns, row, column)
                    ) or (depth[r, c] == at and _is_door(outside, walls, rows, columns, r, c))
                upper, lower = max(own, other), min(own, other)
                link, steps = first[upper], 0
                while link >= 0 and low[link] != lower and steps < _LOOK_BACK:
                    link, steps = onward[link], steps + 1
                if link >= 0 and low[link] == lower:
                    if at < level[link]:
                        level[link], door[link] = at, open_there
                    elif at == level[link]:
                        door[link] |= open_there
                    continue
                if count == room:
                    room *= 2
                    level, low = _longer(level), _longer(low)
                    high, onward, door = _longer(high), _longer(onward), _longer(door)
                level[count], low[count], high[count], door[count] = at, lower, upper, open_there
                onward[count] = first[upper]
                first[upper] = count
                count += 1
    return level, high, low, door, count


@compiled
def _longer(values: Values) -> Values:
    longer = np.empty(2 * len(values), values.dtype)
    for i in range(len(values)):  # a slice would take two seconds to compile
        longer[i] = values[i]
    return longer


@inlined
def _is_door(  # noqa: PLR0917  (compiled functions take no keywords)
    outside: Outside, walls: Outside, rows: int, columns: int, row: int, column: int
) -> bool:
    """Say whether a cell touches the outside."""
    if (row == 0 and walls[0]) or (row == rows - 1 and walls[1]):
        return True
    if (column == 0 and walls[2]) or (column == columns - 1 and walls[3]):
        return True
    if outside.size:
        for r in range(row, row + 3):
            for c in range(column, column + 3):
                if outside[r, c]:
                    return True
    return False


def sorted_depths(level: Depths) -> Indices:
    """Order of float32 depths, least first; equal ones stay in their order."""
    return _sorted(np.ascontiguousarray(level).view(np.uint32))


@compiled
def _sorted(bits: NDArray[np.uint32]) -> Indices:
    """Order float32 numbers, given as their bits: radix sort, least significant digits first."""
    count = len(bits)
    keys, spare_keys = np.empty(count, np.uint32), np.empty(count, np.uint32)
    order, spare = np.empty(count, np.int32), np.empty(count, np.int32)
    sign = np.uint32(0x80000000)
    for i in range(count):
        keys[i] = ~bits[i] if bits[i] & sign else bits[i] | sign
        order[i] = i
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
