"""How alike the ground of two drifts is."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
import shapely.ops
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

__all__ = ["LEAST_SHARED", "MOST_TURN_DEG", "apart_m", "likely_pairs", "metric_lines"]

LEAST_SHARED: Final = 0.5
"""Share of the shorter drift that the two must run side by side."""

MOST_TURN_DEG: Final = 45.0
"""Drifts whose courses differ by more do not go the same way."""

STEP_M: Final = 10.0
"""Spacing of the points on which two drifts are compared."""


def metric_lines(drifts: gpd.GeoDataFrame) -> NDArray[Any]:
    """Give the drifts' lines in a plane in metres (UTM), thinned to a metre."""
    flat = drifts.geometry.to_crs(drifts.estimate_utm_crs())
    return np.asarray(shapely.simplify(flat.to_numpy(), 1.0))


def likely_pairs(
    lines: NDArray[Any], course_deg: NDArray[np.float64], corridor_m: float
) -> list[NDArray[np.int64]]:
    """Group the drifts that may belong together: near each other and going the same way.

    Returns
    -------
    list of ndarray
        Row numbers of each group of two or more, joined by chains of likely pairs.
    """
    tree = shapely.STRtree(lines)
    first, second = tree.query(lines, predicate="dwithin", distance=corridor_m)
    turn = np.abs((course_deg[first] - course_deg[second] + 180.0) % 360.0 - 180.0)
    same = (first != second) & (turn <= MOST_TURN_DEG)
    links = coo_array(
        (np.ones(int(same.sum())), (first[same], second[same])), shape=(len(lines), len(lines))
    )
    _, label = connected_components(links, directed=False)
    order = np.argsort(label, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(label[order])) + 1)
    return [group for group in groups if len(group) > 1]


def apart_m(first: Any, second: Any) -> float:
    """Fréchet distance, in metres, of the stretches that two drifts run side by side.

    Each is clipped to what lies abreast of the other; where that is under half of the shorter one,
    they do not share ground and the distance is infinite.

    Parameters
    ----------
    first, second : LineString
        In a plane in metres, in the direction of the drift.
    """
    near, far = _abreast(first, second), _abreast(second, first)
    shorter = min(first.length, second.length)
    if near is None or far is None or near.length < LEAST_SHARED * shorter:
        return float("inf")
    near, far = shapely.segmentize([near, far], STEP_M)
    return float(shapely.frechet_distance(near, far))


def _abreast(line: Any, other: Any) -> Any:
    """Cut `line` at the points nearest to the ends of `other`; None if these come backward."""
    start, end = shapely.line_locate_point(line, shapely.get_point(other, [0, -1]))
    if end - start <= 0:
        return None
    return shapely.ops.substring(line, start, end)
