"""Drifts that ran the same ground the same way, gathered into lines."""

from __future__ import annotations

import re
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import squareform

from layers.scoring.likeness import (
    MOST_TURN_DEG,
    apart_between_m,
    likely_pairs,
    metric_lines,
)

__all__ = ["gather_lines", "medoids"]

POINTS: Final = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
FAR_M: Final = 1e9
"""Stands for an infinite distance where sums are taken."""


def gather_lines(
    drifts: gpd.GeoDataFrame,
    *,
    corridor_m: float = 40.0,
    known: gpd.GeoDataFrame | None = None,
) -> gpd.GeoDataFrame:
    """Gather drifts into repeated lines.

    Two drifts are as far apart as the Fréchet distance of the stretches they run side by side;
    clusters are joined by complete linkage, so that every two drifts of a line keep within the
    corridor of each other, and a chain of neighbours can't grow into one wide line.

    Parameters
    ----------
    drifts : from `layers.tracks.drifts_of`
    corridor_m : float
        Metres.
    known : GeoDataFrame, optional
        Lines of earlier seasons, with ``line``, ``course_deg``, ``geometry``, as `rank_lines`
        gives them.  A line whose middlemost drift keeps within the corridor of a known one takes
        its name; names of lines that were not fished again stay theirs.

    Returns
    -------
    GeoDataFrame
        As `drifts`, with ``line``: the way it runs and a number, such as ``"SE1"``, counted in
        order of the first drift on it, so that later trips give new lines new numbers.  A drift
        like no other is a line of its own.
    """
    if not len(drifts):
        return drifts.assign(line=np.array([], dtype=object))
    flat = metric_lines(drifts)
    course = drifts["course_deg"].to_numpy(float)
    label = np.arange(len(drifts))
    for group in likely_pairs(flat, course, corridor_m):
        label[group] = group[_clusters(flat[group], corridor_m)]
    taken = {} if known is None else _recognised(drifts.assign(line=label), known, corridor_m)
    reserved = [] if known is None else [str(name) for name in known["line"]]
    names = _names(label, course, drifts["start"].to_numpy(), taken, reserved)
    return drifts.assign(line=names)


def medoids(drifts: gpd.GeoDataFrame) -> dict[Any, int]:
    """Row of the drift of each line that lies nearest to all its others; the longest of equals."""
    flat = metric_lines(drifts)
    found = {}
    for name, rows in drifts.reset_index(drop=True).groupby("line", sort=False).groups.items():
        members = np.asarray(rows)
        distance = _distances(flat[members])
        length = np.array([line.length for line in flat[members]])
        order = np.lexsort((-length, distance.sum(axis=1).round(3)))
        found[name] = int(members[order[0]])
    return found


def _distances(lines: NDArray[Any]) -> NDArray[np.float64]:
    distance = apart_between_m(lines)
    return np.where(np.isfinite(distance), distance, FAR_M)


def _clusters(lines: NDArray[Any], corridor_m: float) -> NDArray[np.int64]:
    """For each line of a group, the first of its cluster, as a place in the group."""
    tree = linkage(squareform(_distances(lines), checks=False), "complete")
    label = fcluster(tree, corridor_m, "distance")
    _, first, which = np.unique(label, return_index=True, return_inverse=True)
    return np.asarray(first[which], np.int64)


def _recognised(
    drifts: gpd.GeoDataFrame, known: gpd.GeoDataFrame, corridor_m: float
) -> dict[int, str]:
    """Names of the lines that were there before, each to one line, by least distance."""
    if not len(known):
        return {}
    crs = drifts.estimate_utm_crs()
    middle = medoids(drifts)
    rows = drifts.iloc[list(middle.values())]
    distance = apart_between_m(metric_lines(rows, crs), metric_lines(known, crs))
    turn = rows["course_deg"].to_numpy()[:, None] - known["course_deg"].to_numpy(float)
    turned = np.abs((turn + 180.0) % 360.0 - 180.0) > MOST_TURN_DEG
    cost = np.where(turned | (distance > corridor_m), FAR_M, distance)
    names = [str(name) for name in known["line"]]
    pairs = zip(*linear_sum_assignment(cost), strict=True)
    labels = list(middle)
    return {int(labels[i]): names[j] for i, j in pairs if cost[i, j] < FAR_M}


def _names(
    label: NDArray[np.int64],
    course_deg: NDArray[np.float64],
    start: NDArray[Any],
    taken: dict[int, str],
    reserved: list[str],
) -> list[str]:
    """Name each line by the mean course of its drifts and a running number."""
    names = dict(taken)
    counts = dict.fromkeys(POINTS, 0)
    for name in reserved:
        match = re.fullmatch(r"([NESW]+)(\d+)", name)
        if match and match.group(1) in counts:
            counts[match.group(1)] = max(counts[match.group(1)], int(match.group(2)))
    for row in np.argsort(start, kind="stable"):
        mark = int(label[row])
        if mark not in names:
            point = _point(course_deg[label == mark])
            counts[point] += 1
            names[mark] = f"{point}{counts[point]}"
    return [names[int(mark)] for mark in label]


def _point(course_deg: NDArray[np.float64] | pd.Series) -> str:
    """Point of the compass nearest to the mean of courses."""
    angle = np.radians(course_deg)
    mean = np.degrees(np.arctan2(np.sin(angle).sum(), np.cos(angle).sum())) % 360.0
    return POINTS[round(mean / 45.0) % 8]
