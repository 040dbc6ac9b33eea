"""Contours at chosen depths and the ground between two depths, by marching squares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.arrays import as_grid
from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.schema import Table, documented
from seabed.structure.marching import filled, level_lines, marching, placed
from seabed.structure.measure import areas_m2, lengths_m

__all__ = ["band_table", "contour_table", "contours", "depth_band"]

CONTOURS: Final = Table.of(
    "contours",
    "seabed.structure.contours",
    """
    depth_m ["Depth"] of the line
    length_m ["Length" distance .2] over the ground
    closed [bool] the line comes back to its start
    geometry [LineString] with the shallower side on the same hand throughout
    """,
)
BAND: Final = Table.of(
    "band",
    "seabed.structure.depth_band",
    """
    shallow_m, deep_m [depth] the lesser and the greater depth
    area_m2 over the ground, holes taken out
    geometry [Polygon]
    """,
)


@documented(CONTOURS)
def contours(
    grid: xr.DataArray, depths_m: float | Sequence[float], *, min_length_m: float = 0.0
) -> gpd.GeoDataFrame:
    """Lines of equal depth.

    Parameters
    ----------
    grid : depth grid
    depths_m : float or sequence of float
        In any order; repeated depths count once.
    min_length_m : float
        Shorter lines are left out.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, by depth; without rows where the bottom reaches none of the depths.

        {contours}

    Notes
    -----
    Vertices lie where the straight line between two neighbouring cell centres has the depth.  Lines
    end at voids and at the outermost cell centres; where one cell of four is void the other three
    still carry the line.

    Examples
    --------
    >>> from seabed import example_grid
    >>> contours(example_grid(), [8, 12])[["depth_m", "length_m"]].round(0).values.tolist()
    [[8.0, 295.0], [12.0, 295.0]]
    """
    grid = as_grid(grid)
    generator = marching(grid.values)
    parts, levels = [], []
    for depth in sorted({float(depth) for depth in np.atleast_1d(depths_m)}):
        points, offsets = level_lines(generator, depth)
        lines = shapely.from_ragged_array(
            shapely.GeometryType.LINESTRING, placed(points, grid), (offsets,)
        )
        parts.append(lines)
        levels.append(np.full(len(lines), depth))
    lines = np.concatenate(parts) if parts else np.empty(0, dtype=object)
    table = contour_table(lines, np.concatenate(levels) if levels else [], grid)
    keep = table["length_m"] >= min_length_m
    return table if min_length_m <= 0 else table[keep].reset_index(drop=True)


def contour_table(lines: NDArray[Any], depth_m: Any, grid: xr.DataArray) -> gpd.GeoDataFrame:
    """Make the table of `contours` of lines in the grid's CRS, and the depth of all or each."""
    columns = {
        "depth_m": np.broadcast_to(np.asarray(depth_m, float), len(lines)),
        "length_m": lengths_m(lines, grid),
        "closed": shapely.is_closed(lines),
        "geometry": lines,
    }
    return CONTOURS.frame(columns, crs=crs_of(grid))


@documented(BAND)
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
        In the grid's CRS, largest first; without rows where no ground lies between.

        {band}

    Raises
    ------
    GridError
        If the band has no width.

    Notes
    -----
    As for `contours`, ground is known between cell centres only: the outer half of the outermost
    cells, and of those beside a void, is not counted.

    Examples
    --------
    >>> from seabed import example_grid
    >>> depth_band(example_grid(), 8, 12)["area_m2"].round(0).tolist()
    [4964.0]
    """
    grid = as_grid(grid)
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
    """Make the table of `depth_band` of areas in the grid's CRS."""
    area = areas_m2(polygons, grid)
    order = np.argsort(-area, kind="stable")
    columns = {
        "shallow_m": np.full(len(polygons), float(shallow_m)),
        "deep_m": np.full(len(polygons), float(deep_m)),
        "area_m2": area[order],
        "geometry": polygons[order],
    }
    return BAND.frame(columns, crs=crs_of(grid))
