"""Drifts clustered by the ground they share, and the middlemost of each cluster."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial.distance import squareform

from layers.scoring.likeness import (
    METRES_A_DEGREE,
    apart_between_m,
    likely_pairs,
    metric_lines,
)
from seabed.array_types import Floats, Ints

MOST_COMPARED: Final = 30
"""Members of a line among which its middlemost is sought."""

FAR_M: Final = 1e9
"""Replaces an infinite distance in sums."""

JOINED_CORRIDORS: Final = 1.4
"""Corridors that the drifts of two clusters are apart on average where they are still one line: so
much more than two drifts alone, since the mean of many errs less.  Common practice, no source."""

PARTED_TIMES: Final = 2.5
"""Two clusters of `LEAST_PARTED` drifts each, more than a corridor apart, stay two lines if that is
so many times what drifts within them are apart.  The halves of one normal scatter are 2.46 times
so far apart, two of them four standard deviations apart 3.56 (drawn at random)."""

LEAST_PARTED: Final = 5
"""Drifts from which what a cluster's drifts are apart says how it scatters."""

METRES_A_DEGREE_JOINED: Final = 2.0
"""What a degree between two courses counts as while clusters are joined: more than between two
drifts alone, so that crossings at 30 degrees stay apart where single headings scatter by 8."""

FAR_CORRIDORS: Final = 2.5
"""Corridors that two drifts count as apart at most, where they run no ground abreast or are far
off: one such pair does not part a line that others hold together."""


def cluster_labels(flat: NDArray[Any], course_deg: Floats, corridor_m: float) -> Ints:
    """Label each line, as `metric_lines` gives them, with the first of its cluster, shape (n,).

    Two clusters are one line if their drifts are no more than `JOINED_CORRIDORS` apart on average
    (average linkage: Sokal & Michener 1958), unless each scatters about a middle of its own.
    """
    label = np.arange(len(flat))
    for group in likely_pairs(flat, course_deg, corridor_m):
        label[group] = group[_clusters(flat[group], corridor_m)]
    return label


def medoids(drifts: gpd.GeoDataFrame) -> dict[Any, int]:
    """Row of the drift of each line that is nearest to all its others; the longest of equals."""
    if not len(drifts):
        return {}
    flat = metric_lines(drifts)
    groups = drifts.reset_index(drop=True).groupby("line", sort=False).groups
    return {name: middlemost(flat, np.asarray(rows)) for name, rows in groups.items()}


def middlemost(flat: NDArray[Any], members: Ints) -> int:
    """Row, of `members`, of the line nearest to all the others; the longest of equals.

    Of more than `MOST_COMPARED` members, so many of them, evenly spread, are compared: a line of
    hundreds of drifts has many that are in its middle, and the work grows with the square.
    """
    if len(members) > MOST_COMPARED:
        members = members[np.linspace(0, len(members) - 1, MOST_COMPARED).astype(int)]
    distance = _distances(flat[members])
    length = np.array([line.length for line in flat[members]])
    order = np.lexsort((-length, distance.sum(axis=1).round(3)))
    return int(members[order[0]])


def _distances(lines: NDArray[Any], metres_a_degree: float = METRES_A_DEGREE) -> Floats:
    distance = apart_between_m(lines, metres_a_degree=metres_a_degree)
    return np.where(np.isfinite(distance), distance, FAR_M)


def _clusters(lines: NDArray[Any], corridor_m: float) -> Ints:
    """For each line of a group, the first of its cluster, as a place in the group."""
    distance = np.minimum(_distances(lines, METRES_A_DEGREE_JOINED), FAR_CORRIDORS * corridor_m)
    tree = linkage(squareform(distance, checks=False), "average")
    label = fcluster(tree, 0.5, "monocrit", monocrit=_parted(tree, corridor_m))
    _, first, which = np.unique(label, return_index=True, return_inverse=True)
    return np.asarray(first[which], np.int64)


def _parted(tree: Floats, corridor_m: float) -> Floats:
    """Say of each join of an average linkage whether it, or one below it, joins two lines; 1 or 0.

    The sum of distances inside a cluster is that inside its two parts and that between them.
    """
    n = len(tree) + 1
    size, inside, parted = np.ones(2 * n - 1), np.zeros(2 * n - 1), np.zeros(2 * n - 1)
    for at, (first, second, apart, _) in enumerate(tree, start=n):
        ends = [int(first), int(second)]
        pairs = (size[ends] * (size[ends] - 1) / 2).sum()
        two = apart > JOINED_CORRIDORS * corridor_m
        if size[ends].min() >= LEAST_PARTED and apart > corridor_m:
            two |= apart > PARTED_TIMES * inside[ends].sum() / pairs
        size[at] = size[ends].sum()
        inside[at] = inside[ends].sum() + apart * size[ends].prod()
        parted[at] = max(float(two), *parted[ends])
    return parted[n:]
