"""The depth grid: one ``xarray.DataArray`` and what may be relied on about it.

A depth grid is named ``depth``; float32 metres, positive down; dimensions ``(y, x)`` with
cell-centre coordinates, ``y`` falling (north at the top) and ``x`` rising, both evenly spaced;
coordinate reference system in ``spatial_ref`` as CF has it, where rioxarray finds it too; land and
void are NaN.  Attributes follow CF, plus ``vertical_datum`` and ``source``.  It may be dask-backed.
"""

from __future__ import annotations

from collections.abc import Hashable
from functools import lru_cache
from typing import Any, Final, TypeVar

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from seabed.errors import GridError

Grid = TypeVar("Grid", xr.DataArray, xr.Dataset)

GRID_MAPPING: Final = "spatial_ref"
"""Coordinate that holds the coordinate reference system."""

UNKNOWN_DATUM: Final = "unknown"


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
    shape = np.shape(depth)
    if len(shape) != 2 or 0 in shape:
        raise GridError(f"a depth grid has two dimensions and some cells, not shape {shape}")
    if transform.b or transform.d:
        raise GridError(
            "the grid is rotated against its axes", do="Warp it north-up first (gdalwarp does it)."
        )
    rows, columns = shape
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
    """Give a grid, or a set of them, with a CRS written into it by the CF conventions."""
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
    crs_of(grid)
    for name, sign in (("x", 1.0), ("y", -1.0)):
        step = np.diff(grid[name].values)
        if step.size and not np.allclose(step, step[0], rtol=1e-3):
            raise GridError(f"cells are not evenly spaced along {name}", file=file)
        if step.size and step[0] * sign <= 0:
            raise GridError(f"{name} runs the wrong way", file=file)


def crs_or_none(grid: xr.DataArray) -> CRS | None:
    """Coordinate reference system, or None."""
    name = grid.encoding.get("grid_mapping") or grid.attrs.get("grid_mapping") or GRID_MAPPING
    held = grid.coords.variables  # several times quicker than the arrays of `coords`
    about = held[name].attrs if name in held else {}
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
    crs = crs_or_none(grid)
    if crs is None:
        raise GridError(
            "the grid has no coordinate reference system",
            file=grid.attrs.get("source") or None,
            do="Name it with {crs}, like EPSG:32610.",
        )
    return crs
