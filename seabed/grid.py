"""The depth grid: one ``xarray.DataArray`` and what may be relied on about it.

A depth grid is named ``depth``; float32 metres, positive down; dimensions ``(y, x)`` with
cell-centre coordinates, ``y`` falling (north at the top) and ``x`` rising, both evenly spaced;
coordinate reference system in ``spatial_ref`` as CF has it, where rioxarray finds it too; land and
void are NaN.  Attributes follow CF, plus ``vertical_datum`` and ``source``.  It may be dask-backed.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, TypeVar

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from seabed.errors import GridError
from seabed.geodesy import cell_metres, is_metric, to_degrees, utm_zone

__all__ = [
    "Bounds",
    "CellSize",
    "bounds",
    "cell_size",
    "check_grid",
    "crs_of",
    "degree_bounds",
    "make_grid",
    "transform_of",
    "window",
    "with_crs",
]

Grid = TypeVar("Grid", xr.DataArray, xr.Dataset)

GRID_MAPPING: Final = "spatial_ref"
"""Coordinate that holds the coordinate reference system."""

UNKNOWN_DATUM: Final = "unknown"


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

    easting: NDArray[np.float64]
    northing: NDArray[np.float64]

    @property
    def typical(self) -> float:
        """Geometric mean of width and height at the middle row, metres."""
        row = len(self.easting) // 2
        return float(np.sqrt(self.easting[row] * self.northing[row]))


def make_grid(
    depth: NDArray[Any],
    *,
    transform: Affine,
    crs: Any,
    vertical_datum: str = UNKNOWN_DATUM,
    source: str = "",
    attributes: dict[str, Any] | None = None,
) -> xr.DataArray:
    """Wrap an array of depths as a depth grid.

    Parameters
    ----------
    depth : array, shape (rows, columns)
        Metres, positive down, NaN for land and void; numpy or dask.  Row 0 is the one that
        `transform` says.
    transform : affine.Affine
        From (column, row) of a cell's corner to CRS coordinates, without rotation.
    crs : anything ``pyproj.CRS.from_user_input`` takes
    vertical_datum, source : str
        Kept as attributes.
    attributes : dict, optional
        More attributes.

    Returns
    -------
    xarray.DataArray
        A depth grid: rows flipped to north-up and columns to west-east where they were not.

    Raises
    ------
    GridError
        If `depth` has not two dimensions or the transform is rotated.

    Examples
    --------
    >>> import numpy as np
    >>> from affine import Affine
    >>> plane = np.fromfunction(lambda row, column: 10.0 + column, (3, 4))
    >>> grid = make_grid(plane, transform=Affine(10, 0, 0, 0, -10, 0), crs="EPSG:32631")
    >>> grid["x"].values.tolist(), grid["y"].values.tolist()
    ([5.0, 15.0, 25.0, 35.0], [-5.0, -15.0, -25.0])
    """
    if depth.ndim != 2 or 0 in depth.shape:
        raise GridError(f"a depth grid has two dimensions and some cells, not shape {depth.shape}")
    if transform.b or transform.d:
        raise GridError(
            "the grid is rotated against its axes", do="Warp it north-up first (gdalwarp does it)."
        )
    rows, columns = depth.shape
    return depth_grid(
        depth,
        y=transform.f + transform.e * (np.arange(rows) + 0.5),
        x=transform.c + transform.a * (np.arange(columns) + 0.5),
        crs=crs,
        vertical_datum=vertical_datum,
        source=source,
        attributes=attributes,
    )


def depth_grid(
    depth: Any,
    *,
    y: NDArray[np.floating[Any]],
    x: NDArray[np.floating[Any]],
    crs: Any,
    vertical_datum: str = UNKNOWN_DATUM,
    source: str = "",
    attributes: dict[str, Any] | None = None,
) -> xr.DataArray:
    """Wrap depths as `make_grid` does, with the centres of rows and columns, in either order."""
    about = {
        "standard_name": "depth",
        "long_name": "depth below the vertical datum",
        "units": "m",
        "positive": "down",
        "vertical_datum": vertical_datum,
        "source": source,
        **(attributes or {}),
    }
    depths = depth.astype(np.float32, copy=False)
    return on_cells(depths, y=y, x=x, crs=crs, name="depth", attributes=about)


def on_cells(
    values: Any,
    *,
    y: NDArray[np.floating[Any]],
    x: NDArray[np.floating[Any]],
    crs: Any,
    name: Hashable,
    attributes: dict[str, Any],
) -> xr.DataArray:
    """Lay values on cells by their centres, flipped north up and west to the left."""
    array = xr.DataArray(
        values, dims=("y", "x"), coords={"y": y, "x": x}, name=name, attrs=attributes
    )
    if y[0] < y[-1]:
        array = array[::-1]
    if x[0] > x[-1]:
        array = array[:, ::-1]
    return with_crs(array, crs)


def with_crs(grid: Grid, crs: Any) -> Grid:
    """Give a grid, or a set of them, with a CRS written into it by the CF conventions.

    Parameters
    ----------
    grid : DataArray or Dataset
    crs : anything ``pyproj.CRS.from_user_input`` takes

    Examples
    --------
    >>> from seabed import example_grid
    >>> crs_of(with_crs(example_grid(), "EPSG:25831")).to_epsg()
    25831
    """
    system = CRS.from_user_input(crs)
    wkt = system.to_wkt()
    about = {**system.to_cf(), "crs_wkt": wkt, "spatial_ref": wkt}
    placed = grid.assign_coords({GRID_MAPPING: xr.Variable((), 0, about)})
    for one in placed.data_vars.values() if isinstance(placed, xr.Dataset) else (placed,):
        one.attrs.pop("grid_mapping", None)
        one.encoding["grid_mapping"] = GRID_MAPPING
    return placed


def check_grid(grid: xr.DataArray) -> None:
    """Hold a grid to the contract of this module.

    Raises
    ------
    GridError
        Saying which part of the contract does not hold.

    Examples
    --------
    >>> from seabed import example_grid
    >>> check_grid(example_grid())
    """
    file = grid.attrs.get("source") or None
    if grid.dims != ("y", "x"):
        raise GridError(f"dimensions must be (y, x), not {grid.dims}", file=file)
    if 0 in grid.shape:
        raise GridError("the grid has no cells", file=file)
    if grid.dtype != np.float32:
        raise GridError(f"depths must be float32, not {grid.dtype}", file=file)
    if crs_or_none(grid) is None:
        raise GridError(
            "the grid has no coordinate reference system",
            file=file,
            do="Name it with {crs}, like EPSG:32610.",
        )
    for name, sign in (("x", 1.0), ("y", -1.0)):
        step = np.diff(grid[name].values)
        if step.size and not np.allclose(step, step[0], rtol=1e-3):
            raise GridError(f"cells are not evenly spaced along {name}", file=file)
        if step.size and step[0] * sign <= 0:
            raise GridError(f"{name} runs the wrong way", file=file)


def crs_or_none(grid: xr.DataArray) -> CRS | None:
    """Coordinate reference system, or None."""
    name = grid.encoding.get("grid_mapping") or grid.attrs.get("grid_mapping") or GRID_MAPPING
    about = grid.coords[name].attrs if name in grid.coords else {}
    wkt = about.get("crs_wkt") or about.get("spatial_ref") or grid.attrs.get("crs")
    if wkt is not None:
        return _crs(str(wkt))
    return CRS.from_cf(about) if "grid_mapping_name" in about else None


@lru_cache(maxsize=64)
def _crs(words: str) -> CRS:
    return CRS.from_user_input(words)


def crs_of(grid: xr.DataArray) -> CRS:
    """Horizontal coordinate reference system as a ``pyproj.CRS``.  GridError if there is none.

    Examples
    --------
    >>> from seabed import example_grid
    >>> crs_of(example_grid()).to_epsg()
    32631
    """
    found = crs_or_none(grid)
    if found is None:
        raise GridError(
            "the grid has no coordinate reference system",
            file=grid.attrs.get("source") or None,
            do="Name it with {crs}, like EPSG:32610.",
        )
    return found


def transform_of(grid: xr.DataArray) -> Affine:
    """Affine from (column, row) of a cell's north-west corner to CRS coordinates.

    Examples
    --------
    >>> from seabed import example_grid
    >>> transform_of(example_grid()) @ (0, 0)
    (500000.0, 5100000.0)
    """
    x, y = grid["x"].values, grid["y"].values
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
    x, y = grid["x"].values.astype(float), grid["y"].values.astype(float)
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
    """Cut out the cells whose centres lie in `box` (units of the grid's CRS).

    Raises
    ------
    GridError
        If no cell does.

    Examples
    --------
    >>> from seabed import example_grid
    >>> window(example_grid(), Bounds(500_100, 5_099_800, 500_200, 5_099_900)).shape
    (20, 20)
    """
    part = grid.sel(x=slice(box.west, box.east), y=slice(box.north, box.south))
    if 0 in part.shape:
        raise GridError(
            f"nothing of the grid lies in {box}",
            file=grid.attrs.get("source") or None,
            do=f"The grid covers {bounds(grid)}.",
        )
    return part


def _spacing(centres: NDArray[Any]) -> float:
    """Even step between cell centres; a single row or column counts as one unit."""
    return float((centres[-1] - centres[0]) / (len(centres) - 1)) if len(centres) > 1 else 1.0
