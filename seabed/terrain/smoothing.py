"""Smooth a grid at a scale in metres without letting voids bleed into it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from seabed.array_types import Floats, Mask
from seabed.compiled import compiled
from seabed.errors import GridError
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.terrain.chunks import over_windows, row_classes

_REACH = 4.0  # standard deviations
_ALONE = 500_000  # cells that two threads would not be worth


def smoothed(grid: xr.DataArray, *, deviation_m: float, least_weight: float = 0.2) -> xr.DataArray:
    """Gaussian mean of the known cells (normalised convolution, Knutsson & Westin 1993).

    NaN at void cells, and where less than `least_weight` of the Gaussian is on known ones; lazy if
    the grid is.
    """
    grid = as_grid(grid)
    if not deviation_m > 0:
        raise GridError(
            f"a smoothing scale of {deviation_m:g} m is too small", do="Give metres above 0."
        )
    size = cell_size(grid)
    width, height = row_classes(size.easting), float(size.northing[len(size.northing) // 2])

    def kernel(depth: NDArray[np.float32], widths: Floats) -> NDArray[np.float32]:
        return smoothed_block(
            depth, widths, height, deviation_m=deviation_m, least_weight=least_weight
        )

    return over_windows(
        grid,
        kernel,
        (width,),
        margin=(
            reach_cells(deviation_m, height),
            reach_cells(deviation_m, float(width.min())),
        ),
        name="depth",
        attributes={**grid.attrs, "smoothing_deviation_m": deviation_m},
    )


def reach_cells(deviation_m: float, cell_m: float) -> int:
    """How many cells of a size the smoothing looks at to each side."""
    return int(_REACH * deviation_m / cell_m + 0.5) + 1


def smoothed_block(
    depth: NDArray[np.float32],
    widths: Floats,
    height: float,
    *,
    deviation_m: float,
    least_weight: float,
    level_m: float | None = None,
) -> NDArray[np.float32]:
    """Smooth a block as `smoothed` does a grid; beyond its border everything counts as void.

    widths, height: of the cells of each row, metres; rows of equal width share a kernel.
    level_m: depth about which numbers are kept small, by default the block's mean.  With one level,
        blocks that overlap agree to the last bit wherever the Gaussian is within both, or is cut
        off by the border of the grid in both.
    """
    known = ~np.isnan(depth)
    if not known.any():
        return np.full_like(depth, np.nan)
    level = np.float32(depth[known].mean(dtype=np.float64) if level_m is None else level_m)
    values = np.where(known, depth - level, np.float32(0))
    total = _blurred(values, widths, height, deviation_m)
    weight = _weights_of_all(depth.shape, widths, height, deviation_m)
    if not known.all():  # the same cells take the same way however the grid is cut
        beside = _beside(~known, widths, height, deviation_m)
        some = _blurred(known.astype(np.float32), widths, height, deviation_m)
        weight = np.where(beside, some, weight)
    known &= weight >= least_weight
    out = np.full_like(depth, np.nan)
    np.divide(total, weight, out=out, where=known)
    out += level
    return out


def _beside(void: Mask, widths: Floats, height: float, deviation_m: float) -> Mask:
    """Cells whose Gaussian falls on a void."""
    near = maximum_filter1d(void, 2 * reach_cells(deviation_m, height) + 1, axis=0, mode="constant")
    for band in _bands(widths):
        reach = reach_cells(deviation_m, widths[band.start])
        near[band] = maximum_filter1d(near[band], 2 * reach + 1, axis=1, mode="constant")
    return np.asarray(near, bool)


def _weights_of_all(
    shape: tuple[int, ...], widths: Floats, height: float, deviation_m: float
) -> NDArray[np.float32]:
    """Share of the Gaussian on known cells where all are: that of the block's own shape."""
    down = _along(np.ones((shape[0], 1), np.float32), deviation_m / height, 0)
    every, out = np.ones((1, shape[1]), np.float32), np.empty(shape, np.float32)
    for band in _bands(widths):
        np.multiply(_along(every, deviation_m / widths[band.start], 1), down[band], out=out[band])
    return out


def _blurred(
    values: NDArray[np.float32], widths: Floats, height: float, deviation_m: float
) -> NDArray[np.float32]:
    """Separable Gaussian with zeros beyond the border; across by band of equal cell width."""
    out = _along(values, deviation_m / height, 0)
    for band in _bands(widths):
        out[band] = _along(out[band], deviation_m / widths[band.start], 1)
    return out


def _along(values: NDArray[np.float32], deviation: float, axis: int) -> NDArray[np.float32]:
    values, out = np.ascontiguousarray(values), np.empty(values.shape, np.float32)
    reach = int(_REACH * deviation + 0.5)
    kernel = np.exp(-0.5 / deviation**2 * np.arange(-reach, reach + 1) ** 2)
    weights = (kernel / kernel.sum())[reach:]
    work = _down if axis == 0 else _across
    rows = len(values)
    if values.size < _ALONE:
        work(0, rows, values, weights, out)
    else:
        with ThreadPoolExecutor(2) as pool:
            ends = pairwise((0, rows // 2, rows))
            for one in [pool.submit(work, *part, values, weights, out) for part in ends]:
                one.result()
    return out


@compiled
def _down(
    first: int, last: int, values: NDArray[np.float32], weights: Floats, out: NDArray[np.float32]
) -> None:
    """Weigh rows with those above and below; `weights` is of a row itself, then of others."""
    rows, columns = values.shape
    nothing, total = np.zeros(columns, np.float32), np.empty(columns)
    for row in range(first, last):
        for c in range(columns):
            total[c] = weights[0] * values[row, c]
        for k in range(len(weights) - 1, 0, -1):
            above = values[row - k] if row >= k else nothing
            below = values[row + k] if row + k < rows else nothing
            _add(total, above, below, weights[k])
        for c in range(columns):
            out[row, c] = total[c]


@compiled
def _across(
    first: int, last: int, values: NDArray[np.float32], weights: Floats, out: NDArray[np.float32]
) -> None:
    """Weigh the cells of each row with those beside them, as `_down`."""
    columns, reach = values.shape[1], len(weights) - 1
    padded, total = np.zeros(columns + 2 * reach, np.float32), np.empty(columns)
    for row in range(first, last):
        for c in range(columns):
            padded[reach + c] = values[row, c]
            total[c] = weights[0] * values[row, c]
        for k in range(reach, 0, -1):
            _add(total, padded[reach - k :], padded[reach + k :], weights[k])
        for c in range(columns):
            out[row, c] = total[c]


@compiled
def _add(
    total: Floats, one: NDArray[np.float32], other: NDArray[np.float32], weight: float
) -> None:
    for c in range(len(total)):
        total[c] += (np.float64(one[c]) + np.float64(other[c])) * weight


def _bands(widths: Floats) -> list[slice]:
    """Cut rows into runs whose cells are equally wide."""
    edges = [0, *(np.flatnonzero(np.diff(widths)) + 1), len(widths)]
    return [slice(first, last) for first, last in pairwise(edges)]
