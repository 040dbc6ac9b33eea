"""The merge trees of chunks joined over their borders."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Ints, Mask
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.tree.basins import Passes
from seabed.structure.tree.mergetree import Peaks, joined
from seabed.structure.tree.sorting import sorted_depths

SIDES = ("north", "south", "west", "east")


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
