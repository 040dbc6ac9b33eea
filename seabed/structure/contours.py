"""Contours at chosen depths and the ground between two depths, by marching squares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.structure.measure import areas_m2, lengths_m

__all__ = ["contours", "depth_band"]


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
    generator = _generator(grid)
    parts, levels = [], []
    for depth in sorted({float(depth) for depth in depths_m}):
        (points,), (offsets,) = generator.lines(depth)
        if points is None:
            continue
        lines = shapely.from_ragged_array(
            shapely.GeometryType.LINESTRING, points, (offsets.astype(np.int64),)
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
    polygons = filled(_generator(grid), shallow_m, deep_m)
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


def filled(generator: Any, lower: float, upper: float) -> NDArray[Any]:
    """Give the polygons, with holes, where a generator's values lie between two."""
    (points,), (rings,), (outers,) = generator.filled(lower, upper)
    if points is None:
        return np.empty(0, dtype=object)
    polygons = shapely.from_ragged_array(
        shapely.GeometryType.POLYGON, points, (rings.astype(np.int64), outers.astype(np.int64))
    )
    return _valid(polygons)


def _valid(polygons: NDArray[Any]) -> NDArray[Any]:
    """Mend rings that touch themselves at a saddle; drop what has no area."""
    bad = ~shapely.is_valid(polygons)
    if bad.any():
        mended = shapely.get_parts(shapely.make_valid(polygons[bad]))
        flat = shapely.get_type_id(mended) == shapely.GeometryType.POLYGON
        polygons = np.concatenate([polygons[~bad], mended[flat]])
    return np.asarray(polygons[shapely.area(polygons) > 0], dtype=object)


def _generator(grid: xr.DataArray) -> Any:
    return contour_generator(
        grid["x"].values,
        grid["y"].values,
        np.ma.masked_invalid(grid.values, copy=False),
        name="serial",
        corner_mask=True,
        line_type=LineType.ChunkCombinedOffset,
        fill_type=FillType.ChunkCombinedOffsetOffset,
    )
