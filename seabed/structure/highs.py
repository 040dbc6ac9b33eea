"""Humps and holes: closed highs and lows with their prominence, footprint and nesting."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.arrays import as_grid
from seabed.errors import GridError
from seabed.grid import cell_size, crs_of, transform_of
from seabed.schema import Table, documented
from seabed.structure.marching import placed
from seabed.structure.measure import areas_m2
from seabed.structure.mergetree import Peaks, merge_tree
from seabed.structure.outline import outline
from seabed.terrain.chunks import contiguous
from seabed.terrain.north import convergence_at

__all__ = ["FEATURES", "Kind", "described", "holes", "humps", "numbered", "significant"]

Kind = Literal["hump", "hole"]

FEATURES: Final = Table.of(
    "features",
    "seabed.structure.humps",
    """
    feature_id [int] 0, 1, ...
    kind [text "Kind"] ``"hump"`` or ``"hole"``
    crest_depth_m ["Crest"] of the highest cell, of a hole the deepest; exact to the grid
    saddle_depth_m ["Saddle"] of the key saddle, of a hole its sill; exact to the grid
    height_m ["Height" depth] between the two
    area_m2 of the footprint, over the ground
    long_axis_m ["Length" depth] full axis of the ellipse with the footprint's second moments
    short_axis_m ["Width" depth] its other axis
    bearing_deg ["Long axis"] of the long axis, 0 <= bearing < 180, degrees true
    parent_id [int] the next greater one whose footprint holds this one; -1 for none
    peak_x, peak_y centre of the crest's cell, in the grid's CRS
    open [bool] the saddle lies at the border or a void, so that the height is a lower bound
    geometry [Polygon] the closed contour at the saddle's depth around the crest; lows within it
        are not cut out
    """,
)
"""Humps and holes of the bottom, as `humps` and `holes` find them."""


@documented(FEATURES)
def humps(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
) -> gpd.GeoDataFrame:
    """Find closed highs of the bottom, with prominence from the merge tree.

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
        In the grid's CRS, highest first; without rows where there is none.

        {features}

    Notes
    -----
    What lies beyond the border or in a void is not known and is taken as higher ground.  So a high
    that runs out of the grid, or up to land, is no hump; one whose upper part closes inside counts
    as far as it closes, and is ``open``.  Voids of at most 16 cells are overlooked.  Takes
    O(n log n), and for each footprint its length.

    Examples
    --------
    >>> from seabed import example_grid
    >>> humps(example_grid())[["crest_depth_m", "height_m"]].round(1).values.tolist()
    [[4.0, 2.0]]
    """
    return _features(grid, "hump", min_height_m, min_area_m2, max_area_m2)


def holes(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
) -> gpd.GeoDataFrame:
    """Find closed lows of the bottom: `humps` of the bottom turned over.

    Parameters, columns and errors as for `humps`; ``kind`` is ``"hole"``, deepest first.
    ``crest_depth_m`` is the deepest point, ``saddle_depth_m`` the sill over which it would spill,
    ``height_m`` the difference.  What lies beyond the border or in a void is taken as deeper.

    Examples
    --------
    >>> from seabed import example_grid
    >>> holes(example_grid())[["crest_depth_m", "height_m"]].round(1).values.tolist()
    [[17.0, 3.0]]
    """
    return _features(grid, "hole", min_height_m, min_area_m2, max_area_m2)


def _features(
    grid: xr.DataArray,
    kind: Kind,
    min_height_m: float,
    min_area_m2: float,
    max_area_m2: float | None,
) -> gpd.GeoDataFrame:
    grid = as_grid(grid)
    if not min_height_m > 0:
        raise GridError(
            f"a least height of {min_height_m:g} m would keep every ripple",
            do="Give a height above 0 m.",
        )
    sign = np.float32(1 if kind == "hump" else -1)
    depth = contiguous(grid.values)
    depth = depth if sign > 0 else -depth
    peaks = merge_tree(depth)
    chosen = significant(peaks, min_height_m)
    rings = [outline(depth, peaks.cell[peak], float(peaks.saddle[peak])) for peak in chosen]
    table = described(grid, kind, peaks, chosen, rings)
    sized = table["area_m2"] >= min_area_m2
    if max_area_m2 is not None:
        sized &= table["area_m2"] <= max_area_m2
    return numbered(grid, table[sized].reset_index(drop=True), peaks, chosen[sized])


def significant(peaks: Peaks, min_height_m: float) -> NDArray[np.intp]:
    """Rows of peaks of some height, highest first."""
    height = peaks.saddle.astype(float) - peaks.crest
    chosen = np.flatnonzero((height >= min_height_m) & np.isfinite(height))
    return chosen[np.lexsort((peaks.cell[chosen], -height[chosen]))]


def described(
    grid: xr.DataArray,
    kind: Kind,
    peaks: Peaks,
    chosen: NDArray[np.intp],
    rings: Sequence[NDArray[np.float64]],
) -> pd.DataFrame:
    """Columns of `humps` but for numbers and parents, a row for each of `chosen`.

    Parameters
    ----------
    grid : depth grid
        For places and sizes.
    kind : "hump" or "hole"
        Depths of holes are those of `peaks` with the sign turned.
    peaks : Peaks
    chosen : ndarray of int
        Rows of `peaks`.
    rings : sequence of ndarray, shape (n, 2)
        Their outlines, in columns and rows.
    """
    sign = 1 if kind == "hump" else -1
    crest, saddle = peaks.crest[chosen].astype(float), peaks.saddle[chosen].astype(float)
    return _described(grid, _footprints(grid, rings), peaks, chosen).assign(
        kind=kind,
        crest_depth_m=sign * crest,
        saddle_depth_m=sign * saddle,
        height_m=saddle - crest,
        open=peaks.open[chosen],
    )


def numbered(
    grid: xr.DataArray, table: pd.DataFrame, peaks: Peaks, chosen: NDArray[np.intp]
) -> gpd.GeoDataFrame:
    """Finish a table of `described`: number its rows and name their parents."""
    table["feature_id"] = np.arange(len(table))
    table["parent_id"] = _parents(peaks, chosen)
    return FEATURES.frame(table, crs=crs_of(grid))


def _parents(peaks: Peaks, chosen: NDArray[np.intp]) -> NDArray[np.int64]:
    """Row among `chosen` of the nearest peak that holds each one's footprint; -1 for none."""
    row_of = np.full(len(peaks.cell) + 1, -1)  # the last stands for the outside
    row_of[chosen] = np.arange(len(chosen))
    parents = np.full(len(chosen), -1)
    for row, peak in enumerate(chosen):
        above = peaks.absorber[peak]
        while above >= 0 and (row_of[above] < 0 or peaks.saddle[above] <= peaks.saddle[peak]):
            above = peaks.absorber[above]
        parents[row] = row_of[above]
    return parents


def _footprints(grid: xr.DataArray, rings: Sequence[NDArray[np.float64]]) -> NDArray[Any]:
    """Outlines as polygons in the grid's CRS."""
    if not len(rings):
        return np.empty(0, object)
    points = placed(np.concatenate(rings), grid)
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    return np.asarray(shapely.polygons(shapely.linearrings(points, indices=owner)), object)


def _described(
    grid: xr.DataArray, polygons: NDArray[Any], peaks: Peaks, chosen: NDArray[np.intp]
) -> pd.DataFrame:
    size, affine = cell_size(grid), transform_of(grid)
    row, column = np.divmod(peaks.cell[chosen], grid.shape[1])
    x, y = grid["x"].values[column], grid["y"].values[row]
    scale = np.column_stack([size.easting[row] / affine.a, size.northing[row] / -affine.e])
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


def _axes(polygon: shapely.Polygon, scale: NDArray[np.float64]) -> tuple[float, float, float]:
    """Long and short axis, metres, and bearing of the long one from grid north, from moments."""
    points = shapely.get_coordinates(polygon.exterior)
    area, total = _moments((points - points[0]) * scale)
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
