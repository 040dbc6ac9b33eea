"""Names of lines that last: ground that was named once keeps its name."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from layers.scoring.clusters import cluster_labels, middlemost
from layers.scoring.likeness import first_near, metric_lines

__all__ = ["KNOWN_COLUMNS", "LineNumbers", "name_lines"]

POINTS: Final = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")

MOST_AT_ONCE: Final = 300
"""Drifts that are clustered at once; more are taken in order of time, as if logged trip by trip."""

KNOWN_COLUMNS: Final = ("line", "course_deg", "geometry")
"""Columns of a table of named lines."""


def name_lines(
    drifts: gpd.GeoDataFrame, known: gpd.GeoDataFrame, *, corridor_m: float
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    """Name each drift after the ground it ran, giving new names to new ground.

    A drift takes the name of the first of the `known` lines that it keeps within the corridor of,
    running the same way.  Drifts that have none are clustered; the middlemost of each cluster, in
    order of the first drift, becomes a line.  That is done for `MOST_AT_ONCE` drifts at a time.
    Lines are only ever added to the end, so that what a drift is called depends on nothing that is
    logged later.

    Parameters
    ----------
    drifts : from `layers.tracks.drifts_of`
    known : GeoDataFrame
        `KNOWN_COLUMNS`, in the order in which they were named; may have no rows.
    corridor_m : float
        Metres.

    Returns
    -------
    drifts : GeoDataFrame
        With their ``line``.
    lines : GeoDataFrame, EPSG:4326
        The known ones, then the new.
    """
    order = np.argsort(drifts["start"].to_numpy(), kind="stable")
    names = np.full(len(drifts), "", dtype=object)
    for rows in np.split(order, range(MOST_AT_ONCE, len(drifts), MOST_AT_ONCE)):
        names[rows], known = _named(drifts.iloc[rows], known, corridor_m)
    return drifts.assign(line=names), known


def _named(
    drifts: gpd.GeoDataFrame, known: gpd.GeoDataFrame, corridor_m: float
) -> tuple[NDArray[np.object_], gpd.GeoDataFrame]:
    """Name some drifts; give the names, and the lines with the new ones at their end."""
    if not len(drifts):
        return np.array([], dtype=object), known
    # that of the line named first, whatever is added: at the edge of a zone planes differ
    crs = (known if len(known) else drifts).iloc[:1].estimate_utm_crs()
    flat = metric_lines(drifts, crs)
    course = drifts["course_deg"].to_numpy(float)
    owner = np.full(len(drifts), -1)
    if len(known):
        told = known["course_deg"].to_numpy(float)
        owner = first_near(flat, course, metric_lines(known, crs), told, corridor_m)
    new = _new_lines(
        flat, course, drifts["start"].to_numpy(), owner, first=len(known), corridor_m=corridor_m
    )
    names = [str(name) for name in known["line"]]
    numbers = LineNumbers(names)
    names += [numbers.next(course[members]) for _, members in new]
    added = drifts.iloc[[middle for middle, _ in new]].assign(line=names[len(known) :])
    lines = gpd.GeoDataFrame(
        {
            "line": names,
            "course_deg": [*known["course_deg"], *added["course_deg"]],
        },
        geometry=[*known.geometry, *added.geometry.to_crs("EPSG:4326")],
        crs="EPSG:4326",
    )
    return np.array(names, dtype=object)[owner], lines


def _new_lines(
    flat: NDArray[Any],
    course_deg: NDArray[np.float64],
    start: NDArray[Any],
    owner: NDArray[np.int64],
    *,
    first: int,
    corridor_m: float,
) -> list[tuple[int, NDArray[np.int64]]]:
    """Make lines of the drifts without an `owner`, which is filled in, numbered from `first`.

    Gives the middlemost drift of each, and the drifts of its cluster that had no line yet.
    """
    free = np.flatnonzero(owner < 0)
    label = cluster_labels(flat[free], course_deg[free], corridor_m)
    new: list[tuple[int, NDArray[np.int64]]] = []
    for at in np.argsort(start[free], kind="stable"):
        if owner[free[at]] >= 0:
            continue
        same = free[label == label[at]]
        members = same[owner[same] < 0]
        middle = middlemost(flat, members)
        left = free[owner[free] < 0]
        joins = first_near(
            flat[left], course_deg[left], flat[[middle]], course_deg[[middle]], corridor_m
        )
        owner[left[joins == 0]] = owner[middle] = first + len(new)
        new.append((middle, members))
        if owner[free[at]] < 0:  # its course turns further than the middlemost's: a line of its own
            owner[free[at]] = first + len(new)
            new.append((int(free[at]), free[[at]]))
    return new


class LineNumbers:
    """Gives new lines the way they run and the next number: "SE1".

    Parameters
    ----------
    taken : iterable of str
        Names that are in use.
    """

    def __init__(self, taken: Iterable[str] = ()) -> None:
        self._counts = dict.fromkeys(POINTS, 0)
        for name in taken:
            match = re.fullmatch(r"([NESW]+)(\d+)", name)
            if match and match.group(1) in self._counts:
                point, number = match.group(1), int(match.group(2))
                self._counts[point] = max(self._counts[point], number)

    def next(self, course_deg: NDArray[np.float64]) -> str:
        """Name a line by the mean course of its drifts."""
        angle = np.radians(course_deg)
        mean = np.degrees(np.arctan2(np.sin(angle).sum(), np.cos(angle).sum())) % 360.0
        point = POINTS[round(mean / 45.0) % 8]
        self._counts[point] += 1
        return f"{point}{self._counts[point]}"
