"""Positions on a depth grid: the cells they are in, the depth under them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from scipy.ndimage import map_coordinates

from seabed.array_types import Floats, Pair
from seabed.geodesy import from_degrees
from seabed.grid.arrays import as_layer
from seabed.grid.contract import crs_of
from seabed.grid.extent import Bounds, bounds, transform_of

__all__ = ["sample"]

NO_WEIGHT: Final = 1e-6
"""Share of a neighbour, in a value between cells, that is rounding of coordinates only."""


def row_column(grid: xr.DataArray, longitude: Any, latitude: Any) -> Pair:
    """Row and column, in cells from the outer corner, of positions in degrees; NaN stays.

    The middle of the first cell is (0.5, 0.5). Outside the grid they go on counting.
    """
    return CellFinder.of(grid).row_column(longitude, latitude)


@dataclass(frozen=True, slots=True)
class CellFinder:
    """Where the cells of a grid are: a `row_column` that is fast when it is called often."""

    affine: Affine
    edge: Bounds | None
    turn: Any

    @classmethod
    def of(cls, grid: xr.DataArray) -> CellFinder:
        """Find where the cells of a grid are."""
        crs = crs_of(grid)
        return cls(transform_of(grid), bounds(grid) if crs.is_geographic else None, _turn(crs))

    def row_column(self, longitude: Any, latitude: Any) -> Pair:
        """Row and column of positions, as `row_column`."""
        x, y = np.asarray(longitude, float), np.asarray(latitude, float)
        if self.turn is not None:
            x, y = (np.asarray(part) for part in self.turn.transform(x, y))
        if self.edge is not None:
            x = turned_onto(x, self.edge)
        row = np.asarray((y - self.affine.f) / self.affine.e)
        column = np.asarray((x - self.affine.c) / self.affine.a)
        beyond = ~(np.isfinite(row) & np.isfinite(column))  # PROJ gives infinity for what it can't
        row[beyond] = column[beyond] = np.nan
        return row, column


@lru_cache(maxsize=64)
def _turn(crs: CRS) -> Any:
    """Give the way from degrees to a CRS; None where they are the same."""
    return None if crs.to_epsg() == 4326 else from_degrees(crs)


def sample(grid: xr.DataArray, longitude: NDArray[Any], latitude: NDArray[Any]) -> Floats:
    """Give depths, or whatever else a grid holds, under points: bilinear between cell centres.

    Parameters
    ----------
    grid : depth grid, or another array of that layout (`seabed.grid.arrays.as_layer`), in memory
    longitude, latitude : array, shape (n,)
        Degrees, WGS 84.

    Returns
    -------
    ndarray of float64, shape (n,)
        Metres; NaN outside the grid, at NaN positions, and where a cell that has a share in the
        value is NaN.  Within half a cell of the outer edge the nearest cells' values are held.
        Longitudes are taken by whole turns to the grid.

    Examples
    --------
    >>> from seabed import example_grid
    >>> sample(example_grid(), [3.0026, 0.0], [46.053, 46.0]).round(1).tolist()
    [9.6, nan]
    """
    grid = as_layer(grid)
    return values_between(np.asarray(grid.values), *row_column(grid, longitude, latitude))


def values_between(values: NDArray[Any], row: Floats, column: Floats) -> Floats:
    """Give values at rows and columns, in cells from the outer corner; else as `sample`.

    >>> values_between(np.array([[0.0, 2.0]]), np.array([0.5]), np.array([1.0])).tolist()
    [1.0]
    """
    rows, columns = values.shape
    inside = (column >= 0) & (column <= columns) & (row >= 0) & (row <= rows)
    out = np.full(row.shape, np.nan)
    at = np.array(
        [np.clip(row[inside] - 0.5, 0, rows - 1), np.clip(column[inside] - 0.5, 0, columns - 1)]
    )
    between = map_coordinates(values, at, output=np.float64, order=1, mode="nearest")
    spoilt = np.isnan(between)
    between[spoilt] = _weighed(values, at[0, spoilt], at[1, spoilt])
    out[inside] = between
    return out


def _weighed(values: NDArray[Any], row: Floats, column: Floats) -> Floats:
    """Bilinear values in which a cell without weight has no say, not even as NaN."""
    total = np.zeros(row.shape)
    for down, row_weight in _neighbours(row, values.shape[0]):
        for across, column_weight in _neighbours(column, values.shape[1]):
            weight = row_weight * column_weight
            total += np.where(weight > NO_WEIGHT, weight * values[down, across], 0.0)
    return total


def _neighbours(at: Floats, count: int) -> list[tuple[NDArray[np.intp], Floats]]:
    low = np.floor(at).astype(np.intp)
    share = at - low
    return [(low, 1 - share), (np.minimum(low + 1, count - 1), share)]


def turned_onto(longitude: Floats, edge: Bounds) -> Floats:
    """Move longitudes by whole turns to ``edge.west`` up to, not at, ``edge.west + 360``.

    >>> turned_onto(np.array([-170.0, 100.0]), Bounds(0, -90, 360, 90)).tolist()
    [190.0, 100.0]
    """
    turned: Floats = longitude - 360 * np.floor((longitude - edge.west) / 360)
    return turned
