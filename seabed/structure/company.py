"""What is near a feature: other structure, sand waves, charted hazards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from seabed.array_types import Floats
from seabed.geodesy import is_metric, utm_of
from seabed.structure.tracing.runs import in_runs

REACH_M: Final = 150.0
"""Features further off than this are no company: a drift of a few minutes.  Common practice, no
source."""

Shapes = NDArray[np.object_]

_AT_A_TIME: Final = 2048
"""Features whose company is sought together: all at once may have millions of pairs."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest of others to each of n features: row and distance, -1 and NaN for none near."""

    row: NDArray[np.intp]
    away_m: Floats

    def of(self, column: pd.Series, *, none: Any) -> list[Any]:
        """Look up a column of the others; `none` if there is none."""
        values = column.to_numpy()
        return [values[row] if row >= 0 else none for row in self.row]


def metres_crs(table: gpd.GeoDataFrame) -> CRS:
    """Give a CRS to measure distances of a kilometre in: the table's own if in metres, else UTM."""
    crs = CRS.from_user_input(table.crs)
    if is_metric(crs):
        return crs
    return utm_of(table)


def ground_about(shapes: Shapes, places: Shapes) -> Shapes:
    """Cut features to their part about a place, so that a long one is judged there."""
    cut: Shapes = shapely.intersection(shapes, shapely.buffer(places, REACH_M))
    return np.where(shapely.is_empty(cut), places, cut)


def nearest(
    ground: Shapes, others: Shapes, *, within_m: float, sharing: bool, own: Sequence[int] = ()
) -> Nearest:
    """Find the nearest of others, metres; all in one CRS in metres.

    sharing: whether those that share ground with it count (at no distance): hazards do; an edge and
        the hump that it goes round are one thing and do not.
    own: the row of each feature among the others, which is never its company.
    """
    row, away = np.full(len(ground), -1), np.full(len(ground), np.nan)
    if not len(ground) or not len(others):
        return Nearest(row, away)
    mine, other, distance = _apart(ground, others, within_m)
    kept = distance > 0 if not sharing else np.ones(len(mine), bool)
    if len(own):
        kept &= np.asarray(own)[mine] != other
    mine, other, distance = mine[kept], other[kept], distance[kept]
    order = np.lexsort((other, distance, mine))
    first = order[np.unique(mine[order], return_index=True)[1]]
    row[mine[first]], away[mine[first]] = other[first], distance[first]
    return Nearest(row, away)


def of_smallest(places: Shapes, areas: Shapes) -> NDArray[np.intp]:
    """Give for each place the row of the smallest area that holds it; -1 for none."""
    row = np.full(len(places), -1)
    if len(places) and len(areas):
        area, place = shapely.STRtree(places).query(areas, predicate="contains")
        order = np.lexsort((shapely.area(areas)[area], place))
        first = order[np.unique(place[order], return_index=True)[1]]
        row[place[first]] = area[first]
    return row


def _apart(
    ground: Shapes, others: Shapes, within_m: float
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Pairs of ground and others within reach, each once, and how far apart they are.

    Long shapes are looked at in runs of their border, and hold ground that they hold a point of:
    else each pair would cost the length of a whole coast's footprint.
    """
    parts, owner, areas = in_runs(others)
    tree = shapely.STRtree(parts)
    pairs = []
    for begin in range(0, len(ground), _AT_A_TIME):
        some = ground[begin : begin + _AT_A_TIME]
        mine, part = tree.query(some, predicate="dwithin", distance=within_m)
        away = shapely.distance(some[mine], parts[part])
        pairs.append(_least(mine + begin, owner[part], away))
    mine, other, away = (np.concatenate(one) for one in zip(*pairs, strict=True))
    inside = _first_points(ground)
    area, held = shapely.STRtree(inside).query(others[areas], predicate="contains")
    return _least(
        np.concatenate([mine, held]),
        np.concatenate([other, areas[area]]),
        np.concatenate([away, np.zeros(len(held))]),
    )


def _least(
    mine: NDArray[np.intp], other: NDArray[np.intp], away: Floats
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Keep each pair once, with its least distance."""
    order = np.lexsort((away, other, mine))
    mine, other, away = mine[order], other[order], away[order]
    first = np.ones(len(mine), bool)
    first[1:] = (mine[1:] != mine[:-1]) | (other[1:] != other[:-1])
    return mine[first], other[first], away[first]


def _first_points(shapes: Shapes) -> Shapes:
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    return np.asarray(shapely.points(points[np.searchsorted(owner, np.arange(len(shapes)))]))
