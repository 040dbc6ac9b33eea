"""Smooth a grid at a scale in metres without letting voids bleed into it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from seabed.errors import GridError
from seabed.grid import cell_size
from seabed.terrain.chunks import over_windows, row_classes

__all__ = ["smoothed"]

_REACH = 4.0  # standard deviations


def smoothed(grid: xr.DataArray, *, deviation_m: float, least_weight: float = 0.2) -> xr.DataArray:
    """Gaussian mean of the known cells (normalised convolution, Knutsson & Westin 1993).

    Parameters
    ----------
    grid : depth grid
    deviation_m : float
        Standard deviation of the Gaussian over the ground, metres.
    least_weight : float
        Share of the Gaussian that must fall on known cells.

    Returns
    -------
    xarray.DataArray of float32
        Metres; lazy if the grid is; NaN at void cells and where less than `least_weight` is known.

    Raises
    ------
    GridError
        If the deviation is not above zero.
    """
    if not deviation_m > 0:
        raise GridError(
            f"a smoothing scale of {deviation_m:g} m is none", do="Give metres above 0."
        )
    size = cell_size(grid)
    width, height = row_classes(size.easting), float(size.northing[len(size.northing) // 2])

    def kernel(depth: NDArray[np.float32], widths: NDArray[np.float64]) -> NDArray[np.float32]:
        return _smooth(depth, widths, height, deviation_m, least_weight)

    return over_windows(
        grid,
        kernel,
        (width,),
        margin=(
            int(_REACH * deviation_m / height + 0.5) + 1,
            int(_REACH * deviation_m / width.min() + 0.5) + 1,
        ),
        name="depth",
        attributes={**grid.attrs, "smoothing_deviation_m": deviation_m},
    )


def _smooth(
    depth: NDArray[np.float32],
    widths: NDArray[np.float64],
    height: float,
    deviation_m: float,
    least_weight: float,
) -> NDArray[np.float32]:
    known = ~np.isnan(depth)
    if not known.any():
        return np.full_like(depth, np.nan)
    level = np.float32(depth[known].mean(dtype=np.float64))
    values = np.where(known, depth - level, np.float32(0))
    total = _blurred(values, widths, height, deviation_m)
    weight = _weights(known, widths, height, deviation_m)
    known &= weight >= least_weight
    out = np.full_like(depth, np.nan)
    np.divide(total, weight, out=out, where=known)
    out += level
    return out


def _weights(
    known: NDArray[np.bool_], widths: NDArray[np.float64], height: float, deviation_m: float
) -> NDArray[np.float32]:
    """Share of the Gaussian on known cells; without voids it is that of the block's own shape."""
    if not known.all():
        return _blurred(known.astype(np.float32), widths, height, deviation_m)
    across = np.ones_like(known, np.float32)
    for band in _bands(widths):
        across[band] = _along(across[band.start, None], deviation_m / widths[band.start], 1)
    return across * _along(np.ones((len(known), 1), np.float32), deviation_m / height, 0)


def _blurred(
    values: NDArray[np.float32], widths: NDArray[np.float64], height: float, deviation_m: float
) -> NDArray[np.float32]:
    """Separable Gaussian with zeros beyond the border; across by band of equal cell width."""
    out = _along(values, deviation_m / height, 0)
    for band in _bands(widths):
        out[band] = _along(out[band], deviation_m / widths[band.start], 1)
    return out


def _along(values: NDArray[np.float32], deviation: float, axis: int) -> NDArray[np.float32]:
    out: NDArray[np.float32] = gaussian_filter1d(
        values, deviation, axis=axis, mode="constant", truncate=_REACH, output=np.float32
    )
    return out


def _bands(widths: NDArray[np.float64]) -> list[slice]:
    """Cut rows into runs whose cells are equally wide."""
    edges = [0, *(np.flatnonzero(np.diff(widths)) + 1), len(widths)]
    return [slice(first, last) for first, last in pairwise(edges)]
