"""The merge tree of highs: where each peak's closed contours meet those of a higher one.

Cells are first gathered into basins of steepest ascent, one a peak: a cell's way uphill never
leaves the ground above it, so basins carry the whole tree.  Then the pass from each basin to each
neighbour is taken, and passes are joined from the highest down (radix sort, union-find).  That is
O(n) in cells and O(m log m) in passes.  Prominence is the persistence of Edelsbrunner, Letscher &
Zomorodian (2002, Discrete Comput. Geom. 28, 511-533).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Depths, Indices, Mask
from seabed.compiled import compiled, inlined
from seabed.structure.tree.basins import Passes


@dataclass(frozen=True, slots=True)
class Peaks:
    """Local highs of a grid, n of them.

    cell: ndarray of int32 or int64, shape (n,); flat index of the highest cell, rising.
    crest, saddle: ndarray of float32, shape (n,); depth there, and depth at which its ground joins
        that of a higher peak or the outside; infinite if it never does.
    absorber: ndarray of int32, shape (n,); the higher peak it then joins, as a row of these arrays;
        -1 for the outside.
    open: ndarray of bool, shape (n,); whether the cell of the saddle touches the outside.
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
