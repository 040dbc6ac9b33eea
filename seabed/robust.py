"""Deviations and fits that outliers hardly move."""

from __future__ import annotations

from typing import Final

import numpy as np

from seabed.array_types import Floats, Pair

TO_SIGMA: Final = 1.4826
"""From the median absolute deviation to the standard one, where errors are normal (Hampel 1974)."""

HUBER: Final = 1.345
"""95 % efficient where errors are normal (Huber 1981)."""

ROUNDS: Final = 30
SETTLED: Final = 1e-6
"""Of each coefficient: a round that moves none by more is the last."""


def robust_sigma(values: Floats) -> float:
    """Estimate the standard deviation of values by their median absolute deviation."""
    return TO_SIGMA * float(np.median(np.abs(values - np.median(values))))


def half_square(differences: Floats) -> float:
    """Half the mean square of one normal difference or more, by Cressie & Hawkins (1980)."""
    root = np.sqrt(np.abs(differences)).mean()
    return float(0.5 * root**4 / (0.457 + 0.494 / len(differences)))


def huber_fit(terms: Floats, values: Floats, sigma: Floats, *, start: Floats | None = None) -> Pair:
    """Fit a linear model by Huber's weights (1964), least squares again and again.

    terms: ndarray of float64, shape (n, k).
    values, sigma: ndarray of float64, shape (n,); what to fit, and one standard deviation of each,
        all to the same scale.
    start: ndarray of float64, shape (k,); coefficients to begin from; those of plain least squares
        without it.
    coefficients: ndarray of float64, shape (k,).
    weight: ndarray of float64, shape (n,); Huber's, of each value: 1 unless it is an outlier.
    """
    scaled, wanted = terms / sigma[:, None], values / sigma
    coefficients = start if start is not None else _least_squares(scaled, wanted)
    weight = np.ones(len(values))
    for _ in range(ROUNDS):
        off = np.abs(wanted - scaled @ coefficients)
        scale = max(TO_SIGMA * float(np.median(off)), 1e-9)
        weight = np.minimum(1.0, HUBER * scale / np.maximum(off, 1e-12))
        root = np.sqrt(weight)
        moved = _least_squares(scaled * root[:, None], wanted * root)
        settled = np.abs(moved - coefficients).max() < SETTLED
        coefficients = moved
        if settled:
            break
    return coefficients, weight


def _least_squares(terms: Floats, values: Floats) -> Floats:
    return np.asarray(np.linalg.lstsq(terms, values, rcond=None)[0], np.float64)
