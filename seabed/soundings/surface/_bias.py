"""What two surfaces differ by in the middle: a constant or a plane, fitted robustly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from seabed.array_types import Floats, Ints
from seabed.robust import huber_fit, robust_sigma

PATCH: Final = 16
"""Differences within this many cells depend on each other."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """A constant or a plane through differences."""

    at_middle: float  # its value in the middle of the cells it was fitted to
    sigma: float  # one standard deviation of that, by the scatter of patches of 16 x 16 cells
    values: Floats  # its value in every cell
    spread: float  # robust standard deviation of the differences about it


def fit_misfit(difference: Floats, sigma: Floats, *, plane: bool = False) -> Misfit:
    """Fit a constant, or a plane, to differences (NaN if there is none) by Huber's weights."""
    row, column = np.nonzero(np.isfinite(difference))
    values, deviation = difference[row, column], sigma[row, column]
    middle, width = (row.mean(), column.mean()), max(np.ptp(row), np.ptp(column), 1)
    design: list[Floats] = [np.ones(len(values))]
    if plane:
        design += [(row - middle[0]) / width, (column - middle[1]) / width]
    start = np.array([np.median(values), *(0.0 for _ in design[1:])])
    fit, _ = huber_fit(np.column_stack(design), values, deviation, start=start)
    down, across = np.indices(difference.shape)
    fitted = np.full(difference.shape, fit[0])
    if plane:
        fitted += fit[1] * (down - middle[0]) / width + fit[2] * (across - middle[1]) / width
    rest = values - fitted[row, column]
    spread = robust_sigma(rest)
    return Misfit(float(fit[0]), _of_patches(row, column, rest, spread), fitted, spread)


def _of_patches(row: Ints, column: Ints, rest: Floats, spread: float) -> float:
    patch = (row // PATCH) * (column.max() // PATCH + 1) + column // PATCH
    _, number = np.unique(patch, return_inverse=True)
    means = np.bincount(number, rest) / np.bincount(number)
    if len(means) < 2:
        return spread
    return float(means.std(ddof=1) / np.sqrt(len(means)))
