"""What two surfaces differ by in the middle: a constant or a plane, fitted robustly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.robust import huber_fit, robust_sigma

__all__ = ["Misfit", "fit_misfit"]

PATCH: Final = 16
"""Differences within so many cells tell much the same."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """A constant or a plane through differences.

    Attributes
    ----------
    at_middle : float
        Its value in the middle of the cells it was fitted to.
    sigma : float
        One standard deviation of that: from the scatter of patches of 16 x 16 cells.
    values : ndarray of float64, shape (rows, columns)
        Its value in every cell.
    spread : float
        Robust standard deviation of the differences about it.
    """

    at_middle: float
    sigma: float
    values: NDArray[np.float64]
    spread: float


def fit_misfit(
    difference: NDArray[np.float64], sigma: NDArray[np.float64], *, plane: bool = False
) -> Misfit:
    """Fit a constant, or a plane, to differences by Huber's weights.

    Parameters
    ----------
    difference : ndarray of float64, shape (rows, columns)
        NaN where there is none; at least one is not.
    sigma : ndarray of float64, same shape
        One standard deviation of each.
    plane : bool
        Whether it may tilt.
    """
    row, column = np.nonzero(np.isfinite(difference))
    values, deviation = difference[row, column], sigma[row, column]
    middle, width = (row.mean(), column.mean()), max(np.ptp(row), np.ptp(column), 1)
    design: list[NDArray[np.float64]] = [np.ones(len(values))]
    if plane:
        design += [(row - middle[0]) / width, (column - middle[1]) / width]
    start = np.array([np.median(values), *(0.0 for _ in design[1:])])
    found, _ = huber_fit(np.column_stack(design), values, deviation, start=start)
    down, across = np.indices(difference.shape)
    fitted = np.full(difference.shape, found[0])
    if plane:
        fitted += found[1] * (down - middle[0]) / width + found[2] * (across - middle[1]) / width
    rest = values - fitted[row, column]
    spread = robust_sigma(rest)
    return Misfit(float(found[0]), _of_patches(row, column, rest, spread), fitted, spread)


def _of_patches(
    row: NDArray[np.int64], column: NDArray[np.int64], rest: NDArray[np.float64], spread: float
) -> float:
    patch = (row // PATCH) * (column.max() // PATCH + 1) + column // PATCH
    _, number = np.unique(patch, return_inverse=True)
    means = np.bincount(number, rest) / np.bincount(number)
    if len(means) < 2:
        return spread
    return float(means.std(ddof=1) / np.sqrt(len(means)))
