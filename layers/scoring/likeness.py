"""How alike the ground of two drifts is."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled
from seabed.geodesy import utm_of
from seabed.units import half_turned

LEAST_SHARED: Final = 0.5
"""Share of the shorter drift that the two must run side by side."""

MOST_TURN_DEG: Final = 45.0
"""Drifts whose courses differ by more do not go the same way."""

METRES_A_DEGREE: Final = 1.6
"""What a degree between two courses counts as: at 25 degrees they are 40 m apart, however near.
Common practice, no source."""

STEP_M: Final = 10.0
"""Greatest spacing of the points on which two drifts are compared."""

COARSE_M: Final = 4.0
"""Thinning that is fine enough to find which drifts may be near each other."""

METRE_DEG: Final = 9e-6
"""A metre of latitude, in degrees; less than a metre of longitude."""


def thin_lines(drifts: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Give the drifts in degrees, their lines thinned to 1 m (Douglas & Peucker 1973).

    Thinning what is thinned changes nothing, so that one thinned table serves all comparisons.
    """
    degrees = drifts.to_crs("EPSG:4326")
    # a line that crosses itself may go on doing so; keeping it from that costs thirty times as much
    thin = shapely.simplify(degrees.geometry.to_numpy(), METRE_DEG, preserve_topology=False)
    return degrees.set_geometry(gpd.GeoSeries(thin, index=degrees.index, crs="EPSG:4326"))


def metric_lines(drifts: gpd.GeoDataFrame, crs: Any = None) -> NDArray[Any]:
    """Give the drifts' lines in a plane in metres (UTM, unless `crs` is given), thinned to 1 m."""
    thin = thin_lines(drifts[[drifts.geometry.name]])  # before the costly change of CRS
    return np.asarray(thin.geometry.to_crs(crs or utm_of(thin)).to_numpy())


def likely_pairs(lines: NDArray[Any], course_deg: Floats, corridor_m: float) -> list[NDArray[Any]]:
    """Group the drifts that may belong together: near each other and going the same way.

    Returned: rows of each group of two or more, joined by chains of likely pairs.
    """
    coarse = _coarse(lines)
    reach = corridor_m + 2 * COARSE_M
    first, second = shapely.STRtree(coarse).query(coarse, predicate="dwithin", distance=reach)
    turn = np.abs(half_turned(course_deg[first] - course_deg[second]))
    same = (first != second) & (turn <= MOST_TURN_DEG)
    links = coo_array(
        (np.ones(int(same.sum())), (first[same], second[same])), shape=(len(lines), len(lines))
    )
    _, label = connected_components(links, directed=False)
    order = np.argsort(label, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(label[order])) + 1)
    return [group for group in groups if len(group) > 1]


def apart_m(first: Any, second: Any) -> float:
    """Mean lateral distance, in metres, of the stretches that two drifts run side by side.

    Each is clipped to what is abreast of the other; where that is under half of the shorter one,
    they do not share ground and the distance is infinite. Points at most `STEP_M` apart of each are
    measured to the other. A mean, unlike a greatest distance, hardly grows with the drifts' length
    where headings scatter; so that crossings stay apart, a degree between the two courses counts as
    `METRES_A_DEGREE` at least.
    """
    return float(apart_between_m(np.array([first, second]))[0, 1])


def apart_between_m(
    lines: NDArray[Any],
    others: NDArray[Any] | None = None,
    *,
    metres_a_degree: float = METRES_A_DEGREE,
) -> Floats:
    """`apart_m` of every line to every other (or to each of `others`), shape (n, n) or (n, m)."""
    every = lines if others is None else np.concatenate([lines, others])
    first, second = np.tril_indices(len(lines), -1)
    if others is not None:
        first, second = (i.ravel() for i in np.indices((len(lines), len(others))))
        second = second + len(lines)
    xy, start = _flat(every)
    apart = _of_pairs(xy, start, first, second, np.array([STEP_M, LEAST_SHARED, metres_a_degree]))
    if others is not None:
        return np.asarray(apart.reshape(len(lines), len(others)))
    out = np.zeros((len(lines), len(lines)))
    out[first, second] = out[second, first] = apart
    return out


def first_near(
    lines: NDArray[Any],
    course_deg: Floats,
    others: NDArray[Any],
    other_course_deg: Floats,
    corridor_m: float,
) -> Ints:
    """Row of the first of `others` that each line keeps within the corridor of; -1 for none.

    Both are as `metric_lines` gives them, in one plane; courses differ by `MOST_TURN_DEG` at most.
    """
    coarse, about = _coarse(lines), _coarse(others)
    reach = corridor_m + 2 * COARSE_M
    first, second = shapely.STRtree(about).query(coarse, predicate="dwithin", distance=reach)
    turn = np.abs(half_turned(course_deg[first] - other_course_deg[second]))
    same = turn <= MOST_TURN_DEG
    order = np.lexsort((second[same], first[same]))
    xy, start = _flat(np.concatenate([lines, others]))
    pairs = np.stack([first[same][order], second[same][order]]).astype(np.int64)
    limits = np.array([STEP_M, LEAST_SHARED, METRES_A_DEGREE, corridor_m])
    return np.asarray(_first_within(xy, start, pairs, len(lines), limits))


def _coarse(lines: NDArray[Any]) -> NDArray[Any]:
    thin: NDArray[Any] = shapely.simplify(lines, COARSE_M, preserve_topology=False)
    return thin


def _flat(lines: NDArray[Any]) -> tuple[Floats, Ints]:
    """Coordinates of all lines one after another, and where each begins, shape (n + 1,)."""
    start = np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(lines))]).astype(np.int64)
    return np.ascontiguousarray(shapely.get_coordinates(lines)), start


@compiled
def _nearest_along(xy: Floats, x: float, y: float) -> float:
    """Length along the line of its point nearest to (x, y)."""
    best, place, along = np.inf, 0.0, 0.0
    for i in range(len(xy) - 1):
        dx, dy = xy[i + 1, 0] - xy[i, 0], xy[i + 1, 1] - xy[i, 1]
        length = np.sqrt(dx * dx + dy * dy)
        t = 0.0
        if length > 0:
            t = ((x - xy[i, 0]) * dx + (y - xy[i, 1]) * dy) / (length * length)
            t = min(1.0, max(0.0, t))
        away = (xy[i, 0] + t * dx - x) ** 2 + (xy[i, 1] + t * dy - y) ** 2
        if away < best:
            best, place = away, along + t * length
        along += length
    return place


@compiled
def _length(xy: Floats) -> float:
    total = 0.0
    for i in range(len(xy) - 1):
        total += np.sqrt((xy[i + 1, 0] - xy[i, 0]) ** 2 + (xy[i + 1, 1] - xy[i, 1]) ** 2)
    return total


@compiled
def _cut(xy: Floats, begin: float, end: float, step: float) -> Floats:
    """Evenly spaced points of a line between two lengths, at most `step` apart."""
    count = max(int(np.ceil((end - begin) / step)) + 1, 2)
    out = np.empty((count, 2))
    at, i, along = 0, 0, 0.0
    while at < count:
        dx, dy = xy[i + 1, 0] - xy[i, 0], xy[i + 1, 1] - xy[i, 1]
        length = np.sqrt(dx * dx + dy * dy)
        wanted = begin + (end - begin) * at / (count - 1)
        if wanted > along + length and i < len(xy) - 2:
            along += length
            i += 1
            continue
        t = 0.0 if length == 0 else min(1.0, (wanted - along) / length)
        out[at, 0] = xy[i, 0] + t * dx
        out[at, 1] = xy[i, 1] + t * dy
        at += 1
    return out


@compiled
def _beside(a: Floats, b: Floats) -> float:
    """Mean distance of the points of one line from the other."""
    total = 0.0
    for i in range(len(a)):
        best = np.inf
        for j in range(len(b) - 1):
            dx, dy = b[j + 1, 0] - b[j, 0], b[j + 1, 1] - b[j, 1]
            length = dx * dx + dy * dy
            t = 0.0
            if length > 0:
                t = min(
                    1.0, max(0.0, ((a[i, 0] - b[j, 0]) * dx + (a[i, 1] - b[j, 1]) * dy) / length)
                )
            away = (b[j, 0] + t * dx - a[i, 0]) ** 2 + (b[j, 1] + t * dy - a[i, 1]) ** 2
            best = min(best, away)
        total += np.sqrt(best)
    return float(total / len(a))


@compiled
def _turned_deg(a: Floats, b: Floats) -> float:
    """Degrees between the ways from start to end."""
    ax, ay = a[-1, 0] - a[0, 0], a[-1, 1] - a[0, 1]
    bx, by = b[-1, 0] - b[0, 0], b[-1, 1] - b[0, 1]
    return float(np.degrees(np.arctan2(np.abs(ax * by - ay * bx), ax * bx + ay * by)))


@compiled
def _apart(a: Floats, b: Floats, step: float, least: float, metres_a_degree: float) -> float:
    """Distance of two lines; infinite where they share no ground."""
    a0, a1 = _nearest_along(a, b[0, 0], b[0, 1]), _nearest_along(a, b[-1, 0], b[-1, 1])
    b0, b1 = _nearest_along(b, a[0, 0], a[0, 1]), _nearest_along(b, a[-1, 0], a[-1, 1])
    if a1 <= a0 or b1 <= b0:
        return np.inf
    shorter = min(_length(a), _length(b))
    if a1 - a0 < least * shorter:
        return np.inf
    own, other = _cut(a, a0, a1, step), _cut(b, b0, b1, step)
    beside = (_beside(own, other) + _beside(other, own)) / 2
    return max(beside, metres_a_degree * _turned_deg(own, other))


@compiled
def _of_pairs(
    xy: Floats,
    start: Ints,
    first: Ints,
    second: Ints,
    settings: Floats,
) -> Floats:
    out = np.empty(len(first))
    for k in range(len(first)):
        i, j = first[k], second[k]
        a, b = xy[start[i] : start[i + 1]], xy[start[j] : start[j + 1]]
        out[k] = _apart(a, b, settings[0], settings[1], settings[2])
    return out


@compiled
def _first_within(
    xy: Floats,
    start: Ints,
    pairs: Ints,
    lines: int,
    limits: Floats,
) -> Ints:
    """First of the others, which come after the lines, within the corridor of each line."""
    nearest = np.full(lines, -1)
    for k in range(pairs.shape[1]):
        i, j = pairs[0, k], pairs[1, k] + lines
        if nearest[i] < 0:
            a, b = xy[start[i] : start[i + 1]], xy[start[j] : start[j + 1]]
            if _same(a, b) or _apart(a, b, limits[0], limits[1], limits[2]) <= limits[3]:
                nearest[i] = pairs[1, k]
    return nearest


@compiled
def _same(a: Floats, b: Floats) -> bool:
    """Whether two lines are one; a loop has no length abreast of itself."""
    return len(a) == len(b) and bool(np.all(a == b))
