"""A large grid looked at here and there: tiles that are read when wanted and kept a while."""

from __future__ import annotations

from collections import OrderedDict
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.structure.blocks.block import without_doubtful
from seabed.structure.blocks.whole import Whole
from seabed.structure.calm.calming import Calms
from seabed.structure.calm.lone import REACH
from seabed.terrain.chunks import contiguous

__all__ = ["TILE", "Canvas"]

TILE: Final = 1024
_KEPT: Final = 32


class Canvas:
    """Windows of a grid that does not fit into memory, without noise.

    Parameters
    ----------
    whole : Whole
    calm : Calms
    sign : float
        Depths are given times this.
    tile : int
        Rows and columns read at a time.
    """

    def __init__(self, whole: Whole, calm: Calms, *, sign: float = 1.0, tile: int = TILE) -> None:
        self._whole, self._calm = whole, calm
        self._sign, self._tile = np.float32(sign), tile
        self._kept: OrderedDict[tuple[int, int], tuple[NDArray[np.float32], int, int]] = (
            OrderedDict()
        )

    def __call__(self, row: int, column: int) -> tuple[NDArray[np.float32], int, int]:
        """Give a tile that holds a cell and all that touch it, with its first row and column."""
        key = row // self._tile, column // self._tile
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        rows, columns = self._whole.shape
        top, left = max(key[0] * self._tile - 1, 0), max(key[1] * self._tile - 1, 0)
        bottom = min((key[0] + 1) * self._tile + 1, rows)
        right = min((key[1] + 1) * self._tile + 1, columns)
        more = self._calm.reach + REACH
        north, west = max(top - more, 0), max(left - more, 0)
        down, across = min(bottom + more, rows) - north, min(right + more, columns) - west
        depth = contiguous(self._whole.blocks.depths(north, west, down, across))
        ground = contiguous(without_doubtful(depth, self._whole, north, west))
        depth = self._calm.applied(ground, north, west)
        depth = self._sign * depth[top - north : bottom - north, left - west : right - west]
        self._kept[key] = depth, top, left
        if len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return self._kept[key]
