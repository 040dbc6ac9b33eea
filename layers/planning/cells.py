"""Where boats are on a grid."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from seabed.grid import bounds, crs_of, transform_of, turned_onto

__all__ = ["cell_index", "row_column"]

Floats = NDArray[np.float64]


def row_column(grid: xr.DataArray, longitude: Any, latitude: Any) -> tuple[Floats, Floats]:
    """Row and column, in cells from the outer corner, of positions in degrees; NaN stays.

    The middle of the first cell is (0.5, 0.5).  Outside the grid they go on counting.
    """
    crs = crs_of(grid)
    if crs.to_epsg() == 4326:
        x, y = np.asarray(longitude, float), np.asarray(latitude, float)
    else:
        x, y = _from_degrees(crs).transform(longitude, latitude)
    if crs.is_geographic:
        x = turned_onto(np.asarray(x), bounds(grid))
    affine = transform_of(grid)
    row, column = (np.asarray(y) - affine.f) / affine.e, (np.asarray(x) - affine.c) / affine.a
    beyond = ~(np.isfinite(row) & np.isfinite(column))  # PROJ gives infinity for what it can't
    row[beyond] = column[beyond] = np.nan
    return row, column


def cell_index(shape: tuple[int, int], row: Floats, column: Floats) -> NDArray[np.int64]:
    """Flat index of the cell that a place lies in; -1 off the grid and at NaN."""
    inside = (row >= 0) & (row < shape[0]) & (column >= 0) & (column < shape[1])
    cells = np.full(row.shape, -1, np.int64)
    cells[inside] = row[inside].astype(np.int64) * shape[1] + column[inside].astype(np.int64)
    return cells


@lru_cache(maxsize=8)
def _from_degrees(crs: CRS) -> Transformer:
    return Transformer.from_crs("EPSG:4326", crs, always_xy=True)
