"""How noise differs over a grid: measured on tiles, between their middles by proportion."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, generic_filter, grey_dilation

from seabed.structure.calm.noise import mask_sigma

__all__ = ["NoiseField"]

Floats = NDArray[np.float64]
Reader = Callable[[int, int, int, int], NDArray[np.float32]]

TILE: Final = 64
"""Cells along a side of a tile, at least; the noise is measured on so many in its middle."""
MOST_TILES: Final = 32
"""Tiles along a side of a grid, at most."""
LEAST_KNOWN: Final = 400
"""Known cells without which a tile tells no noise."""
_THREADS: Final = 2


@dataclass(frozen=True, slots=True)
class NoiseField:
    """Standard deviations of the noise on tiles of a grid.

    Attributes
    ----------
    step : int
        Cells along a side of a tile.
    sigma_m : ndarray of float64, shape (tiles down, tiles across)
    """

    step: int
    sigma_m: Floats

    @classmethod
    def measured(cls, shape: tuple[int, int], depths: Reader) -> NoiseField:
        """Measure the noise of a grid that is read a block at a time.

        A tile has the median of those about it, which rough ground on a few does not move, and then
        the greatest of these beside it: noise that is overlooked shows as features.
        """
        rows, columns = shape
        step = max(TILE, -(-max(shape) // MOST_TILES))
        tops = [min(top + (step - TILE) // 2, max(rows - TILE, 0)) for top in range(0, rows, step)]
        lefts = [min(at + (step - TILE) // 2, max(columns - TILE, 0))
                 for at in range(0, columns, step)]  # fmt: skip

        def row_of_tiles(top: int) -> list[float]:
            return [_sigma(depths(top, left, min(TILE, rows), min(TILE, columns)))
                    for left in lefts]  # fmt: skip

        with ThreadPoolExecutor(_THREADS) as pool:
            sigma = np.array(list(pool.map(row_of_tiles, tops)))
        return cls(step, _settled(sigma))

    @property
    def greatest_m(self) -> float:
        """The noise of its noisiest tile."""
        return float(self.sigma_m.max())

    def at(self, row: Floats, column: Floats) -> Floats:
        """Give the noise at cells, shape (n,)."""
        down, across = (self._weights(one, n) for one, n in zip((row, column), self.sigma_m.shape,
                                                               strict=True))  # fmt: skip
        return np.asarray(np.einsum("ij,ij->i", down @ self.sigma_m, across))

    def over(self, shape: tuple[int, int]) -> NDArray[np.float32]:
        """Give the noise of every cell of the grid."""
        down, across = (self._weights(np.arange(size), n) for size, n in zip(
            shape, self.sigma_m.shape, strict=True))  # fmt: skip
        return (down @ self.sigma_m).astype(np.float32) @ across.T.astype(np.float32)

    def _weights(self, at: NDArray[Any], tiles: int) -> Floats:
        """Shares of the tiles in the noise at places along an axis, shape (n, tiles)."""
        middles = (np.arange(tiles) + 0.5) * self.step - 0.5
        return np.stack([np.interp(at, middles, unit) for unit in np.eye(tiles)], axis=1)


def _sigma(depth: NDArray[np.float32]) -> float:
    return mask_sigma(depth) if np.isfinite(depth).sum() >= LEAST_KNOWN else np.nan


def _settled(sigma: Floats) -> Floats:
    """Fill tiles that tell nothing from the nearest, and smooth out what stands alone."""
    void = np.isnan(sigma)
    if void.all():
        return np.zeros_like(sigma)
    nearest = distance_transform_edt(void, return_distances=False, return_indices=True)
    middle = generic_filter(sigma[tuple(nearest)], np.median, size=3, mode="nearest")
    return np.asarray(grey_dilation(middle, size=(3, 3), mode="nearest"), float)
