"""How noisy a grid is, and how sure a feature must be of itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.errors import GridError

__all__ = ["AUTO", "SIGNIFICANCE", "NoiseSettings", "mask_sigma"]

SIGNIFICANCE: Final = 4.5
"""Standard deviations of the noise: set so that a flat of 0.3 m noise shows no hump or hole."""

_ORDERS: Final = {2: 6.0, 4: 70.0}
"""Orders of differences along rows and columns, and the root of the mask's sum of squares."""
_OF_MEDIAN: Final = 0.67449
"""Median of what is normal, signs off, to its standard deviation."""


@dataclass(frozen=True, slots=True)
class NoiseSettings:
    """What is made of noise.

    Attributes
    ----------
    significance : float
        Standard deviations by which a feature must be clear of the noise.  0 takes every cell as it
        is: nothing is smoothed, and no sounding is doubtful.
    sigma_m : float or None
        Standard deviation of the depths' noise, metres; None measures it on the grid.
    """

    significance: float = SIGNIFICANCE
    sigma_m: float | None = None

    @classmethod
    def of(cls, significance: float | None, noise_m: float | None) -> NoiseSettings:
        """Take options as the functions of structure have them; None is the default.

        Raises
        ------
        GridError
            If one is below 0.
        """
        for name, value in (("significance", significance), ("noise", noise_m)):
            if value is not None and not 0 <= value < np.inf:
                raise GridError(f"a {name} of {value:g} is none", do="Give 0 or more.")
        return cls(SIGNIFICANCE if significance is None else significance, noise_m)


AUTO: Final = NoiseSettings()


def mask_sigma(depth: NDArray[np.float32]) -> float:
    """Measure the noise of a block of cells: its standard deviation, metres.

    The mask of Immerkaer (1996, Comput. Vis. Image Underst. 64, 300-302), blind to planes and to
    bends along rows and columns, and the same of fourth differences, which humps of few cells move
    less: the lesser counts.  By the median, so that rough ground on less than half of the cells
    counts little.  It sees what differs from cell to cell only: not noise that neighbours share,
    nor steps of whole feet or metres where most cells stand on one step.
    """
    return min(_by_differences(depth.astype(float), *order) for order in _ORDERS.items())


def _by_differences(depth: NDArray[np.float64], order: int, scale: float) -> float:
    if min(depth.shape) <= order:
        return 0.0
    response = np.abs(np.diff(np.diff(depth, order, axis=0), order, axis=1))
    known = response[~np.isnan(response)]
    return float(np.median(known)) / _OF_MEDIAN / scale if len(known) else 0.0
