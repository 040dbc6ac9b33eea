"""The extent of a grid: its outer edges, its cells in metres, a part of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from seabed.array_types import Floats
from seabed.errors import GridError
from seabed.geodesy import cell_metres, is_metric, to_degrees, utm_zone
from seabed.grid.contract import crs_of


@dataclass(frozen=True, slots=True)
class Bounds:
    """Outer edges of a grid or window, in the units of its CRS, in west-south-east-north order.

    Examples
    --------
    >>> Bounds(2.0, 50.0, 4.0, 51.0).middle
    (3.0, 50.5)
    """

    west: float
    south: float
    east: float
    north: float

    @classmethod
    def of(cls, box: Any) -> Bounds | None:
        """Make bounds of four numbers, west, south, east, north; bounds and None stay.

        Raises
        ------
        GridError
            If they are no four numbers.
        """
        if box is None or isinstance(box, cls):
            return box
        try:
            west, south, east, north = map(float, box)
        except (TypeError, ValueError) as error:
            raise GridError(
                f"a box is four numbers, not {box!r}", do="Give west, south, east, north."
            ) from error
        return cls(west, south, east, north)

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle, x and y."""
        return (self.west + self.east) / 2, (self.south + self.north) / 2


@dataclass(frozen=True, slots=True)
class CellSize:
    """Size of the cells of each row in metres over the ground.

    Attributes
    ----------
    easting, northing : ndarray of float64, shape (rows,)
        Width and height.  The same in every row of a projected grid; geodesic, and varying by row,
        on a geographic grid.
    """

    easting: Floats
    northing: Floats

    @property
    def typical(self) -> float:
        """Geometric mean of width and height at the middle row, metres."""
        row = len(self.easting) // 2
        return float(np.sqrt(self.easting[row] * self.northing[row]))


def transform_of(grid: xr.DataArray) -> Affine:
    """Affine from (column, row) of a cell's north-west corner to CRS coordinates.

    Examples
    --------
    >>> from seabed import example_grid
    >>> transform_of(example_grid()) @ (0, 0)
    (500000.0, 5100000.0)
    """
    x, y = (grid.coords.variables[axis].values for axis in "xy")
    width, height = _spacing(x), _spacing(y)
    return Affine(width, 0.0, x[0] - width / 2, 0.0, height, y[0] - height / 2)


def bounds(grid: xr.DataArray) -> Bounds:
    """Outer edges (not cell centres) of the grid.

    Examples
    --------
    >>> from seabed import example_grid
    >>> bounds(example_grid())
    Bounds(west=500000.0, south=5099700.0, east=500400.0, north=5100000.0)
    """
    affine = transform_of(grid)
    rows, columns = grid.shape
    return Bounds(affine.c, affine.f + affine.e * rows, affine.c + affine.a * columns, affine.f)


def degree_bounds(grid: xr.DataArray) -> Bounds:
    """Box in degrees (WGS 84) that holds the grid's outer edges; a geographic grid's own.

    Examples
    --------
    >>> from seabed import example_grid
    >>> box = degree_bounds(example_grid())
    >>> round(box.west, 4), round(box.north, 4)
    (3.0, 46.0536)
    """
    edge, crs = bounds(grid), crs_of(grid)
    if crs.is_geographic:
        return edge
    return Bounds(*to_degrees(crs).transform_bounds(edge.west, edge.south, edge.east, edge.north))


def cell_size(grid: xr.DataArray) -> CellSize:
    """Width and height of the cells of each row in metres.

    Projected grids use the CRS's unit of length.  Geographic grids use the geodesic on the CRS's
    own ellipsoid (Karney 2013, through PROJ) across one cell, along parallel and meridian.

    Examples
    --------
    >>> from seabed import example_grid
    >>> round(cell_size(example_grid()).typical, 2)
    5.0
    """
    x, y = (grid.coords.variables[axis].values.astype(float) for axis in "xy")
    return CellSize(*cell_metres(crs_of(grid), abs(_spacing(x)), abs(_spacing(y)), y))


def metric_crs(grid: xr.DataArray) -> CRS:
    """CRS in metres fit for measuring over this grid.

    The grid's own if it is projected in metres; else the UTM zone of its middle (WGS 84).
    """
    crs = crs_of(grid)
    if is_metric(crs):
        return crs
    return utm_zone(*to_degrees(crs).transform(*bounds(grid).middle))


def window(grid: xr.DataArray, box: Bounds) -> xr.DataArray:
    """Cut out the cells whose centres are in `box`, in the grid's CRS; GridError if none is."""
    part = grid.sel(x=slice(box.west, box.east), y=slice(box.north, box.south))
    if 0 in part.shape:
        raise GridError(
            f"no part of the grid is in {box}",
            file=grid.attrs.get("source") or None,
            do=f"The grid covers {bounds(grid)}.",
        )
    return part


def _spacing(centres: NDArray[Any]) -> float:
    """Even step between cell centres; a single row or column counts as one unit."""
    return float((centres[-1] - centres[0]) / (len(centres) - 1)) if len(centres) > 1 else 1.0
