"""Footprints of highs: their outlines as polygons, area, axes and bearing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.structure.blocks.whole import Whole
from seabed.structure.measure import areas_m2
from seabed.structure.tracing.marching import placed
from seabed.terrain.north import convergence_at


def footprints(grid: xr.DataArray, rings: Sequence[NDArray[np.float64]]) -> NDArray[Any]:
    """Outlines as polygons in the grid's CRS."""
    if not len(rings):
        return np.empty(0, object)
    points = placed(np.concatenate(rings), grid)
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    return np.asarray(shapely.polygons(shapely.linearrings(points, indices=owner)), object)


def shaped(whole: Whole, polygons: NDArray[Any], cells: NDArray[Any]) -> pd.DataFrame:
    """Columns of highs by their footprints and the flat indices of their crests."""
    grid, size, affine = whole.frame, whole.size, whole.blocks.transform
    row, column = np.divmod(cells, grid.shape[1])
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
