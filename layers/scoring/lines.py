"""Drifts that ran the same ground the same way, gathered into lines."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from layers.scoring.clusters import cluster_labels
from layers.scoring.likeness import metric_lines
from layers.scoring.naming import LineNumbers, name_lines
from layers.tracks import DRIFTS
from seabed.schema import Table

__all__ = ["ON_LINES", "gather_lines"]

ON_LINES: Final = replace(
    DRIFTS + Table.of("line", "", 'line [text "Line"] that it ran'),
    made_by="layers.scoring.gather_lines",
)
"""Drifts with their lines."""


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
        Lines that have their names, in the order in which they got them, with ``line``,
        ``course_deg``, ``geometry``: drifts are named after them as `name_lines` says, and names of
        lines that were not fished again stay theirs.  With no rows, names are given so that they
        can last.

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
    if known is not None:
        return name_lines(drifts, known, corridor_m=corridor_m)[0]
    if not len(drifts):
        return drifts.assign(line=np.array([], dtype=object))
    course = drifts["course_deg"].to_numpy(float)
    label = cluster_labels(metric_lines(drifts), course, corridor_m)
    return drifts.assign(line=_names(label, course, drifts["start"].to_numpy()))


def _names(
    label: NDArray[np.int64], course_deg: NDArray[np.float64], start: NDArray[np.generic]
) -> list[str]:
    """Name each line by the mean course of its drifts and a running number."""
    names: dict[int, str] = {}
    numbers = LineNumbers()
    for row in np.argsort(start, kind="stable"):
        mark = int(label[row])
        if mark not in names:
            names[mark] = numbers.next(course_deg[label == mark])
    return [names[int(mark)] for mark in label]
