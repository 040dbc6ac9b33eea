"""Drifts that ran the same ground the same way, gathered into lines."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial.distance import squareform

from layers.scoring.likeness import apart_m, likely_pairs, metric_lines

__all__ = ["gather_lines", "medoids"]

POINTS: Final = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def gather_lines(drifts: gpd.GeoDataFrame, *, corridor_m: float = 40.0) -> gpd.GeoDataFrame:
    """Gather drifts into repeated lines.

    Two drifts are as far apart as the Fréchet distance of the stretches they run side by side;
    clusters are joined by complete linkage, so that every two drifts of a line keep within the
    corridor of each other, and a chain of neighbours can't grow into one wide line.

    Parameters
    ----------
    drifts : from `layers.tracks.drifts_of`
    corridor_m : float
        Metres.

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
    return drifts.assign(line=_names(label, course, drifts["start"].to_numpy()))


def medoids(drifts: gpd.GeoDataFrame) -> dict[str, int]:
    """Row of the drift of each line that lies nearest to all its others; the longest of equals."""
    flat = metric_lines(drifts)
    found = {}
    for name, rows in drifts.reset_index(drop=True).groupby("line", sort=False).groups.items():
        members = np.asarray(rows)
        distance = _distances(flat[members])
        distance[~np.isfinite(distance)] = 1e6
        length = np.array([line.length for line in flat[members]])
        order = np.lexsort((-length, distance.sum(axis=1).round(3)))
        found[str(name)] = int(members[order[0]])
    return found


def _distances(lines: NDArray[Any]) -> NDArray[np.float64]:
    distance = np.zeros((len(lines), len(lines)))
    for i in range(len(lines)):
        for j in range(i):
            distance[i, j] = distance[j, i] = apart_m(lines[i], lines[j])
    return distance


def _clusters(lines: NDArray[Any], corridor_m: float) -> NDArray[np.int64]:
    """For each line of a group, the first of its cluster, as a place in the group."""
    distance = _distances(lines)
    distance[~np.isfinite(distance)] = 1e9
    label = fcluster(
        linkage(squareform(distance, checks=False), "complete"), corridor_m, "distance"
    )
    _, first, which = np.unique(label, return_index=True, return_inverse=True)
    return np.asarray(first[which], np.int64)


def _names(
    label: NDArray[np.int64], course_deg: NDArray[np.float64], start: NDArray[Any]
) -> list[str]:
    """Name each line by the mean course of its drifts and a running number."""
    names: dict[int, str] = {}
    counts = dict.fromkeys(POINTS, 0)
    for row in np.argsort(start, kind="stable"):
        mark = int(label[row])
        if mark not in names:
            angle = np.radians(course_deg[label == mark])
            mean = np.degrees(np.arctan2(np.sin(angle).sum(), np.cos(angle).sum())) % 360.0
            point = POINTS[round(mean / 45.0) % 8]
            counts[point] += 1
            names[mark] = f"{point}{counts[point]}"
    return [names[int(mark)] for mark in label]
