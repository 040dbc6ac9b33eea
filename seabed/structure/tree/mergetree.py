"""The merge tree of highs: where each peak's closed contours meet those of a higher one.

Cells are first gathered into basins of steepest ascent, one a peak: a cell's way uphill never
leaves the ground above it, so basins carry the whole tree.  Then the pass from each basin to each
neighbour is taken, and passes are joined from the highest down (radix sort, union-find).  That is
O(n) in cells and O(m log m) in passes.  Prominence is the persistence of Edelsbrunner, Letscher &
Zomorodian (2002, Discrete Comput. Geom. 28, 511-533).

The trees of chunks are cut down to what a neighbour may change, and joined over the borders.
A high whose ground meets that of a higher one before it comes to the chunk's border has its saddle
for good, wherever else the grid goes on.  The others stay, with the passes between them: a tree
that is small beside the chunk, and gives what the whole grid would (the local-global
representation of Morozov & Weber 2013, Proc. PPoPP, 93-102).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Depths, Indices, Ints, Mask
from seabed.compiled import compiled, inlined
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.tree.basins import Outside, Passes, basins, sorted_depths

SIDES = ("north", "south", "west", "east")


@dataclass(frozen=True, slots=True)
class Peaks:
    """Local highs of a grid, n of them.

    cell: flat index of the highest cell, rising.
    crest, saddle: depth there, and depth at which its ground joins that of a higher peak or the
        outside; infinite if it never does.
    absorber: the higher peak it then joins, as a row of these arrays; -1 for the outside.
    open: whether the cell of the saddle touches the outside.
    """

    cell: NDArray[Any]
    crest: Depths
    saddle: Depths
    absorber: Indices
    open: Mask


def joined(cell: NDArray[Any], crests: Depths, passes: Passes) -> Peaks:
    """Join basins, of which cell and depth of the highest are given, at their passes."""
    crest, saddle, absorber, opened, *_ = settled_at(passes, crests, np.zeros(len(cell) + 1, bool))
    return Peaks(cell, crest[1:], saddle[1:], absorber[1:] - np.int32(1), opened[1:])


def settled_at(passes: Passes, crests: Depths, touches: Mask) -> tuple[Any, ...]:
    """Join basins at their passes; put off those of ground that `touches` another chunk.

    Returned: crest, saddle, absorber and open of each, as `Peaks` with the outside first; which are
        settled; which passes are kept for later, and the two grounds that each is between.
    """
    crest = np.concatenate([np.array([-np.inf], np.float32), crests])
    saddle = np.full(len(crest), np.inf, np.float32)
    absorber = np.zeros(len(crest), np.int32)
    opened, settled = np.zeros((2, len(crest)), np.bool_)
    keeps = np.zeros(len(passes.level), np.bool_)
    between = np.empty((len(keeps), 2), np.int32)
    _settle(*passes, crest, touches, saddle, absorber, opened, settled, keeps, between)
    return crest, saddle, absorber, opened, settled, keeps, between


@compiled
def _settle(  # noqa: PLR0917  (compiled functions take no keywords)
    level: Depths,
    high: Indices,
    low: Indices,
    door: Mask,
    crest: Depths,
    touches: Mask,
    saddle: Depths,
    absorber: Indices,
    opened: Mask,
    settled: Mask,
    keeps: Mask,
    between: Indices,
) -> None:
    """Union-find over the passes: the lower of two peaks ends where their ground meets."""
    up = np.arange(len(crest)).astype(np.int32)
    for i in range(len(level)):
        one, other = _root(up, high[i]), _root(up, low[i])
        if one == other:
            continue
        lower, higher = max(one, other), min(one, other)  # of equal crests the first is the higher
        if crest[lower] < crest[higher]:
            lower, higher = higher, lower
        up[lower] = higher
        if touches[lower]:
            keeps[i] = True
            between[i, 0], between[i, 1] = lower, higher
            touches[higher] = True
            continue
        settled[lower], saddle[lower], absorber[lower] = True, level[i], higher
        opened[lower] = door[i]


@inlined
def _root(up: Indices, peak: int) -> int:
    while up[peak] != peak:
        up[peak] = up[up[peak]]
        peak = up[peak]
    return peak


def joined_trees(
    results: Results, first: Ints, whole: Whole
) -> tuple[Peaks, NDArray[np.float32], Mask, Ints]:
    """Peaks of all chunks by cell; what crests lost; which are settled; rows of given ones."""
    every = {
        name: np.concatenate([result[name] for result in results])
        for name in ("cell", "crest", "saddle", "open", "settled", "lost")
    }
    absorber = np.concatenate(
        [_shifted(result["absorber"], start) for result, start in zip(results, first, strict=False)]
    )
    order = np.argsort(every["cell"], kind="stable")
    row_of = np.empty(len(order), np.int64)
    row_of[order] = np.arange(len(order))
    absorber = np.where(absorber >= 0, row_of[absorber], -1)[order]
    every = {name: values[order] for name, values in every.items()}
    free = np.flatnonzero(~every["settled"])
    name_of = np.zeros(len(order) + 1, np.int32)  # 0, the last, is the outside
    name_of[free] = np.arange(1, len(free) + 1)
    level, one, other, door = _all_passes(results, first, whole)
    high, low = (name_of[np.where(at >= 0, row_of[at], len(order))] for at in (one, other))
    by_depth = sorted_depths(level)
    tree = joined(
        every["cell"][free],
        every["crest"][free],
        Passes(level[by_depth], high[by_depth], low[by_depth], door[by_depth]),
    )
    every["saddle"][free], every["open"][free] = tree.saddle, tree.open
    absorber[free] = np.where(tree.absorber >= 0, free[tree.absorber], -1)
    peaks = Peaks(
        every["cell"], every["crest"], every["saddle"], absorber.astype(np.int32), every["open"]
    )
    return peaks, every["lost"], every["settled"], row_of


def _shifted(rows: NDArray[Any], start: int) -> Ints:
    return np.where(rows >= 0, rows.astype(np.int64) + start, -1)


def _all_passes(
    results: Results, first: Ints, whole: Whole
) -> tuple[NDArray[np.float32], Ints, Ints, Mask]:
    """List passes within chunks and over their borders, between rows of all given highs."""
    level, high, low, door = [], [], [], []
    for result, start in zip(results, first, strict=False):
        level.append(result["level"])
        high.append(_shifted(result["high"], start))
        low.append(_shifted(result["low"], start))
        door.append(result["door"])
    for one, other, shift in _neighbours(whole):
        depths, names, doors = [], [], []
        for number, side, part in (one, other):
            depths.append(results[number][f"edge_{side}"][part])
            names.append(_shifted(results[number][f"rim_{side}"], first[number])[part])
            doors.append(results[number][f"door_{side}"][part])
        a, b = _offset(len(depths[0]), shift), _offset(len(depths[1]), -shift)
        known = (names[0][a] >= 0) & (names[1][b] >= 0)
        at = np.maximum(depths[0][a], depths[1][b])
        opens = (doors[0][a] & (depths[0][a] == at)) | (doors[1][b] & (depths[1][b] == at))
        level.append(at[known])
        high.append(names[0][a][known])
        low.append(names[1][b][known])
        door.append(opens[known])
    return (
        np.concatenate(level).astype(np.float32),
        np.concatenate(high),
        np.concatenate(low),
        np.concatenate(door),
    )


def _offset(count: int, shift: int) -> slice:
    """Cells that have a partner `shift` further on."""
    return slice(max(-shift, 0), count - max(shift, 0))


def _neighbours(whole: Whole) -> Any:
    """Pairs of border cells of two chunks that touch: (chunk, side, cells), the same, and shift."""
    across, count = whole.across, len(whole.chunks)
    side, head, tail = slice(None), slice(0, 1), slice(-1, None)
    for number in range(count):
        east = number % across < across - 1
        if east:
            for shift in (-1, 0, 1):
                yield (number, "east", side), (number + 1, "west", side), shift
        if number + across >= count:
            continue
        for shift in (-1, 0, 1):
            yield (number, "south", side), (number + across, "north", side), shift
        if east:
            yield (number, "south", tail), (number + across + 1, "north", head), 0
        if number % across:
            yield (number, "south", head), (number + across - 1, "north", tail), 0


@dataclass(frozen=True, slots=True)
class Reduced:
    """Highs of a chunk, n of them, and m passes.

    cell, crest, saddle, absorber, open: as `Peaks`, counted in the chunk; the saddle is infinite
        where it is not `settled`.
    level, high, low, door: of each pass, as `seabed.structure.tree.basins.Passes`, by rows of the
        highs.
    rim: row of the high whose basin the cells of the northern, southern, western and eastern border
        are in; -1 for void.
    """

    cell: Indices
    crest: Depths
    saddle: Depths
    absorber: Indices
    open: Mask
    settled: Mask
    level: Depths
    high: Indices
    low: Indices
    door: Mask
    rim: tuple[Indices, Indices, Indices, Indices]


def reduced(depth: Depths, outside: Outside, walls: Outside, *, least_height: float) -> Reduced:
    """Reduce the merge tree of a chunk's own cells, whose highs are the least values.

    outside, walls: as `seabed.structure.tree.basins.basins` takes them; a side without a wall has a
        neighbour.
    least_height: lower highs are left out once that is settled.
    """
    cell, code, passes = basins(depth, outside, walls)
    rim = rim_of(np.maximum(-1 - code, 0).reshape(depth.shape))
    touches = np.zeros(len(cell) + 1, bool)
    for side, wall in zip(rim, walls, strict=True):
        if not wall:
            touches[side] = True
    touches[0] = False
    crest, saddle, absorber, opened, settled, keeps, between = settled_at(
        passes, depth.ravel()[cell], touches
    )
    height = saddle.astype(float) - crest
    wanted = ~settled | (height >= least_height)
    wanted[0] = False
    row = np.full(len(crest), -1, np.int32)
    row[wanted] = np.arange(int(wanted.sum()), dtype=np.int32)
    own = wanted[1:]
    return Reduced(
        cell[own],
        crest[wanted],
        saddle[wanted],
        row[absorber[wanted]],
        opened[wanted],
        settled[wanted],
        passes.level[keeps],
        row[between[keeps, 0]],
        row[between[keeps, 1]],
        passes.door[keeps],
        tuple(row[side] for side in rim),
    )


def rim_of(values: NDArray[Any]) -> tuple[NDArray[Any], ...]:
    """Give the first and last row, the first and last column."""
    return values[0], values[-1], values[:, 0], values[:, -1]
