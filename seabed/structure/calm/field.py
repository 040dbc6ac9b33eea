"""How noise differs over a grid: measured on tiles, the same on each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, generic_filter, grey_dilation

from seabed.array_types import Floats
from seabed.structure.calm.noise import mask_sigmas

Reader = Callable[[int, int, int, int], NDArray[np.float32]]
Zone = tuple[slice, slice, float]
"""Rows and columns of a block, and the noise on them."""

TILE: Final = 32
"""Cells along a side of a tile, at least; the noise is measured on so many in its middle."""
MOST_TILES: Final = 40
"""Tiles along a side of a grid, at most."""
STEP: Final = 1.4
"""Ratio of one level of noise to the next: what differs by less is taken for one."""
USUAL: Final = 0.75
"""Quantile of the tiles that counts for all that are about as noisy: noise that is overlooked
shows as features."""


@dataclass(frozen=True, slots=True)
class NoiseField:
    """Standard deviations of the noise on tiles of a grid.

    step: cells along a side of a tile.
    sigma_m: ndarray of float64, shape (tiles down, tiles across).
    """

    step: int
    sigma_m: Floats

    @classmethod
    def even(cls, shape: tuple[int, int], sigma_m: float) -> NoiseField:
        """Give a grid one noise."""
        return cls(max(*shape, 1), np.full((1, 1), sigma_m))

    @classmethod
    def measured(cls, shape: tuple[int, int], depths: Reader, *, threads: int = 1) -> NoiseField:
        """Measure the noise of a grid that is read a block at a time.

        A tile has the median of those about it, which rough ground on a few does not move, and then
        the greatest of these beside it: noise that is overlooked shows as features.
        """
        rows, columns = shape
        step = max(TILE, -(-max(shape) // MOST_TILES))
        tops, lefts = ([min(first + (step - TILE) // 2, max(size - TILE, 0))
                        for first in range(0, size, step)] for size in shape)  # fmt: skip

        def row_of_tiles(top: int) -> Floats:
            band = depths(top, 0, min(TILE, rows), columns)
            return mask_sigmas(band, np.array(lefts), TILE)

        with ThreadPoolExecutor(threads) as pool:
            sigma = np.array(list(pool.map(row_of_tiles, tops)))
        return cls(step, _settled(sigma))

    @property
    def levelled(self) -> NoiseField:
        """The same in steps: tiles about as noisy as most have the upper quartile of these."""
        usual = float(np.quantile(self.sigma_m, USUAL))
        if not usual:
            return self
        steps = np.log(np.maximum(self.sigma_m, usual * STEP**-12) / usual) / np.log(STEP)
        level = np.where(np.abs(steps) <= 1, 0, np.ceil(steps))
        return NoiseField(self.step, usual * STEP**level)

    @property
    def levels(self) -> list[float]:
        """Every noise there is, rising."""
        return [float(one) for one in np.unique(self.sigma_m)]

    def at(self, row: NDArray[Any], column: NDArray[Any]) -> Floats:
        """Give the noise at cells: that of their tile."""
        places = zip((row, column), self.sigma_m.shape, strict=True)
        tile = (np.clip(np.asarray(at, int) // self.step, 0, most - 1) for at, most in places)
        return np.asarray(self.sigma_m[tuple(tile)], float)

    def zones(self, row: int, column: int, shape: tuple[int, ...]) -> Iterator[Zone]:
        """Part a block, whose first cell is given, into boxes of one noise."""
        ends = [_ends(first, size, self.step, count) for first, size, count in zip(
            (row, column), shape, self.sigma_m.shape, strict=True)]  # fmt: skip
        runs = [
            (down, tuple((where, sigma) for where, sigma in _runs(ends[1], self.sigma_m[tile])))
            for tile, down in ends[0]
        ]
        for alike, group in groupby(runs, key=lambda one: one[1]):
            parts = [down for down, _ in group]
            rows = slice(parts[0].start, parts[-1].stop)
            yield from ((rows, across, sigma) for across, sigma in alike)

    def over(self, shape: tuple[int, int]) -> NDArray[np.float32]:
        """Give the noise of every cell, between the middles of tiles by proportion."""
        down, across = (self._weights(size, n) for size, n in zip(
            shape, self.sigma_m.shape, strict=True))  # fmt: skip
        return np.asarray((down @ self.sigma_m @ across.T), np.float32)

    def _weights(self, size: int, tiles: int) -> Floats:
        middles = (np.arange(tiles) + 0.5) * self.step - 0.5
        return np.stack([np.interp(np.arange(size), middles, one) for one in np.eye(tiles)], axis=1)


def _ends(first: int, size: int, step: int, tiles: int) -> list[tuple[int, slice]]:
    """Tiles that cells of a block are in along an axis, and these cells, counted in the block."""
    last = min((first + size - 1) // step, tiles - 1) if size else -1
    start = min(first // step, tiles - 1)
    return [
        (tile, slice(max(tile * step - first, 0),
                     size if tile == last else (tile + 1) * step - first))
        for tile in range(start, last + 1)
    ]  # fmt: skip


def _runs(ends: list[tuple[int, slice]], sigma: Floats) -> Iterator[tuple[slice, float]]:
    for level, group in groupby(ends, key=lambda one: float(sigma[one[0]])):
        parts = [where for _, where in group]
        yield slice(parts[0].start, parts[-1].stop), level


def _settled(sigma: Floats) -> Floats:
    """Fill tiles without a measure from the nearest, and smooth out single ones."""
    void = np.isnan(sigma)
    if void.all():
        return np.zeros_like(sigma)
    nearest = distance_transform_edt(void, return_distances=False, return_indices=True)
    middle = generic_filter(sigma[tuple(nearest)], np.median, size=3, mode="nearest")
    return np.asarray(grey_dilation(middle, size=(3, 3), mode="nearest"), float)
