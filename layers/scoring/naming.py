"""Names of lines that last: ground that was named once keeps its name."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from layers.scoring.clusters import cluster_labels, middlemost
from layers.scoring.likeness import first_near, metric_lines
from layers.tracks import DRIFTS
from seabed.array_types import Floats, Ints
from seabed.geodesy import utm_of
from seabed.schema import Table

POINTS: Final = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")

MOST_AT_ONCE: Final = 300
"""Drifts that are clustered at once; more are taken in order of time, as if logged trip by trip."""

KNOWN: Final = Table.of(
    "known",
    "layers.logbook.Logbook.lines",
    """
    line [text] its name
    course_deg true, of the drift that gave it
    geometry [LineString] that drift
    """,
)
"""Ground that was named."""


def name_lines(
    drifts: gpd.GeoDataFrame, known: gpd.GeoDataFrame, *, corridor_m: float
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    """Name each drift after the ground it ran, giving new names to new ground.

    A drift takes the name of the first of the `known` lines that it keeps within the corridor of,
    running the same way.  Drifts that have none are clustered; the middlemost of each cluster, in
    order of the first drift, becomes a line.  That is done for `MOST_AT_ONCE` drifts at a time.
    Lines are only ever added to the end, so that what a drift is called depends on nothing that is
    logged later.

    known: as `KNOWN`, in the order in which they were named.
    Returned: drifts with their ``line``; the known lines, then the new.
    """
    DRIFTS.check(drifts, "course_deg", "start", "geometry")
    KNOWN.check(known)
    if not len(drifts):
        return drifts.assign(line=np.array([], dtype=object)), known
    # that of the line named first, whatever is added: at the edge of a zone planes differ
    crs = utm_of((known if len(known) else drifts).iloc[:1])
    flat = metric_lines(drifts, crs)
    course = _known_courses(drifts["course_deg"].to_numpy(float), flat)
    owner = np.full(len(drifts), -1)
    if len(known):
        known_course = known["course_deg"].to_numpy(float)
        owner = first_near(flat, course, metric_lines(known, crs), known_course, corridor_m)
    order = np.argsort(drifts["start"].to_numpy(), kind="stable")
    free = order[owner[order] < 0]
    names = [str(name) for name in known["line"]]
    numbers = LineNumbers(names)
    middles: list[int] = []
    for rows in np.split(free, range(MOST_AT_ONCE, len(free), MOST_AT_ONCE)):
        own = _on_new(flat, course, rows, middles, corridor_m=corridor_m)
        new = _new_lines(flat[rows], course[rows], own, first=len(middles), corridor_m=corridor_m)
        owner[rows] = own + len(known)
        middles += [int(rows[middle]) for middle, _ in new]
        names += [numbers.next(course[rows[members]]) for _, members in new]
    added = drifts.iloc[middles]
    lines = KNOWN.frame(
        {
            "line": names,
            "course_deg": [*known["course_deg"], *course[middles]],
            "geometry": [*known.geometry, *added.geometry.to_crs("EPSG:4326")],
        }
    )
    return drifts.assign(line=np.array(names, dtype=object)[owner]), lines


def _known_courses(course: Floats, flat: NDArray[Any]) -> Floats:
    """Take the way from its first to its last point where a drift of another's book has none."""
    east, north = (
        get(shapely.get_point(flat, -1)) - get(shapely.get_point(flat, 0))
        for get in (shapely.get_x, shapely.get_y)
    )
    return np.where(np.isfinite(course), course, np.degrees(np.arctan2(east, north)) % 360.0)


def _on_new(
    flat: NDArray[Any],
    course_deg: Floats,
    rows: Ints,
    middles: list[int],
    *,
    corridor_m: float,
) -> Ints:
    """Say which of the new lines, by their middles, each drift is on; -1 for none."""
    if not middles or not len(rows):
        return np.full(len(rows), -1)
    return first_near(flat[rows], course_deg[rows], flat[middles], course_deg[middles], corridor_m)


def _new_lines(
    flat: NDArray[Any],
    course_deg: Floats,
    owner: Ints,
    *,
    first: int,
    corridor_m: float,
) -> list[tuple[int, Ints]]:
    """Make lines of the drifts without an `owner`, which is filled in, numbered from `first`.

    Drifts are in order of time.  Gives the middlemost drift of each, and the drifts of its cluster
    that had no line yet.
    """
    free = np.flatnonzero(owner < 0)
    label = cluster_labels(flat[free], course_deg[free], corridor_m)
    new: list[tuple[int, Ints]] = []
    for at in range(len(free)):
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
    """Gives new lines the way they run and the next number that is not taken: "SE1"."""

    def __init__(self, taken: Iterable[str] = ()) -> None:
        self._counts = dict.fromkeys(POINTS, 0)
        for name in taken:
            match = re.fullmatch(r"([NESW]+)(\d+)", name)
            if match and match.group(1) in self._counts:
                point, number = match.group(1), int(match.group(2))
                self._counts[point] = max(self._counts[point], number)

    def next(self, course_deg: Floats) -> str:
        """Name a line by the mean course of its drifts."""
        angle = np.radians(course_deg)
        mean = np.degrees(np.arctan2(np.sin(angle).sum(), np.cos(angle).sum())) % 360.0
        point = POINTS[round(mean / 45.0) % 8]
        self._counts[point] += 1
        return f"{point}{self._counts[point]}"
