"""Parts of a large grid: tiles that are read on demand and kept for a while."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask
from seabed.structure.blocks.block import without_doubtful
from seabed.structure.blocks.whole import Whole
from seabed.structure.calm.calming import Calms
from seabed.structure.calm.lone import REACH
from seabed.structure.tracing.linking import picked
from seabed.structure.tracing.marching import Lines
from seabed.structure.tracing.rings import MOST_CELLS, noise_made
from seabed.terrain.chunks import contiguous

TILE: Final = 1024
_KEPT: Final = 32


class Canvas:
    """Windows, times `sign`, of a grid that does not fit into memory, without noise."""

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
        low = np.array(key) * self._tile - 1
        depth, top, left = _calm_ground(self._whole, self._calm, low, low + self._tile + 2)
        self._kept[key] = self._sign * depth, top, left
        if len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return self._kept[key]


def _calm_ground(
    whole: Whole, calm: Calms, low: Ints, high: Ints
) -> tuple[NDArray[np.float32], int, int]:
    """Read rows and columns from `low` to before `high` without noise, and say where they begin."""
    (top, left), (bottom, right) = np.maximum(low, 0), np.minimum(high, whole.shape)
    more = calm.reach + REACH
    north, west = (int(max(one - more, 0)) for one in (top, left))
    south, east = (int(min(one + more, n)) for one, n in zip((bottom, right), whole.shape,
                                                             strict=True))  # fmt: skip
    depth = contiguous(whole.blocks.depths(north, west, south - north, east - west))
    ground = contiguous(without_doubtful(depth, whole, north, west))
    field = calm.applied(ground, north, west)[
        top - north : bottom - north, left - west : right - west
    ]
    return field, int(top), int(left)


def least_about(lines: Lines, calm: Calms) -> Floats:
    """Give what ground within each line must differ by, to be more than noise."""
    column, row = lines[0][lines[1][:-1]].T
    return calm.significance * calm.left_m(row, column)


def noise_made_over(lines: Lines, levels: Sequence[float], whole: Whole, calm: Calms) -> Mask:
    """Say which lines over several chunks noise alone makes: the grid is read again within."""
    out = np.zeros(len(lines[1]) - 1, np.bool_)
    for line in range(len(out)) if whole.field.sigma_m.any() else ():
        one = picked(lines, np.array([line]))
        low = np.floor(one[0].min(axis=0)).astype(int)[::-1]
        high = np.ceil(one[0].max(axis=0)).astype(int)[::-1] + 1
        if np.prod(high - low) > 2 * MOST_CELLS:
            continue
        field, top, left = _calm_ground(whole, calm, low, high)
        least_m = least_about(one, calm)
        out[line] = any(noise_made(one, field, level, least_m, (left, top))[0] for level in levels)
    return out
