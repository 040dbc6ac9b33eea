"""Where a map whose grid is reduced keeps full detail: around lines, drifts, fish and features."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from rasterio.warp import transform_bounds

from layers.maps.content import MapContent
from seabed.geodesy import from_degrees
from seabed.grid import crs_of, transform_of

TILE: Final = 128
"""Cells along a side of a tile of full detail."""

REACH: Final = 0.4
"""A tile is kept if what matters comes within this share of its side."""

TABLES: Final = ("lines", "plan", "stretches", "drifts", "catches", "features", "edges")
"""Tables of a map around which detail is kept, the most important first."""


def places_that_matter(content: MapContent) -> list[NDArray[np.object_]]:
    """Geometries, EPSG:4326, of each of `TABLES` that the map has; of features, their peaks."""
    outlines = []
    for name in TABLES:
        table: gpd.GeoDataFrame | None = getattr(content, name)
        if table is None or not len(table) or table.crs is None:
            continue
        if "peak_x" in table.columns:
            points = gpd.points_from_xy(table["peak_x"], table["peak_y"], crs=table.crs)
            outlines.append(np.asarray(points.to_crs("EPSG:4326"), object))
        else:
            outlines.append(table.geometry.to_crs("EPSG:4326").to_numpy())
    return outlines


def tiles_near(
    near: Iterable[NDArray[np.object_]], transform: Affine, shape: tuple[int, int]
) -> list[tuple[int, int]]:
    """Choose tiles around geometries.

    near: arrays of geometries, EPSG:4326, the most important first.
    transform, shape: of the lattice of full detail in web Mercator.
    Returned: row and column of each tile once: those of the first array first, and of one array
        those with most of it.  Missing and empty geometries give none.
    """
    to_web = from_degrees("EPSG:3857")
    across = TILE * transform.a
    rows, columns = (-(-cells // TILE) for cells in shape)
    order: dict[int, None] = {}
    for geometries in near:
        kept = geometries[~(shapely.is_missing(geometries) | shapely.is_empty(geometries))]
        if not len(kept):
            continue
        moved = shapely.transform(
            shapely.force_2d(kept), lambda xy: np.column_stack(to_web.transform(xy[:, 0], xy[:, 1]))
        )
        places = shapely.get_coordinates(shapely.segmentize(moved, across / 2))
        column = (places[:, 0] - transform.c) / across
        row = (transform.f - places[:, 1]) / across
        seen = []
        for down in (-REACH, 0.0, REACH):
            for right in (-REACH, 0.0, REACH):
                r, c = np.floor(row + down), np.floor(column + right)
                inside = (r >= 0) & (r < rows) & (c >= 0) & (c < columns)
                seen.append((r * columns + c)[inside].astype(np.int64))
        tiles, counts = np.unique(np.concatenate(seen), return_counts=True)
        order |= dict.fromkeys(tiles[np.argsort(-counts, kind="stable")].tolist())
    return [divmod(tile, columns) for tile in order]


def tile_window(
    grid: xr.DataArray, edges: tuple[float, float, float, float], crs: Any
) -> xr.DataArray | None:
    """Cells of `grid` under a box of another CRS, and two around it; None if it is off the grid."""
    west, south, east, north = transform_bounds(crs, crs_of(grid), *edges)
    to_cell = ~transform_of(grid)
    left, top = to_cell @ (west, north)
    right, bottom = to_cell @ (east, south)
    rows = slice(max(0, int(top) - 2), max(0, int(np.ceil(bottom)) + 2))
    columns = slice(max(0, int(left) - 2), max(0, int(np.ceil(right)) + 2))
    part = grid[rows, columns]
    return part if min(part.shape) > 1 else None
