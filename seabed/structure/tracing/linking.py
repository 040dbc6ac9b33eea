"""Pieces of lines that end on chunk borders, put together end to start."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.structure.tracing.marching import Lines
from seabed.structure.tracing.runs import ranges

_ROUNDING: Final = 1e-9
"""Cells; coordinates closer to a border than this are on it."""

_NEAR: Final = 1e-3
"""Cells; a crossing computed again that is further off is another one."""


def settled(
    points: Floats, values: NDArray[Any], levels: tuple[float, ...], corner: tuple[int, int]
) -> Floats:
    """Give traced points places that hang on the two values beside them alone, to the last bit.

    So they are the same in every block that holds them, and on the whole.

    points, shape (n, 2): columns and rows traced on `values` at `levels`, counted in the block.
    corner: (column, row) of the first of `values` in the grid, in whose columns and rows they come
        back.
    """
    out = np.empty(points.shape)
    _settle(points, np.asarray(values), np.array(levels, float), *corner, out)
    return out


@compiled
def _settle(  # noqa: PLR0917  (compiled functions take no keywords)
    points: Floats,
    values: NDArray[Any],
    levels: Floats,
    left: int,
    top: int,
    out: Floats,
) -> None:
    rows, columns = values.shape
    for k in range(len(points)):
        x, y = points[k, 0], points[k, 1]
        column, row = round(x), round(y)
        level_x, level_y = abs(x - column) < _ROUNDING, abs(y - row) < _ROUNDING
        out[k, 0], out[k, 1] = left + x, top + y
        if level_x and level_y:
            out[k, 0], out[k, 1] = left + column, top + row
            continue
        c = column if level_x else min(int(x), columns - 2)
        r = row if level_y else min(int(y), rows - 2)
        # the next value along the line: to the right, below, or across a corner that is cut
        rising = not level_x and not level_y and abs((x - c) - (y - r)) > _NEAR
        one = values[r + 1, c] if rising else values[r, c]
        down = 0 if level_y else (-1 if rising else 1)
        other = values[(r + 1 if rising else r) + down, c + (0 if level_x else 1)]
        along = y - r if level_x else x - c
        nearest = along
        for level in levels:
            if one != other:
                part = (level - one) / (other - one)
                if abs(part - along) < _NEAR and (
                    nearest == along or abs(part - along) < abs(nearest - along)
                ):
                    nearest = part
        out[k, 0] = left + column if level_x else left + c + nearest
        if level_y:
            out[k, 1] = top + row
        else:
            out[k, 1] = top + r + (1 - nearest if rising else nearest)


def linked(ends: NDArray[Any], starts: NDArray[Any]) -> Ints:
    """Say which piece starts where each ends, shape (n,); -1 for none.  Each follows one at most.

    ends, starts, shape (n, k): what the end and the start of each piece are known by; NaN for those
        that stay free.
    """
    onward = np.full(len(ends), -1, np.int64)
    from_end = np.flatnonzero(~np.isnan(ends).any(axis=1))
    from_start = np.flatnonzero(~np.isnan(starts).any(axis=1))
    if not len(from_end) or not len(from_start):
        return onward
    both = np.concatenate([ends[from_end], starts[from_start]])
    _, group = np.unique(both, axis=0, return_inverse=True)
    group = group.ravel()
    end_group, start_group = group[: len(from_end)], group[len(from_end) :]
    end_order = np.argsort(end_group, kind="stable")
    start_order = np.argsort(start_group, kind="stable")
    end_key = _numbered(end_group[end_order])
    start_key = _numbered(start_group[start_order])
    _, in_ends, in_starts = np.intersect1d(
        end_key, start_key, assume_unique=True, return_indices=True
    )
    onward[from_end[end_order[in_ends]]] = from_start[start_order[in_starts]]
    return onward


def _numbered(group: Ints) -> Ints:
    """Tell equal neighbouring numbers apart by their order."""
    first = np.concatenate([[True], group[1:] != group[:-1]])
    place = np.arange(len(group)) - np.maximum.accumulate(np.where(first, np.arange(len(group)), 0))
    return np.asarray(group * (int(place.max()) + 1) + place, np.int64)


@compiled
def _chained(onward: Ints, order: Ints, starts: Ints) -> int:
    """List pieces in the order of their chains; gives how many chains there are."""
    count = len(onward)
    followed = np.zeros(count, np.bool_)
    for piece in range(count):
        if onward[piece] >= 0:
            followed[onward[piece]] = True
    done = np.zeros(count, np.bool_)
    used, chains = 0, 0
    for rings in range(2):  # chains with a start first, then rings
        for piece in range(count):
            if done[piece] or (rings == 0 and followed[piece]):
                continue
            starts[chains] = used
            chains += 1
            at = piece
            while at >= 0 and not done[at]:
                done[at] = True
                order[used] = at
                used += 1
                at = onward[at]
    return chains


def linked_pieces(lines: Lines, onward: Ints) -> tuple[Lines, Ints]:
    """Join pieces to lines, by the piece `onward` of each as `linked` gives it.

    Where one piece follows another, the point they share comes once; a line whose last piece leads
    to its first is closed with its first point.
    Returned: also which of the given points each is.
    """
    points, offsets = lines
    pieces = len(offsets) - 1
    if not pieces:
        return lines, np.arange(0)
    order, starts = np.empty(pieces, np.int64), np.empty(pieces + 1, np.int64)
    chains = _chained(onward, order, starts)
    starts = np.append(starts[:chains], pieces)
    first = np.zeros(pieces, bool)
    first[starts[:-1]] = True
    closes = onward[order[starts[1:] - 1]] == order[starts[:-1]]  # also one that leads to itself
    skip = (~first).astype(np.int64)
    sizes = np.diff(offsets)[order] - skip
    begin = offsets[:-1][order] + skip
    taken = ranges(begin, sizes)
    line_sizes = np.add.reduceat(sizes, starts[:-1])
    ends = np.cumsum(line_sizes)
    # the shared last point of a ring already exists; it must equal the first bit for bit
    taken[ends[closes] - 1] = taken[(ends - line_sizes)[closes]]
    return (points[taken], np.concatenate([[0], ends])), taken


def joined_onward(lines: Lines, starts: Floats, ends: Floats) -> tuple[Lines, Ints]:
    """Join pieces where one ends as another starts; as `linked_pieces`."""
    return linked_pieces(lines, linked(ends, starts))


def joined_either_way(lines: Lines, starts: Floats, ends: Floats) -> tuple[Lines, Ints]:
    """Join pieces without a sense: where an end of one is an end of another, one of them turned.

    The point that two pieces share comes once; a ring is closed with its first point.

    starts, ends, shape (pieces, k): what the ends are known by; NaN for those that stay free.  Two
        ends at most are known alike.
    Returned: also which of the given points each is.
    """
    pieces = len(lines[1]) - 1
    if not pieces:
        return lines, np.arange(0)
    both = np.stack([starts, ends], axis=1).reshape(2 * pieces, -1)
    known = np.flatnonzero(~np.isnan(both).any(axis=1))
    order = known[np.lexsort(both[known].T)]
    same = np.flatnonzero((both[order[1:]] == both[order[:-1]]).all(axis=1))
    partner = np.full(2 * pieces, -1, np.int64)
    partner[order[same]], partner[order[same + 1]] = order[same + 1], order[same]
    taken = np.empty(len(lines[0]) + pieces, np.int64)
    offsets = np.empty(pieces + 1, np.int64)
    count = _either_way(lines[1], partner, taken, offsets)
    offsets = offsets[: count + 1].copy()
    taken = taken[: offsets[-1]]
    return (lines[0][taken], offsets), taken


@compiled
def _either_way(offsets: Ints, partner: Ints, taken: Ints, starts: Ints) -> int:
    """List points along chains of pieces; ``2 k`` is the start of piece k, ``2 k + 1`` its end."""
    pieces = len(offsets) - 1
    done = np.zeros(pieces, np.bool_)
    used, chains = 0, 0
    starts[0] = 0
    for rings in range(2):  # chains with a free end first, then rings
        for first in range(2 * pieces):
            if done[first // 2] or (rings == 0 and partner[first] >= 0):
                continue
            entered, begin = first, used
            while entered >= 0 and not done[entered // 2]:
                piece, turned = entered // 2, entered % 2 == 1
                done[piece] = True
                size = offsets[piece + 1] - offsets[piece]
                for k in range(0 if used == begin else 1, size):
                    at = size - 1 - k if turned else k
                    taken[used] = offsets[piece] + at
                    used += 1
                entered = partner[2 * piece if turned else 2 * piece + 1]
            if rings == 1:
                taken[used - 1] = taken[begin]  # the shared point, bit for bit
            chains += 1
            starts[chains] = used
    return chains


def picked(lines: Lines, wanted: Mask | NDArray[np.intp]) -> Lines:
    """Keep some of the lines, by a mask or in the order of their numbers."""
    points, offsets = lines
    sizes, begin = np.diff(offsets)[wanted], offsets[:-1][wanted]
    return points[ranges(begin, sizes)], np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)


def stacked(parts: list[Lines]) -> Lines:
    """Put lists of lines one behind the other."""
    points = [np.empty((0, 2)), *(part[0] for part in parts)]
    sizes = [np.zeros(1, np.int64), *(np.diff(part[1]) for part in parts)]
    return np.concatenate(points), np.cumsum(np.concatenate(sizes)).astype(np.int64)


def ring_order(lines: Lines) -> NDArray[np.intp]:
    """Order of points in which each ring starts at its northernmost, of those the westernmost."""
    points, offsets = lines
    order = np.arange(len(points))
    first, last = offsets[:-1], offsets[1:] - 1
    rings = np.flatnonzero(last > first)
    rings = rings[(points[first[rings]] == points[last[rings]]).all(axis=1)]
    _turn(points, first[rings], last[rings], order)
    return order


@compiled
def _turn(points: Floats, first: Ints, last: Ints, order: NDArray[np.intp]) -> None:
    for k in range(len(first)):
        a, b = first[k], last[k]
        best = a
        for i in range(a, b):
            y, least = points[i, 1], points[best, 1]
            if y < least or (y == least and points[i, 0] < points[best, 0]):
                best = i
        for i in range(a, b):
            order[i] = a + (best - a + i - a) % (b - a)
        order[b] = order[a]


def named(name: str, lines: Lines) -> dict[str, NDArray[Any]]:
    """Lines as two arrays with names, to be stored."""
    return {f"{name}_points": lines[0], f"{name}_offsets": lines[1]}


def lines_of(name: str, arrays: Mapping[str, NDArray[Any]]) -> Lines:
    """Lines out of stored arrays, as `named` puts them in."""
    return arrays[f"{name}_points"], arrays[f"{name}_offsets"]
