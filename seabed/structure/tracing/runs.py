"""Long lines and outlines in short runs, so that a tree of boxes finds the near part alone."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

Shapes = NDArray[np.object_]
Rows = NDArray[np.intp]

LONG: Final = 512
"""Vertices beyond which a shape is taken in runs."""

RUN: Final = 64
"""Steps in a run."""

AT_ONCE: Final = 1_000_000
"""Vertices taken apart at once."""

_AREAS: Final = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)
_LINES: Final = (shapely.GeometryType.LINESTRING, shapely.GeometryType.MULTILINESTRING)


def in_runs(shapes: Shapes) -> tuple[Shapes, Rows, Rows]:
    """Take long shapes apart into runs of their lines, or of their rings.

    Returned: shapes of at most `LONG` vertices, and those that are neither lines nor areas, as they
        are; of others all runs, each ending where the next begins, with the very segments of the
        shapes; the shape each is of; areas that were taken apart, whose runs no longer say what is
        inside.
    """
    kind = shapely.get_type_id(shapes)
    area = np.isin(kind, _AREAS)
    long = (shapely.get_num_coordinates(shapes) > LONG) & (area | np.isin(kind, _LINES))
    short = np.flatnonzero(~long)
    if not long.any():
        return shapes, short, np.empty(0, np.intp)
    rows = np.flatnonzero(long)
    # some at a time: each step below copies them
    upto = np.cumsum(shapely.get_num_coordinates(shapes[rows])) // AT_ONCE
    runs, owners = [shapes[short]], [short]
    for some in np.split(rows, np.flatnonzero(np.diff(upto)) + 1):
        run, of_shape = _taken_apart(shapes[some])
        runs.append(run)
        owners.append(some[of_shape])
    return np.concatenate(runs), np.concatenate(owners), np.flatnonzero(long & area)


def _taken_apart(shapes: Shapes) -> tuple[Shapes, Rows]:
    """Give runs of the lines and rings of shapes, and the shape each is of."""
    parts, of_part = shapely.get_parts(shapes, return_index=True)
    is_area = np.isin(shapely.get_type_id(parts), _AREAS)
    rings, of_ring = shapely.get_rings(parts[is_area], return_index=True)
    lines = np.concatenate([parts[~is_area], rings])
    whose = np.concatenate([of_part[~is_area], of_part[is_area][of_ring]])
    runs, of_run = _runs(lines)
    return runs, whose[of_run]


def ranges(begin: NDArray[np.integer], sizes: NDArray[np.integer]) -> Rows:
    """Count on from each of `begin`, so many numbers as its size; all in one row."""
    return np.repeat(begin - (np.cumsum(sizes) - sizes), sizes) + np.arange(sizes.sum())


def _runs(lines: Shapes) -> tuple[Shapes, Rows]:
    points = shapely.get_coordinates(lines)
    sizes = shapely.get_num_coordinates(lines)
    first = np.cumsum(sizes) - sizes
    counts = -(-(sizes - 1) // RUN)
    line = np.repeat(np.arange(len(lines)), counts)
    number = ranges(np.zeros_like(counts), counts)
    begin = first[line] + number * RUN
    stop = np.minimum(begin + RUN + 1, (first + sizes)[line])
    length = stop - begin
    offsets = np.concatenate([[0], np.cumsum(length)])
    drawn = points[ranges(begin, length)]
    runs = shapely.from_ragged_array(shapely.GeometryType.LINESTRING, drawn, (offsets,))
    return np.asarray(runs, object), line
