"""How rough the bottom is: a variogram of the soundings, as a sum of smooth parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls
from scipy.spatial import cKDTree

from seabed.array_types import Floats
from seabed.robust import half_square
from seabed.soundings.surface._blocks import BlockDepths

LAGS: Final = 16
PAIRS: Final = 3000
"""Pairs sought at each lag."""

LEAST_PAIRS: Final = 30
RANGES: Final = 14
LARGEST_PARTS: Final = 3
NEAR: Final = 0.2
"""A pair counts for a lag if it is apart by that within this share."""

FURTHEST_CELLS: Final = 150
TURNS: Final = 10


@dataclass(frozen=True, slots=True)
class Roughness:
    """Covariance of the bottom's depth: a sum of Matérn functions of smoothness 3/2.

    sill, range_m, shape (parts,): variance, square metres, and length of each part.
    nugget: variance of what changes from block to block beyond the soundings' own.
    lag_m, half_square, shape (lags,): the empirical variogram that they were fitted to.
    """

    sill: Floats
    range_m: Floats
    nugget: float
    lag_m: Floats
    half_square: Floats

    def variogram(self, lag_m: Floats) -> Floats:
        """Half the mean square difference of depths at lags, metres squared."""
        lag = np.asarray(lag_m, float)[..., None]
        rise: Floats = (self.sill * (1.0 - matern(lag / self.range_m))).sum(axis=-1)
        return self.nugget + rise

    @property
    def slope(self) -> float:
        """Wide prior of the slope of a neighbourhood: 3 times that over the furthest lag."""
        far = float(self.lag_m[-1])
        return 3.0 * float(np.sqrt(2 * self.variogram(np.array([far]))[0])) / far

    def reach_m(self, change_m: float) -> float:
        """Distance over which the bottom changes by `change_m`, in the root mean square."""
        lag = np.geomspace(self.lag_m[0], 4 * self.lag_m[-1], 400)
        rise = np.sqrt(2 * (self.variogram(lag) - self.nugget))
        return float(lag[min(int(np.searchsorted(rise, change_m)), len(lag) - 1)])


def matern(scaled: Floats) -> Floats:
    """Matérn correlation of smoothness 3/2 (Stein 1999), of distance over range."""
    far = np.sqrt(3.0) * scaled
    correlation: Floats = (1.0 + far) * np.exp(-far)
    return correlation


def fit_roughness(blocks: BlockDepths, *, cell_m: float, seed: int = 0) -> Roughness:
    """Fit a covariance to the variogram of the blocks, levelled and one a cell.

    The variogram is the robust one of Cressie & Hawkins (1980), less the blocks' own variance, at
    16 lags from 1 to at most 150 cells.  A nugget and Matérn parts of 14 ranges are fitted by
    least squares without negative ones (Lawson & Hanson 1974), each lag weighed by the value that
    the fit gives it, with the blocks' own (Cressie 1985), in 10 turns; the largest 3 parts are kept
    and fitted again.  Weighed so, a fit far below the variogram costs more than one above: at short
    lags there are pairs along the lines sounded only, and what is smooth along them need not be
    so across.  With too few pairs at any lag, a bottom that varies by 1 m over 10 cells.
    """
    lag, half_square, own = _empirical(blocks, cell_m, np.random.default_rng(seed))
    if len(lag) < 3 or not half_square.max() > 0:
        return Roughness(
            np.array([1.0]), np.array([10 * cell_m]), 0.0, np.array([cell_m]), np.array([0.0])
        )
    ranges = np.geomspace(2 * cell_m, 3 * lag[-1], RANGES)
    _, sill = _fitted(lag, half_square, own, ranges)
    largest = np.sort(np.argsort(sill)[::-1][:LARGEST_PARTS])
    nugget, sill = _fitted(lag, half_square, own, ranges[largest])
    used = sill > 0
    return Roughness(sill[used], ranges[largest][used], nugget, lag, half_square)


def _empirical(
    blocks: BlockDepths, cell_m: float, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Lag, variogram of the bottom, and what the blocks' own deviations added to it."""
    places = blocks.places
    lags: list[tuple[float, float, float]] = []
    if len(places) > 1:
        furthest = min(FURTHEST_CELLS * cell_m, float(np.ptp(places, axis=0).max()) / 2)
        tree = cKDTree(places)
        for lag in np.geomspace(cell_m, max(furthest, 2 * cell_m), LAGS):
            one, other = _pairs(tree, places, lag, rng)
            if len(one) >= LEAST_PAIRS:
                apart = float(np.hypot(*(places[one] - places[other]).T).mean())
                lags.append((apart, *_half_square(blocks, one, other)))
    lag_m, half_square, own = np.array(lags, float).reshape(-1, 3).T
    return lag_m, half_square, own


def _pairs(
    tree: cKDTree, places: Floats, lag: float, rng: np.random.Generator
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Blocks, and others about a lag away in chance directions."""
    one = rng.integers(len(places), size=PAIRS)
    way = rng.uniform(0, 2 * np.pi, PAIRS)
    away, other = tree.query(places[one] + lag * np.column_stack([np.cos(way), np.sin(way)]))
    apart = np.hypot(*(places[one] - places[other]).T)
    use = (np.abs(apart - lag) < NEAR * lag) & (away < lag) & (one != other)
    return one[use], other[use]


def _half_square(
    blocks: BlockDepths, one: NDArray[np.intp], other: NDArray[np.intp]
) -> tuple[float, float]:
    robust = half_square(blocks.depth[one] - blocks.depth[other])
    own = 0.5 * float((blocks.sigma[one] ** 2 + blocks.sigma[other] ** 2).mean())
    return max(robust - own, 0.0), own


def _fitted(lag: Floats, half_square: Floats, own: Floats, ranges: Floats) -> tuple[float, Floats]:
    """Nugget and sills; each lag weighed by the fit of the turn before, at first by its value."""
    parts = np.column_stack([np.ones(len(lag)), 1.0 - matern(lag[:, None] / ranges)])
    sills, fitted = np.zeros(parts.shape[1]), half_square
    for _ in range(TURNS):
        scale = fitted + own
        sills, _ = nnls(parts / scale[:, None], half_square / scale)
        fitted = parts @ sills
    return float(sills[0]), sills[1:]
