"""Drifts that ran the same ground the same way, gathered into lines."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from layers.scoring.clusters import cluster_labels
from layers.scoring.likeness import metric_lines
from layers.scoring.naming import LineNumbers, name_lines
from layers.tracks import DRIFTS
from seabed.array_types import Floats, Ints
from seabed.schema import Table

ON_LINES: Final = replace(
    DRIFTS + Table.of("line", "", 'line [text "Line"] that it ran'),
    made_by="layers.scoring.gather_lines",
)
"""Drifts with their lines."""

MOST_ANEW: Final = 600
"""The most drifts that are clustered all together; the work grows with the square."""


def gather_lines(
    drifts: gpd.GeoDataFrame,
    *,
    corridor_m: float = 40.0,
    known: gpd.GeoDataFrame | None = None,
    regroup: bool = False,
) -> gpd.GeoDataFrame:
    """Gather drifts into repeated lines.

    Two drifts are as far apart as `apart_m` says, on average over the stretch they run side by
    side; clusters are joined while they are less than a corridor apart on average, so that a chain
    of neighbours can't grow into one wide line, and one drift astray does not part a line.

    Parameters
    ----------
    drifts : from `layers.tracks.drifts_of`
    corridor_m : float
        Metres.
    known : GeoDataFrame, optional
        Lines that have their names, in the order in which they got them, with ``line``,
        ``course_deg``, ``geometry``: drifts are named after them as `name_lines` says, and names of
        lines that were not fished again stay theirs.  With no rows, names are given so that they
        can last.
    regroup : bool
        Cluster all the drifts together, whatever order their ground was named in; a line then takes
        the known name that most of its drifts have.  Not above `MOST_ANEW` drifts, whose work grows
        with the square: they keep the names they have.

    Returns
    -------
    GeoDataFrame
        As `drifts`, with ``line``: the way it runs and a number, such as ``"SE1"``, counted in
        order of the first drift on it, so that later trips give new lines new numbers.  A drift
        like no other is a line of its own.

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip
    >>> fixes, _ = clean(example_trip()[0])
    >>> own = drifts(cut(fixes), fixes)
    >>> gather_lines(own)["line"].tolist()
    ['N1', 'N1', 'N2', 'N2']
    """
    DRIFTS.check(drifts, "course_deg", "start", "geometry")
    earlier: list[str] | None = None
    if known is not None:
        named = name_lines(drifts, known, corridor_m=corridor_m)[0]
        if not regroup or len(drifts) > MOST_ANEW:
            return named
        earlier = named["line"].tolist()
    if not len(drifts):
        return drifts.assign(line=np.array([], dtype=object))
    course = drifts["course_deg"].to_numpy(float)
    label = cluster_labels(metric_lines(drifts), course, corridor_m)
    start = drifts["start"].to_numpy()
    if earlier is None:
        return drifts.assign(line=_names(label, course, start, {}, set()))
    taken = set() if known is None else set(known["line"])
    return drifts.assign(line=_by_plurality(label, course, start, earlier, taken=taken))


def _by_plurality(
    label: Ints,
    course_deg: Floats,
    start: NDArray[np.generic],
    earlier: list[str],
    *,
    taken: set[str],
) -> list[str]:
    """Name each cluster as most of its drifts were; what is left without a name gets a new one."""
    counts = Counter(zip(label.tolist(), earlier, strict=True))
    names: dict[int, str] = {}
    # the greatest share first; of equals the name that comes first, as it was given first
    for (mark, name), _ in sorted(counts.items(), key=lambda one: (-one[1], one[0][1], one[0][0])):
        if mark not in names and name not in names.values():
            names[mark] = name
    return _names(label, course_deg, start, names, taken | set(earlier))


def _names(
    label: Ints,
    course_deg: Floats,
    start: NDArray[np.generic],
    names: dict[int, str],
    taken: set[str],
) -> list[str]:
    """Name each line without a name by the mean course of its drifts and a running number."""
    numbers = LineNumbers(taken)
    for row in np.argsort(start, kind="stable"):
        mark = int(label[row])
        if mark not in names:
            names[mark] = numbers.next(course_deg[label == mark])
    return [names[int(mark)] for mark in label]
