"""Depth profiles across features, on the unsmoothed grid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Pair
from seabed.geodesy import ahead, bearing_deg, to_degrees
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.grid.places import sample
from seabed.schema import Table, documented
from seabed.structure.edges import EDGES
from seabed.structure.highs import FEATURES

PROFILES: Final = Table.of(
    "profiles",
    "seabed.structure.across_edges",
    """
    feature_id [int] the edge's or feature's own
    offset_m [depth] from the edge, rising toward the deeper side
    depth_m [empty] bilinear; NaN on voids
    mean_m [depth empty] of 21 profiles spread along the edge within 100 m of its middle; NaN where
        fewer than half have a depth
    spread_m [depth empty] their standard deviation
    """,
)

MOST_POINTS: Final = 121
"""Of one profile."""
STATIONS: Final = 21
ALONG_M: Final = 200.0
"""The mean profile of an edge is taken over so long a stretch of it."""
FEWEST: Final = 0.5
"""A mean is given where at least this share of the stations has a depth."""


@documented(PROFILES)
def across_edges(
    grid: xr.DataArray, edges: gpd.GeoDataFrame, *, reach_m: float | None = None
) -> pd.DataFrame:
    """Sample depth across each edge at its middle, and the mean along 200 m of it.

    Parameters
    ----------
    grid : depth grid, held in memory
    edges : GeoDataFrame
        As `seabed.structure.edges` gives them; the middle is ``middle_x``, ``middle_y``.
    reach_m : float, optional
        How far to go on each side; the edge's own width, and 30 m at least, if not given.

    Returns
    -------
    DataFrame
        A row a point, in order.  Steps are a cell, or so many that a profile has 121 points.

        {profiles}

    Examples
    --------
    >>> from seabed import edges, example_grid
    >>> grid = example_grid()
    >>> profile = across_edges(grid, edges(grid))
    >>> profile["depth_m"].iloc[[0, 8, 16]].round(1).tolist()
    [6.0, 8.8, 13.9]
    """
    grid = as_grid(grid)
    EDGES.check(edges, "edge_id", "width_m", "length_m", "middle_x", "middle_y", "geometry")
    width = edges["width_m"].to_numpy(float)
    reach = np.maximum(width, 30.0) if reach_m is None else np.full(len(edges), float(reach_m))
    places, bearings = _stations(edges)
    return _profiles(grid, edges["edge_id"].to_numpy(int), places, bearings, reach)


def across_features(
    grid: xr.DataArray, features: gpd.GeoDataFrame, *, reach_m: float | None = None
) -> pd.DataFrame:
    """Sample depth across each hump and hole, through its crest, along its short axis.

    A table as of `across_edges`, with ``kind`` too; ``offset_m`` runs from one side to the other,
    and the mean is the profile itself. By default it reaches one short axis each way.
    """
    grid = as_grid(grid)
    FEATURES.check(
        features, "feature_id", "kind", "short_axis_m", "bearing_deg", "peak_x", "peak_y"
    )
    long, lat = _degrees(features, features["peak_x"].to_numpy(), features["peak_y"].to_numpy())
    reach = np.maximum(features["short_axis_m"].to_numpy(float), 30.0)
    if reach_m is not None:
        reach = np.full(len(features), float(reach_m))
    places = np.stack([long, lat], axis=-1)[:, None, :]
    bearings = (features["bearing_deg"].to_numpy(float) + 90.0)[:, None]
    table = _profiles(grid, np.arange(len(features)), places, bearings, reach)
    row = table["feature_id"].to_numpy(int)
    return table.assign(
        kind=features["kind"].to_numpy(object)[row],
        feature_id=features["feature_id"].to_numpy(int)[row],
    )


def _degrees(table: gpd.GeoDataFrame, x: Floats, y: Floats) -> Pair:
    long, lat = to_degrees(table.crs).transform(np.asarray(x, float), np.asarray(y, float))
    return np.asarray(long, float), np.asarray(lat, float)


def _stations(edges: gpd.GeoDataFrame) -> Pair:
    """Places along each edge about its middle, in degrees, and the bearing down the face there.

    Shapes (n, stations, 2) and (n, stations).  The first station is the middle itself.
    """
    lines = edges.geometry.to_numpy()
    middle = shapely.points(edges["middle_x"].to_numpy(float), edges["middle_y"].to_numpy(float))
    share = ALONG_M / 2 / np.maximum(edges["length_m"].to_numpy(float), 1e-9)
    at = shapely.line_locate_point(lines, middle, normalized=True)
    spread = np.append(0.0, np.linspace(-1, 1, STATIONS - 1))
    along = np.clip(at[:, None] + spread * share[:, None], 0.0, 1.0)
    near = np.minimum(share * 0.1, 0.5)[:, None]  # 10 m to each side tell the line's direction
    here = _on_lines(edges, lines, along)
    before = _on_lines(edges, lines, np.clip(along - near, 0, 1))
    beyond = _on_lines(edges, lines, np.clip(along + near, 0, 1))
    course = bearing_deg(before[..., 0], before[..., 1], beyond[..., 0], beyond[..., 1])
    return here, np.asarray(course, float) - 90.0  # the deeper side is on the left hand


def _on_lines(edges: gpd.GeoDataFrame, lines: NDArray[np.object_], along: Floats) -> Floats:
    points = shapely.line_interpolate_point(lines[:, None], along, normalized=True)
    long, lat = _degrees(edges, shapely.get_x(points), shapely.get_y(points))
    return np.stack([long, lat], axis=-1)


def _profiles(
    grid: xr.DataArray, number: Ints, places: Floats, bearings: Floats, reach: Floats
) -> pd.DataFrame:
    """Profiles through places, shape (n, stations, 2); the first station is its own profile."""
    if not len(number):
        return PROFILES.empty()
    cell = cell_size(grid).typical
    offsets = [_offsets(float(way), cell) for way in reach]
    depths = _sampled(grid, places, bearings, offsets)
    return pd.DataFrame(
        {
            "feature_id": np.repeat(number, [len(at) for at in offsets]),
            "offset_m": np.concatenate(offsets),
            "depth_m": depths[:, 0],
            **_summed_up(depths),
        }
    )


def _offsets(reach: float, cell: float) -> Floats:
    steps = min(max(math.ceil(reach / cell), 2), MOST_POINTS // 2)
    return np.linspace(-reach, reach, 2 * steps + 1)


def _sampled(
    grid: xr.DataArray, places: Floats, bearings: Floats, offsets: Sequence[Floats]
) -> Floats:
    """Depths of all profiles below each other, shape (points, stations), sampled at once."""
    counts = [len(at) for at in offsets]
    long = np.repeat(places[..., 0], counts, axis=0)
    lat = np.repeat(places[..., 1], counts, axis=0)
    bearing = np.repeat(bearings, counts, axis=0)
    away = np.broadcast_to(np.concatenate(offsets)[:, None], bearing.shape)
    x, y = ahead(long.ravel(), lat.ravel(), bearing.ravel(), away.ravel())
    return sample(grid, np.asarray(x), np.asarray(y)).reshape(bearing.shape)


def _summed_up(depths: Floats) -> dict[str, Floats]:
    """Mean and standard deviation over the stations, where enough of them are known."""
    known = np.isfinite(depths)
    count = known.sum(axis=1)
    enough = count >= FEWEST * depths.shape[1]
    held = np.where(known, depths, 0.0)
    mean = np.where(enough, held.sum(axis=1) / np.maximum(count, 1), np.nan)
    square = np.where(known, (depths - mean[:, None]) ** 2, 0.0).sum(axis=1)
    return {"mean_m": mean, "spread_m": np.sqrt(square / np.maximum(count, 1))}
