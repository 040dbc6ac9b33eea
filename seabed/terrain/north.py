"""True north on a projected grid: the angle between its columns and the meridians."""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pyproj import Proj

from seabed.array_types import Floats
from seabed.geodesy import transformer
from seabed.grid import crs_of

_NODES: Final = 17


def convergence_at(grid: xr.DataArray, x: NDArray[Any], y: NDArray[Any]) -> Floats:
    """Meridian convergence: degrees to add to a bearing from grid north to make it true.

    Zero on geographic grids, and NaN where the projection is not defined.
    """
    crs = crs_of(grid)
    if not crs.is_projected or not np.size(x):
        return np.zeros(np.shape(x))
    longitude, latitude = transformer(crs, crs.geodetic_crs).transform(x, y)
    angle = Proj(crs).get_factors(longitude, latitude, errcheck=False).meridian_convergence
    return np.where(np.isfinite(angle), angle, np.nan)


def convergence_field(grid: xr.DataArray) -> Any:
    """Meridian convergence of every cell, degrees, interpolated from a coarse lattice.

    The lattice has 17 nodes a side: on a transverse Mercator grid 100 km wide the interpolation is
        right to 1e-4 degrees.
    """
    rows, columns = grid.shape
    at_rows, at_columns = _nodes(rows), _nodes(columns)
    x, y = np.meshgrid(grid["x"].values[at_columns], grid["y"].values[at_rows])
    lattice = convergence_at(grid, x, y).astype(np.float32)
    down, across = _weights(rows, at_rows), _weights(columns, at_columns).T
    if grid.chunks is None:
        return down @ lattice @ across
    da: Any = import_module("dask.array")  # slow to load, and only wanted here

    return da.matmul(
        da.from_array(down, chunks=(grid.chunks[0], -1)),
        da.from_array(lattice @ across, chunks=(-1, grid.chunks[1])),
    )


def _nodes(count: int) -> NDArray[np.intp]:
    return np.unique(np.linspace(0, count - 1, _NODES).round().astype(np.intp))


def _weights(count: int, nodes: NDArray[np.intp]) -> NDArray[np.float32]:
    """Linear interpolation from nodes to every index, as a matrix (count, nodes)."""
    at = np.arange(count)
    return np.stack([np.interp(at, nodes, unit) for unit in np.eye(len(nodes))], axis=1).astype(
        np.float32
    )
