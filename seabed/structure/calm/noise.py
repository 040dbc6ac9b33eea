"""How noisy a grid is, and how sure a feature must be of itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

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


@dataclass(frozen=True, slots=True)
class NoiseSettings:
    """Standard deviations by which features must be clear of the noise, and its own, metres.

    significance: 0 takes every cell as it is: nothing is smoothed, no sounding doubtful. sigma_m:
    None measures it on the grid.
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

    depth: ndarray of float32, shape (rows, columns).
    lefts: ndarray of int64, shape (n,); first column of each square.
    side: columns of a square; it has all rows.
    Returned: ndarray of float64, shape (n,); NaN where fewer than 400 cells are known, or too few
        of them beside each other.
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
