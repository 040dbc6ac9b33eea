"""The merge tree of a chunk, cut down to what its neighbours may still change.

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

from seabed.array_types import Mask
from seabed.structure.tree.basins import Outside, basins
from seabed.structure.tree.mergetree import settled_at
from seabed.structure.tree.sorting import Depths, Indices


@dataclass(frozen=True, slots=True)
class Reduced:
    """Highs of a chunk, n of them, and m passes.

    cell: ndarray of int32, shape (n,); flat index in the chunk of the highest cell, rising.
    crest, saddle: ndarray of float32, shape (n,); as in `seabed.structure.tree.mergetree.Peaks`;
        the saddle is infinite where it is not settled.
    absorber: ndarray of int32, shape (n,); a peak of the higher ground it joins there, as a row of
        these; -1 for the outside.
    open, settled: ndarray of bool, shape (n,).
    level, high, low: ndarray, shape (m,); depth of each pass, and the rows of the highs it joins;
        -1 for the outside.
    door: ndarray of bool, shape (m,); whether the deepest cell of the pass touches the outside.
    rim: ndarray of int32, shape (rows, columns) of the outermost cells, as four arrays; row of the
        high whose basin the cells of the northern, southern, western and eastern border are in; -1
        for void.
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
    """Reduce the merge tree of a chunk.

    depth: ndarray of float32, shape (rows, columns), in row order; the chunk's own cells; highs are
        the least values.
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
