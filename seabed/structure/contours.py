"""Contours at chosen depths and the ground between two depths, by marching squares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.structure.marching import filled, level_lines, marching, placed
from seabed.structure.measure import areas_m2, lengths_m

__all__ = ["band_table", "contours", "depth_band"]


def contours(
    grid: xr.DataArray, depths_m: Sequence[float], *, min_length_m: float = 0.0
) -> gpd.GeoDataFrame:
    """Lines of equal depth.

    Parameters
    ----------
    grid : depth grid
    depths_m : sequence of float
        In any order; repeated depths count once.
    min_length_m : float
        Shorter lines are left out.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, by depth: ``depth_m``, ``length_m`` (over the ground), ``closed`` (the
        line comes back to its start), ``geometry`` LineString with the shallower side on the same
        hand throughout.  Empty, with these columns, where the bottom reaches none of the depths.

    Notes
    -----
    Vertices lie where the straight line between two neighbouring cell centres has the depth.  Lines
    end at voids and at the outermost cell centres; where one cell of four is void the other three
    still carry the line.
    """
    generator = marching(grid.values)
    parts, levels = [], []
    for depth in sorted({float(depth) for depth in depths_m}):
        points, offsets = level_lines(generator, depth)
        lines = shapely.from_ragged_array(
            shapely.GeometryType.LINESTRING, placed(points, grid), (offsets,)
        )
        parts.append(lines)
        levels.append(np.full(len(lines), depth))
    lines = np.concatenate(parts) if parts else np.empty(0, dtype=object)
    length = lengths_m(lines, grid)
    table = gpd.GeoDataFrame(
        {
            "depth_m": np.concatenate(levels) if levels else np.empty(0),
            "length_m": length,
            "closed": np.asarray(shapely.is_closed(lines), bool),
        },
        geometry=lines,
        crs=crs_of(grid),
    )
    return table if min_length_m <= 0 else table[length >= min_length_m].reset_index(drop=True)


def depth_band(grid: xr.DataArray, shallow_m: float, deep_m: float) -> gpd.GeoDataFrame:
    """Ground between two depths.

    Parameters
    ----------
    grid : depth grid
    shallow_m, deep_m : float
        The lesser and the greater depth, metres.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, largest first: ``shallow_m``, ``deep_m``, ``area_m2`` (over the ground,
        holes taken out), ``geometry`` Polygon.  Empty where no ground lies between.

    Raises
    ------
    GridError
        If the band has no width.

    Notes
    -----
    As for `contours`, ground is known between cell centres only: the outer half of the outermost
    cells, and of those beside a void, is not counted.
    """
    if not shallow_m < deep_m:
        raise GridError(
            f"a band from {shallow_m:g} m to {deep_m:g} m has no width",
            do="Give the lesser depth first.",
        )
    return band_table(
        filled(marching(grid.values), shallow_m, deep_m, grid), shallow_m, deep_m, grid
    )


def band_table(
    polygons: NDArray[Any], shallow_m: float, deep_m: float, grid: xr.DataArray
) -> gpd.GeoDataFrame:
    """Columns of `depth_band` for areas in the grid's CRS, the largest first."""
    area = areas_m2(polygons, grid)
    order = np.argsort(-area, kind="stable")
    return gpd.GeoDataFrame(
        {
            "shallow_m": np.full(len(polygons), float(shallow_m)),
            "deep_m": np.full(len(polygons), float(deep_m)),
            "area_m2": area[order],
        },
        geometry=polygons[order],
        crs=crs_of(grid),
    )
