"""How noisy a sounder is: with depth, and at speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import nnls

from seabed.array_types import Floats, Ints
from seabed.robust import TO_SIGMA

_LEAST_M: Final = 0.03
_TO_SIGMA: Final = TO_SIGMA / np.sqrt(1.5)  # of the median of absolute second differences
_EDGES_MPS: Final = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 17.0])
_FEWEST: Final = 30
_DEPTH_CLASSES: Final = 8
_MOST: Final = 300_000
"""Of more differences every n-th tells: medians of so many are sure to a hundredth."""


@dataclass(frozen=True, slots=True)
class SounderNoise:
    """Standard deviation of a sounding's own error: ``factor(speed) * (metres + share * depth)``.

    metres, share: at the speeds of most soundings.
    factors: ndarray of float64, shape (11,); by class of speed; the class above 17 m/s last.
    counts: ndarray of int64, shape (11,); soundings of each class, about.
    """

    metres: float
    share: float
    factors: Floats
    counts: Ints

    def sigma_m(self, depth: Floats, speed: Floats) -> Floats:
        """Give it at depths and speeds, metres; the factor is 1 at unknown speeds."""
        factor = np.append(self.factors, 1.0)[self.speed_class(speed)]
        return np.asarray(factor * (self.metres + self.share * np.abs(depth)))

    def speed_class(self, speed: Floats) -> Ints:
        """Class of each speed, 0 the slowest; 11 where it is not known."""
        known = np.isfinite(speed)
        return np.where(
            known, np.searchsorted(_EDGES_MPS, np.nan_to_num(speed)), len(_EDGES_MPS) + 1
        )

    def classes(self) -> list[tuple[float, float, float]]:
        """Least and greatest speed (m/s) and the factor of the classes that have soundings."""
        edges = [0.0, *_EDGES_MPS.tolist(), float("inf")]
        return [
            (edges[i], edges[i + 1], float(self.factors[i]))
            for i in range(len(self.factors))
            if self.counts[i] >= _FEWEST
        ]


def fit_noise(difference: Floats, depth: Floats, speed: Floats) -> SounderNoise:
    """Fit the noise to second differences along lines (NaN is passed over); at least 0.03 m.

    Medians of eight classes of depth, a straight line through them with neither term below zero;
    then the factor of each class of speed with at least 30 soundings, from its median; of a class
    with fewer that of the class below.
    """
    rows = np.flatnonzero(np.isfinite(difference) & np.isfinite(depth))
    blank = SounderNoise(
        _LEAST_M, 0.0, np.ones(len(_EDGES_MPS) + 1), np.zeros(len(_EDGES_MPS) + 1, int)
    )
    if len(rows) < _FEWEST:
        return blank
    every = -(-len(rows) // _MOST)
    rows = rows[::every]
    off, deep = np.abs(difference[rows]), np.abs(depth[rows])
    classes = blank.speed_class(speed[rows])
    most = int(np.argmax(np.bincount(classes)))
    usual = classes == most
    metres, share = _with_depth(off[usual], deep[usual])
    scaled = off / (metres + share * deep)
    factors, counts = np.ones(len(_EDGES_MPS) + 1), np.zeros(len(_EDGES_MPS) + 1, np.int64)
    last = 1.0
    for number in range(len(factors)):
        own = scaled[classes == number]
        counts[number] = every * len(own)
        if len(own) >= _FEWEST:
            last = max(_TO_SIGMA * float(np.median(own)), _LEAST_M / (metres + share * 1.0), 0.5)
        factors[number] = last
    return SounderNoise(metres, share, factors, counts)


def _with_depth(off: Floats, depth: Floats) -> tuple[float, float]:
    order = np.argsort(depth, kind="stable")
    parts = np.array_split(order, max(1, min(_DEPTH_CLASSES, len(order) // _FEWEST)))
    middle = np.array([np.median(depth[part]) for part in parts])
    sigma = np.array([_TO_SIGMA * np.median(off[part]) for part in parts])
    (metres, share), _ = nnls(np.column_stack([np.ones(len(middle)), middle]), sigma)
    return max(float(metres), _LEAST_M), float(share)
