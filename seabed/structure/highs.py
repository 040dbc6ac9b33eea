"""Humps and holes: closed highs and lows with their prominence, footprint and nesting."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from contourpy import FillType, contour_generator
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from seabed.errors import GridError
from seabed.grid import cell_size, crs_of
from seabed.structure.contours import filled
from seabed.structure.measure import areas_m2
from seabed.structure.mergetree import Depths, Peaks, flood, merge_tree
from seabed.terrain.chunks import contiguous
from seabed.terrain.north import convergence_at

__all__ = ["holes", "humps"]

Kind = Literal["hump", "hole"]

COLUMNS: Final = (
    "feature_id", "kind", "crest_depth_m", "saddle_depth_m", "height_m", "area_m2", "long_axis_m",
    "short_axis_m", "bearing_deg", "parent_id", "peak_x", "peak_y", "open",
)  # fmt: skip


def humps(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
) -> gpd.GeoDataFrame:
    """Closed highs of the bottom, with prominence from the merge tree.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    min_height_m : float
        Least prominence: height of the crest over the key saddle, the deepest one must go to reach
        higher ground.
    min_area_m2, max_area_m2 : float, optional
        Least and greatest area of the footprint.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, highest first:

        - ``feature_id``: 0, 1, ...; ``kind``: ``"hump"``
        - ``crest_depth_m``, ``saddle_depth_m``, ``height_m``: depths of cells, exact to the grid
        - ``area_m2``: of the footprint, over the ground
        - ``long_axis_m``, ``short_axis_m``: full axes of the ellipse with the footprint's second
          moments; ``bearing_deg``: of the long one, 0 <= bearing < 180, degrees true
        - ``parent_id``: the next greater hump whose footprint holds this one; -1 for none
        - ``peak_x``, ``peak_y``: centre of the crest's cell, in the grid's CRS
        - ``open``: the saddle lies at the border or a void, so that the height is a lower bound
        - ``geometry``: Polygon, the closed contour at the saddle's depth around the crest

        Empty, with these columns, where there is none.

    Notes
    -----
    What lies beyond the border or in a void is not known and is taken as higher ground.  So a high
    that runs out of the grid, or up to land, is no hump; one whose upper part closes inside counts
    as far as it closes, and is ``open``.  Voids of at most 16 cells are overlooked.  Takes
    O(n log n); footprints add their area, nested ones each.
    """
    return _features(grid, "hump", min_height_m, min_area_m2, max_area_m2)


def holes(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
) -> gpd.GeoDataFrame:
    """Closed lows of the bottom: `humps` of the bottom turned over.

    ``crest_depth_m`` is the deepest point, ``saddle_depth_m`` the sill over which it would spill,
    ``height_m`` the difference.  What lies beyond the border or in a void is taken as deeper.
    """
    return _features(grid, "hole", min_height_m, min_area_m2, max_area_m2)


@dataclass(frozen=True, slots=True)
class _Footprint:
    polygon: shapely.Polygon
    peak: int


def _features(
    grid: xr.DataArray,
    kind: Kind,
    min_height_m: float,
    min_area_m2: float,
    max_area_m2: float | None,
) -> gpd.GeoDataFrame:
    if not min_height_m > 0:
        raise GridError(
            f"a least height of {min_height_m:g} m would keep every ripple",
            do="Give a height above 0 m.",
        )
    sign = np.float32(1 if kind == "hump" else -1)
    depth = contiguous(grid.values)
    depth = depth if sign > 0 else -depth
    peaks = merge_tree(depth)
    height = peaks.saddle.astype(float) - peaks.crest
    chosen = np.flatnonzero((height >= min_height_m) & np.isfinite(height))
    chosen = chosen[np.lexsort((peaks.cell[chosen], -height[chosen]))]
    polygons = np.array(
        [_placed(grid, outline) for outline in _outlines(depth, peaks, chosen)], dtype=object
    )
    table = _described(grid, polygons, peaks, chosen).assign(
        kind=kind,
        crest_depth_m=sign * peaks.crest[chosen].astype(float),
        saddle_depth_m=sign * peaks.saddle[chosen].astype(float),
        height_m=height[chosen],
        open=peaks.absorber[chosen] < 0,
    )
    sized = table["area_m2"] >= min_area_m2
    if max_area_m2 is not None:
        sized &= table["area_m2"] <= max_area_m2
    table, chosen = table[sized].reset_index(drop=True), chosen[sized]
    table["feature_id"] = np.arange(len(table))
    table["parent_id"] = _parents(peaks, chosen)
    return gpd.GeoDataFrame(table[[*COLUMNS, "geometry"]], geometry="geometry", crs=crs_of(grid))


def _parents(peaks: Peaks, chosen: NDArray[np.intp]) -> NDArray[np.int64]:
    """Row among `chosen` of the nearest absorbing peak that is chosen too; -1 for none."""
    row_of = np.full(len(peaks.cell) + 1, -1)  # the last stands for the outside
    row_of[chosen] = np.arange(len(chosen))
    parents = np.full(len(chosen), -1)
    for row, peak in enumerate(chosen):
        above = peaks.absorber[peak]
        while above >= 0 and row_of[above] < 0:
            above = peaks.absorber[above]
        parents[row] = row_of[above]
    return parents


def _outlines(depth: Depths, peaks: Peaks, chosen: NDArray[np.intp]) -> Iterator[shapely.Polygon]:
    """Closed contour at its saddle around each chosen peak, in columns and rows."""
    mark = np.full(depth.size, -1, np.int32)
    stack = np.empty(depth.size, np.int32)
    for stamp, peak in enumerate(chosen):
        level, seed = peaks.saddle[peak], peaks.cell[peak]
        _, top, bottom, left, right = flood(depth, seed, level, mark, stamp, stack)
        rows = slice(max(top - 1, 0), bottom + 2)
        columns = slice(max(left - 1, 0), right + 2)
        own = mark.reshape(depth.shape)[rows, columns] == stamp
        polygon = _outline(depth[rows, columns], own, float(peaks.crest[peak]), float(level))
        yield shapely.transform(polygon, lambda at, c=columns, r=rows: at + [c.start, r.start])


def _outline(depth: Depths, own: NDArray[np.bool_], crest: float, level: float) -> shapely.Polygon:
    """Largest polygon where `own` ground is above `level`; pinholes are filled."""
    surface = np.where(own, depth, np.maximum(depth, np.float32(level))).astype(float)
    pinhole = np.isnan(depth) & binary_dilation(own, np.ones((3, 3), bool))
    surface[~own & (depth < level)] = level + 1.0  # ground of other peaks
    surface[pinhole] = level - 0.01 * (level - crest)
    generator = contour_generator(
        z=np.ma.masked_invalid(surface, copy=False),
        name="serial",
        corner_mask=True,
        fill_type=FillType.ChunkCombinedOffsetOffset,
    )
    parts = filled(generator, crest - 1.0, level)
    return parts[np.argmax(shapely.area(parts))]


def _placed(grid: xr.DataArray, polygon: shapely.Polygon) -> shapely.Polygon:
    """Columns and rows to the grid's CRS, wound the usual way."""
    x, y = grid["x"].values, grid["y"].values
    dx, dy = (x[-1] - x[0]) / (len(x) - 1), (y[-1] - y[0]) / (len(y) - 1)
    return shapely.orient_polygons(
        shapely.transform(polygon, lambda at: at * [dx, dy] + [x[0], y[0]])
    )


def _described(
    grid: xr.DataArray, polygons: NDArray[Any], peaks: Peaks, chosen: NDArray[np.intp]
) -> pd.DataFrame:
    size, crs_step = cell_size(grid), _steps(grid)
    row, column = np.divmod(peaks.cell[chosen], grid.shape[1])
    x, y = grid["x"].values[column], grid["y"].values[row]
    scale = np.column_stack([size.easting[row] / crs_step[0], size.northing[row] / crs_step[1]])
    axes = np.array([_axes(p, s) for p, s in zip(polygons, scale, strict=True)]).reshape(-1, 3)
    return pd.DataFrame(
        {
            "area_m2": areas_m2(polygons, grid),
            "long_axis_m": axes[:, 0],
            "short_axis_m": axes[:, 1],
            "bearing_deg": np.mod(axes[:, 2] + convergence_at(grid, x, y), 180),
            "peak_x": x,
            "peak_y": y,
            "geometry": polygons,
        }
    )


def _steps(grid: xr.DataArray) -> tuple[float, float]:
    x, y = grid["x"].values, grid["y"].values
    return abs(x[-1] - x[0]) / (len(x) - 1), abs(y[-1] - y[0]) / (len(y) - 1)


def _axes(polygon: shapely.Polygon, scale: NDArray[np.float64]) -> tuple[float, float, float]:
    """Long and short axis, metres, and bearing of the long one from grid north, from moments."""
    area, total = 0.0, np.zeros(5)
    origin = shapely.get_coordinates(polygon)[0]
    for ring in (polygon.exterior, *polygon.interiors):
        points = (shapely.get_coordinates(ring) - origin) * scale
        ring_area, ring_total = _moments(points)
        area += ring_area
        total += ring_total
    mean_x, mean_y, xx, xy, yy = total / area
    spread = np.array(
        [[xx - mean_x**2, xy - mean_x * mean_y], [xy - mean_x * mean_y, yy - mean_y**2]]
    )
    values, vectors = np.linalg.eigh(spread)
    short, long = 4 * np.sqrt(np.maximum(values, 0))
    return float(long), float(short), float(np.degrees(np.arctan2(vectors[0, 1], vectors[1, 1])))


def _moments(ring: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    """Signed area of a closed ring, and its integrals of x, y, xx, xy, yy (Green's theorem)."""
    x0, y0, x1, y1 = ring[:-1, 0], ring[:-1, 1], ring[1:, 0], ring[1:, 1]
    cross = x0 * y1 - x1 * y0
    return float(cross.sum() / 2), np.array(
        [
            ((x0 + x1) * cross).sum() / 6,
            ((y0 + y1) * cross).sum() / 6,
            ((x0 * x0 + x0 * x1 + x1 * x1) * cross).sum() / 12,
            ((x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) * cross).sum() / 24,
            ((y0 * y0 + y0 * y1 + y1 * y1) * cross).sum() / 12,
        ]
    )
