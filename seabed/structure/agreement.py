"""How far a chart's contours are from those of a grid: a cross-check of both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Pair
from seabed.geodesy import to_degrees
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.grid.extent import metric_crs
from seabed.grid.places import sample
from seabed.loaders.charts import CHART_DEPTHS
from seabed.robust import robust_sigma
from seabed.schema import Table
from seabed.structure.contours import contours
from seabed.structure.tracing.runs import ranges

MOST_POINTS: Final = 200_000
FEWEST_POINTS: Final = 30
ROUNDS: Final = 8
SETTLED_M: Final = 1e-3
"""A round that moves and deepens by less than this is the last."""
OUTLIERS: Final = 4.0
"""Points that fit worse than so many deviations are left out of the next round."""
AGREEMENT: Final = Table.of(
    "agreement",
    "seabed.structure.agreement.chart_agreement",
    """
    depth_m of the contour
    length_m [distance] of the chart's lines where the grid has depths
    median_m [distance] of the distance from points on them, a cell apart, to the grid's nearest
        contour of that depth, over the ground; infinite where the grid has none
    most_m [distance] the 90th percentile of that distance
    """,
)
FLAT: Final = 1e-3
"""Without a mean slope of this much in a direction, no shift can be seen in it."""


@dataclass(frozen=True, slots=True)
class Offset:
    """How a chart's contours differ as a whole from a grid's; NaN if unknown.

    east_m, north_m: how far they must have been shifted.
    deeper_m, left_m: how much deeper the grid is than they say, once shifted back; standard
        deviation that is left.
    points: compared, a cell apart.
    """

    east_m: float
    north_m: float
    deeper_m: float
    left_m: float
    points: int

    @property
    def shift_m(self) -> float:
        """Length of the shift."""
        return float(np.hypot(self.east_m, self.north_m))


def chart_agreement(grid: xr.DataArray, lines: gpd.GeoDataFrame) -> pd.DataFrame:
    """Measure how far each contour of a chart is from the grid's own of that depth, as `AGREEMENT`.

    lines: with ``depth_m``, in any CRS.
    """
    grid = as_grid(grid)
    depth, place = _points(grid, lines)
    if not len(depth):
        return AGREEMENT.empty()
    step = cell_size(grid).typical
    levels = np.unique(depth)
    own = contours(grid, levels.tolist()).to_crs(metric_crs(grid))
    rows = []
    for level in levels:
        points = shapely.points(place[depth == level])
        away = _distances(points, own.loc[own["depth_m"] == level].geometry.to_numpy())
        rows.append(
            (level, len(points) * step, np.median(away), np.quantile(away, 0.9, method="higher"))
        )
    return pd.DataFrame(rows, columns=AGREEMENT.names)


def chart_offset(grid: xr.DataArray, lines: gpd.GeoDataFrame) -> Offset:
    """Find whether a chart's contours are shifted as a whole, or from another datum.

    Gauss-Newton: the shift and the difference of depth that bring the grid's depth under the lines
    nearest, in the least-squares sense, to what the lines say; points more than 4 deviations off
    are left out. NaN with fewer than 30 points; the shift alone where the bottom under them does
    not slope both ways.
    """
    grid = as_grid(grid)
    depth, place = _points(grid, lines)
    if len(depth) < FEWEST_POINTS:
        return Offset(np.nan, np.nan, np.nan, np.nan, len(depth))
    back = to_degrees(metric_crs(grid))
    step = cell_size(grid).typical

    def under(east: float, north: float) -> Floats:
        return sample(grid, *back.transform(place[:, 0] + east, place[:, 1] + north))

    moved, deeper, used = np.zeros(2), 0.0, np.ones(len(depth), bool)
    flat = False
    for _ in range(ROUNDS):
        east, north = -moved
        misfit = under(east, north) - depth
        slope = np.column_stack(
            [
                under(east + step, north) - under(east - step, north),
                under(east, north + step) - under(east, north - step),
            ]
        ) / (2 * step)
        used &= np.isfinite(misfit) & np.isfinite(slope).all(axis=1)
        if used.sum() < FEWEST_POINTS:
            return Offset(np.nan, np.nan, np.nan, np.nan, int(used.sum()))
        flat = bool(np.linalg.eigvalsh(np.cov(slope[used].T))[0] < FLAT**2)
        terms = np.column_stack([slope, np.ones(len(depth))])[used]
        terms[:, :2] *= not flat
        change, *_ = np.linalg.lstsq(terms, misfit[used], rcond=None)
        moved, deeper = moved + change[:2], float(change[2])
        left = misfit[used] - terms @ change
        spread = robust_sigma(left)
        kept = np.zeros(len(depth), bool)
        kept[used] = np.abs(left) <= OUTLIERS * max(spread, 1e-6)
        settled = bool((used == kept).all()) and np.abs(change).max() < SETTLED_M
        used = kept
        if settled:
            break
    shift = (np.nan, np.nan) if flat else (float(moved[0]), float(moved[1]))
    return Offset(*shift, deeper, float(left.std()), int(used.sum()))


def _points(grid: xr.DataArray, lines: gpd.GeoDataFrame) -> Pair:
    """Depths and places, shape (n, 2), of points a cell apart on lines, where the grid is known."""
    CHART_DEPTHS.check(lines, "depth_m", "geometry")
    crs = metric_crs(grid)
    known = lines[np.isfinite(lines["depth_m"].to_numpy(float)) & lines.geometry.notna()]
    parts = known[["depth_m", "geometry"]].explode(ignore_index=True)
    parts = parts[parts.geom_type == "LineString"].to_crs(crs)
    shapes, depth = parts.geometry.to_numpy(), parts["depth_m"].to_numpy(float)
    length = shapely.length(shapes)
    step = max(cell_size(grid).typical, float(length.sum()) / MOST_POINTS)
    count = np.maximum(np.ceil(length / step).astype(int), 1)
    owner = np.repeat(np.arange(len(shapes)), count)
    along = (ranges(np.zeros_like(count), count) + 0.5) * step
    points = shapely.line_interpolate_point(shapes[owner], np.minimum(along, length[owner]))
    place = shapely.get_coordinates(points)
    back = to_degrees(crs)
    inside = np.isfinite(sample(grid, *back.transform(place[:, 0], place[:, 1])))
    return depth[owner][inside], place[inside]


def _distances(points: NDArray[np.object_], lines: NDArray[np.object_]) -> Floats:
    if not len(lines):
        return np.full(len(points), np.inf)
    vertices, owner = shapely.get_coordinates(lines, return_index=True)
    same = owner[1:] == owner[:-1]
    pieces = shapely.linestrings(np.stack([vertices[:-1][same], vertices[1:][same]], axis=1))
    pairs, away = shapely.STRtree(pieces).query_nearest(
        points, return_distance=True, all_matches=False
    )
    out = np.empty(len(points))
    out[pairs[0]] = away
    return out
