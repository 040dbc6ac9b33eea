"""Smoothing scales: which make sense on a grid, and the bottom at one."""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.grid import CellSize, cell_size
from seabed.terrain.chunks import contiguous
from seabed.terrain.smoothing import smoothed

__all__ = ["LEAST_WEIGHT", "at_scale", "check_scale"]

LEAST_WEIGHT: Final = 0.9
"""Share of the Gaussian that must fall on known cells."""


def at_scale(grid: xr.DataArray, scale_m: float) -> NDArray[np.float32]:
    """Depths smoothed at a scale: with a Gaussian of half of it as standard deviation.

    Raises
    ------
    GridError
        If the scale is not above zero or is finer than the cells.
    """
    check_scale(scale_m, cell_size(grid))
    bottom = smoothed(grid, deviation_m=scale_m / 2, least_weight=LEAST_WEIGHT)
    return contiguous(bottom.values)


def check_scale(scale_m: float, size: CellSize) -> None:
    """Refuse a scale that is not above zero or is finer than the cells.

    Raises
    ------
    GridError
        Saying which.
    """
    if not scale_m > 0:
        raise GridError(f"a smoothing scale of {scale_m:g} m is none", do="Give metres above 0.")
    if scale_m < size.typical:
        raise GridError(
            f"a smoothing scale of {scale_m:g} m is finer than the cells, {size.typical:.3g} m",
            do=f"Choose {2 * size.typical:.3g} m or more.",
        )
