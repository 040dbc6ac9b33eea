"""Pieces of lines that end on chunk borders, put together end to start."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.compiled import compiled
from seabed.structure.marching import Lines
from seabed.structure.runs import ranges

__all__ = ["lines_of", "linked", "linked_pieces", "named", "picked", "settled", "stacked"]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_ROUNDING: Final = 1e-9
"""Cells; coordinates closer to a border than this lie on it."""

_NEAR: Final = 1e-3
"""Cells; a crossing worked out anew that is further off is another one."""


def settled(points: Floats, values: NDArray[Any], levels: tuple[float, ...]) -> Floats:
    """Give points on the border of a block the places its neighbour gives them, to the last bit.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Columns and rows traced on `values`, counted in the block.
    values : ndarray, shape (rows, columns)
        Whose outermost rows and columns the neighbours have too.
    levels : tuple of float
        The values that were traced.

    Returns
    -------
    ndarray, shape (n, 2)
        Points on the border come from the two values beside them alone; others are as they were.
    """
    points = points.copy()
    rows, columns = values.shape
    for axis, last in ((1, rows - 1), (0, columns - 1)):
        along = 1 - axis
        for line in (0, last):
            on = np.flatnonzero(np.abs(points[:, axis] - line) < _ROUNDING)
            if not len(on):
                continue
            border = np.asarray(values[line] if axis == 1 else values[:, line], float)
            points[on, axis] = line
            points[on, along] = _crossings(points[on, along], border, levels)
    return points


def _crossings(at: Floats, border: Floats, levels: tuple[float, ...]) -> Floats:
    whole = np.rint(at)
    exact = np.abs(at - whole) < _ROUNDING
    before = np.clip(np.floor(at).astype(int), 0, len(border) - 2)
    one, other = border[before], border[before + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        places = np.array([before + (level - one) / (other - one) for level in levels])
    away = np.abs(places - at)
    away[np.isnan(away)] = np.inf
    nearest = np.take_along_axis(places, away.argmin(axis=0)[None], axis=0)[0]
    close = np.abs(nearest - at) < _NEAR
    return np.where(exact, whole, np.where(close, nearest, at))


def linked(ends: NDArray[Any], starts: NDArray[Any]) -> Indices:
    """Say which piece follows each.

    Parameters
    ----------
    ends, starts : ndarray, shape (n, k)
        What the end and the start of each piece are known by; NaN for those that stay free.

    Returns
    -------
    ndarray of int64, shape (n,)
        The piece that starts where this one ends; -1 for none.  Each follows one at most.
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


def _numbered(group: Indices) -> Indices:
    """Tell equal numbers, which stand together, apart by their order."""
    first = np.concatenate([[True], group[1:] != group[:-1]])
    place = np.arange(len(group)) - np.maximum.accumulate(np.where(first, np.arange(len(group)), 0))
    return np.asarray(group * (int(place.max()) + 1) + place, np.int64)


@compiled
def _chained(onward: Indices, order: Indices, starts: Indices) -> int:
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


def linked_pieces(lines: Lines, onward: Indices) -> tuple[Lines, Indices]:
    """Join pieces to lines.

    Parameters
    ----------
    lines : Lines
    onward : ndarray of int64
        As `linked` gives it.

    Returns
    -------
    Lines
        Where one piece follows another, the point they share comes once; a line whose last piece
        leads to its first is closed with its first point.
    ndarray of int64, shape (points,)
        Which of the given points each is.
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
    # the shared last point of a ring is there already; it must equal the first bit for bit
    taken[ends[closes] - 1] = taken[(ends - line_sizes)[closes]]
    return (points[taken], np.concatenate([[0], ends])), taken


def picked(lines: Lines, wanted: NDArray[np.bool_] | NDArray[np.intp]) -> Lines:
    """Keep some of the lines, by a mask or in the order of their numbers."""
    points, offsets = lines
    sizes, begin = np.diff(offsets)[wanted], offsets[:-1][wanted]
    return points[ranges(begin, sizes)], np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)


def stacked(parts: list[Lines]) -> Lines:
    """Put lists of lines one behind the other."""
    points = [np.empty((0, 2)), *(part[0] for part in parts)]
    sizes = [np.zeros(1, np.int64), *(np.diff(part[1]) for part in parts)]
    return np.concatenate(points), np.cumsum(np.concatenate(sizes)).astype(np.int64)


def named(name: str, lines: Lines) -> dict[str, NDArray[Any]]:
    """Lines as two arrays with names, to be stored."""
    return {f"{name}_points": lines[0], f"{name}_offsets": lines[1]}


def lines_of(name: str, arrays: Mapping[str, NDArray[Any]]) -> Lines:
    """Lines out of stored arrays, as `named` puts them in."""
    return arrays[f"{name}_points"], arrays[f"{name}_offsets"]
