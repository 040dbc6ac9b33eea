"""How noisy a grid is, how that differs over it, and how sure a feature must be of itself."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, grey_dilation, median_filter

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled
from seabed.errors import GridError

SIGNIFICANCE: Final = 4.5
"""Standard deviations of the noise: set so that a flat of 0.3 m noise shows no hump or hole."""

_MASKS: Final = ((np.array([1.0, -2.0, 1.0]), 6.0), (np.array([1.0, -4.0, 6.0, -4.0, 1.0]), 70.0))
"""Differences along rows and columns, and the root of the sum of squares of both together."""
LEAST_KNOWN: Final = 400
"""Known cells without which a square shows no noise."""
DENSE: Final = 2000
"""Known cells from which every other row and column is enough."""
_OF_MEDIAN: Final = 0.67449
"""Median of what is normal, signs off, to its standard deviation."""

Reader = Callable[[int, int, int, int], NDArray[np.float32]]
Zone = tuple[slice, slice, float]
"""Rows and columns of a block, and the noise on them."""

TILE: Final = 32
"""Cells along a side of a tile, at least; the noise is measured on so many in its middle."""
MOST_TILES: Final = 40
"""Tiles along a side of a grid, at most."""
_WORTH_THREADS: Final = 8
"""Rows of tiles below which starting threads takes longer."""
STEP: Final = 1.4
"""Ratio of one level of noise to the next: what differs by less is taken for one."""
USUAL: Final = 0.75
"""Quantile of the tiles that counts for all that are about as noisy: noise that is overlooked
shows as features."""


@dataclass(frozen=True, slots=True)
class NoiseSettings:
    """Standard deviations by which features must be clear of the noise, and its own, metres.

    significance: 0 takes every cell as it is: nothing is smoothed, no sounding doubtful.
    sigma_m: None measures it on the grid.
    """

    significance: float = SIGNIFICANCE
    sigma_m: float | None = None

    @classmethod
    def of(cls, significance: float | None, noise_m: float | None) -> NoiseSettings:
        """Take options as the functions of structure do: None is the default; not below 0."""
        for name, value in (("significance", significance), ("noise", noise_m)):
            if value is not None and not 0 <= value < np.inf:
                raise GridError(f"a {name} of {value:g} is not a size", do="Give 0 or more.")
        return cls(SIGNIFICANCE if significance is None else significance, noise_m)


AUTO: Final = NoiseSettings()


def mask_sigmas(depth: NDArray[np.float32], lefts: Ints, side: int) -> Floats:
    """Measure the noise on squares in a band of cells: standard deviations, metres.

    The mask of Immerkaer (1996, Comput. Vis. Image Underst. 64, 300-302), blind to planes and to
    bends along rows and columns, and the same of fourth differences, which humps of few cells move
    less: the lesser counts.  By the median, so that rough ground on less than half of the cells
    counts little.  It sees what differs from cell to cell only: not noise that neighbours share,
    nor steps of whole feet or metres where most cells stand on one step.

    lefts, side: first column of each square; columns of a square, which has all rows.
    Returned: NaN where fewer than 400 cells are known, or too few of them beside each other.
    """
    band, out = np.ascontiguousarray(depth, np.float32), np.full(len(lefts), np.nan)
    for mask, scale in _MASKS:
        _measure(band, lefts, side, mask, np.float64(_OF_MEDIAN * scale), out)
    return out


@compiled
def _measure(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: NDArray[np.float32],
    lefts: Ints,
    side: int,
    mask: Floats,
    scale: float,
    out: Floats,
) -> None:
    """Lower each square's noise to what one mask shows; every other row and column will do."""
    size = len(mask)
    rows = len(depth) - size + 1
    responses = np.empty(max(rows, 0) * side)
    for k in range(len(lefts)):
        first = lefts[k]
        last = min(first + side, depth.shape[1]) - size + 1
        known = 0
        for row in range(len(depth)):
            for column in range(first, min(first + side, depth.shape[1])):
                known += not math.isnan(depth[row, column])
        if known < LEAST_KNOWN:
            continue
        count = 0
        every = 2 if known > DENSE else 1
        for row in range(0, rows, every):
            for column in range(first, last, every):
                total = 0.0
                for i in range(size):
                    along = 0.0
                    for j in range(size):
                        along += mask[j] * depth[row + i, column + j]
                    total += mask[i] * along
                if not math.isnan(total):
                    responses[count] = abs(total)
                    count += 1
        if count:
            sigma = np.median(responses[:count]) / scale
            out[k] = sigma if math.isnan(out[k]) else min(out[k], sigma)


@dataclass(frozen=True, slots=True)
class NoiseField:
    """Standard deviations of the noise on tiles of a grid, `step` cells along a side."""

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
            each = pool.map if len(tops) >= _WORTH_THREADS else map
            sigma = np.array(list(each(row_of_tiles, tops)))
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
    middle = median_filter(sigma[tuple(nearest)], size=3, mode="nearest")
    return np.asarray(grey_dilation(middle, size=(3, 3), mode="nearest"), float)
