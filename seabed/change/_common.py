"""Two surveys on the same cells."""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr
from scipy.ndimage import gaussian_filter

from seabed.array_types import Depths, Mask
from seabed.errors import GridError
from seabed.geodesy import to_degrees
from seabed.grid import cell_size, crs_of, transform_of
from seabed.grid.places import CellFinder, values_between

MOST_CELLS: Final = 16_000_000
_NODE: Final = 32
"""Cells from one to the next that are projected; places between are by proportion."""
_STRIP: Final = 512


def common_cells(newer: xr.DataArray, older: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray]:
    """Put cells of both, on their own axes, together to those of about the coarser one."""
    fine, coarse = cell_size(newer).typical, cell_size(older).typical
    times = max(1, round(coarse / fine), int(np.ceil(np.sqrt(newer.size / MOST_CELLS))))
    newer = coarsened(newer, times)
    return newer, coarsened(older, max(1, int(cell_size(newer).typical / coarse + 0.25)))


def coarsened(grid: xr.DataArray, times: int) -> xr.DataArray:
    """Give means over squares of `times` cells a side; unknown where one cell is."""
    if times == 1:
        return grid
    if min(grid.shape) < 3 * times:
        raise GridError(
            f"squares of {times} cells, as large as those of the other grid, are too large for it",
            do="Compare grids of like cells, or give a larger part.",
        )
    return grid.coarsen(y=times, x=times, boundary="trim").reduce(np.mean)


def laid_on(
    grid: xr.DataArray, frame: xr.DataArray, *, east_m: float = 0.0, north_m: float = 0.0
) -> Depths:
    """Give a grid's values, moved over the ground, at the cell centres of another, of any CRS.

    Bilinear; NaN beyond the grid and beside its voids.

    east_m, north_m: how far the values are moved, along the frame's axes.
    """
    size, affine, finder = cell_size(frame), transform_of(frame), CellFinder.of(grid)
    degrees = to_degrees(crs_of(frame))
    rows, columns = (np.unique([*range(0, count, _NODE), count - 1]) for count in frame.shape)
    across, down = np.meshgrid(columns + 0.5, rows + 0.5)
    across = across - east_m / size.easting[rows][:, None]
    down = down + north_m / size.northing[rows][:, None]
    longitude, latitude = degrees.transform(*(affine @ (across, down)))
    nodes = finder.row_column(longitude, latitude)
    every = [np.stack([np.interp(np.arange(count), at, unit) for unit in np.eye(len(at))], axis=1)
             for count, at in zip(frame.shape, (rows, columns), strict=True)]  # fmt: skip
    values, out = grid.values, np.empty(frame.shape, np.float32)
    for first in range(0, len(out), _STRIP):
        strip = slice(first, first + _STRIP)
        row, column = (every[0][strip] @ node @ every[1].T for node in nodes)
        out[strip] = values_between(values, row, column)
    return out


def blurred(values: Depths, cells: float) -> Depths:
    """Gaussian mean of the known cells; NaN where less than half of its weight is known."""
    known = np.isfinite(values)
    total = _gaussian(np.where(known, values, np.float32(0)), cells)
    weight = _gaussian(known.astype(np.float32), cells)
    out = np.full(values.shape, np.nan, np.float32)
    np.divide(total, weight, out=out, where=weight > 0.5)
    return out


def noise_left(known: Mask, cells: float) -> Depths:
    """Share of the noise of single cells that `blurred` leaves: more of it beside voids."""
    squares = _gaussian(known.astype(np.float32), cells / np.sqrt(2)) / (4 * np.pi * cells**2)
    weight = np.maximum(_gaussian(known.astype(np.float32), cells), np.float32(0.5))
    return np.asarray(np.sqrt(squares) / weight, np.float32)


def _gaussian(values: Depths, cells: float) -> Depths:
    return np.asarray(gaussian_filter(values, cells, truncate=3.0, mode="constant"), np.float32)
