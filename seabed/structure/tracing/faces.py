"""The face of an edge on the unsmoothed grid: mean profiles across stretches of it.

Smoothing finds edges in noise but blurs them.  The mean of many unsmoothed profiles, taken where
the smoothed ones say, is about as quiet and keeps the face as sharp as the cells can show it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Depths, Floats, Ints
from seabed.compiled import compiled
from seabed.grid import CellSize
from seabed.structure.tracing.ridges import at_point

_MIDDLE: Final = 0.8
"""Share of the drop, about its middle, whose width is measured."""

_LINES: Final = ["top_line_m", "foot_line_m"]
_SLOPES: Final = ["top_slope", "foot_slope"]


@dataclass(frozen=True, slots=True)
class Faces:
    """Faces of n stretches.

    width: way over which the middle 80 % of the drop happens, divided by 0.8, metres; NaN if
        unknown.
    steepest: greatest slope over two steps, metres of depth a metre.
    """

    width: Floats
    steepest: Floats


def mean_faces(  # noqa: PLR0917
    depth: Depths,
    points: Floats,
    towards: Floats,
    stretch: Ints,
    lines: Floats,
    slopes: Floats,
    *,
    cells: Floats,
    step_m: float,
    reach_m: Floats,
    corner: tuple[int, int],
) -> Faces:
    """Measure mean profiles.

    points, towards, shape (m, 2): columns and rows on edges, and unit vectors (east, north) down
        their faces.
    stretch, shape (m,): which stretch each point belongs to, 0 to n - 1, rising.
    lines, slopes, shape (n, 2): depth at the edge, metres, and slope of the upper and the lower
        flank drawn on.  Widths are those of the face over its flanks.
    cells, shape (rows, 2): width and height of the cells of each row, metres.
    step_m, reach_m: length of a step; how far to go on each side of each stretch.
    corner: (column, row) of the first of `depth` in the grid in which `points` are counted.
    """
    limit = np.ceil(np.maximum(reach_m, 0) / step_m).astype(np.int64) + 3
    steps = int(limit.max(initial=3))
    rises = np.zeros((len(lines), 2 * steps + 1))
    counts = np.zeros((len(lines), 2 * steps + 1))
    half = int(np.searchsorted(stretch, stretch[len(stretch) // 2])) if len(stretch) else 0

    def gather(part: slice) -> None:  # stretches in order: no two threads have one
        _gather(depth, points[part], towards[part], stretch[part], limit, cells, step_m, *corner,
                rises, counts)  # fmt: skip

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(gather, (slice(0, half), slice(half, None))))
    out = np.full((len(lines), 2), np.nan)
    _measure(rises, counts, lines, slopes, step_m, out)
    return Faces(out[:, 0], out[:, 1])


@compiled
def _gather(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: Depths,
    points: Floats,
    towards: Floats,
    stretch: Ints,
    limit: Ints,
    cells: Floats,
    step: float,
    left: int,
    top: int,
    rises: Floats,
    counts: Floats,
) -> None:
    """Sum depths in the middle and rises from there, so that voids far out do no harm near by."""
    steps = rises.shape[1] // 2
    for k in range(len(points)):
        column, row, g = points[k, 0], points[k, 1], stretch[k]
        w, h = cells[int(row + 0.5) - top, 0], cells[int(row + 0.5) - top, 1]
        across, down = step * towards[k, 0] / w, -step * towards[k, 1] / h
        middle = at_point(depth, column, row, left, top)
        if math.isnan(middle):
            continue
        rises[g, steps] += middle
        counts[g, steps] += 1
        for side in (-1, 1):
            before = middle
            for n in range(1, limit[g] + 1):
                here = at_point(depth, column + side * n * across, row + side * n * down, left, top)
                if math.isnan(here):
                    break
                rises[g, steps + side * n] += here - before
                counts[g, steps + side * n] += 1
                before = here


@compiled
def _measure(  # noqa: PLR0917  (compiled functions take no keywords)
    rises: Floats, counts: Floats, lines: Floats, slopes: Floats, step: float, out: Floats
) -> None:
    size = rises.shape[1]
    steps = size // 2
    profile, over = np.empty(size), np.empty(size)
    for g in range(len(lines)):
        profile[steps] = over[steps] = rises[g, steps] / counts[g, steps]
        for n in range(1, steps + 1):
            profile[steps + n] = profile[steps + n - 1] + rises[g, steps + n] / counts[g, steps + n]
            profile[steps - n] = profile[steps - n + 1] + rises[g, steps - n] / counts[g, steps - n]
            over[steps + n] = profile[steps + n] - slopes[g, 1] * n * step
            over[steps - n] = profile[steps - n] + slopes[g, 0] * n * step
        top, foot = lines[g, 0], lines[g, 1]
        margin = (foot - top) * (1 - _MIDDLE) / 2
        up = _reaches(over, -1, top + margin)
        on = _reaches(over, 1, foot - margin)
        out[g, 0] = (on + up) * step / _MIDDLE
        if math.isnan(up + on):
            continue
        greatest = 0.0
        for i in range(max(int(steps - up), 1), min(int(steps + on) + 2, size - 1)):
            greatest = max(greatest, (profile[i + 1] - profile[i - 1]) / (2 * step))
        out[g, 1] = greatest


@compiled
def _reaches(profile: Floats, side: int, level: float) -> float:
    """Count steps from the middle to where a profile first has a depth; NaN if it never has."""
    steps = len(profile) // 2
    for n in range(1, steps + 1):
        here, before = profile[steps + side * n], profile[steps + side * (n - 1)]
        if side * (here - level) >= 0:
            if here == before:
                return float(n)
            return float(n - 1 + max(0.0, (level - before) / (here - before)))
    return math.nan


@dataclass(frozen=True, slots=True)
class Stretches:
    """Points of stretches of edges, and what is known of each of n stretches; as `mean_faces`."""

    points: Floats
    towards: Floats
    stretch: Ints
    lines: Floats
    slopes: Floats
    reach_m: Floats


def faces_on(
    depth: NDArray[np.float32],
    stretches: Stretches,
    size: CellSize,
    *,
    step_m: float,
    corner: tuple[int, int],
) -> Faces:
    """Measure the faces of stretches on a bottom, not smoothed, whose rows have these sizes."""
    return mean_faces(
        depth,
        stretches.points,
        stretches.towards,
        stretches.stretch,
        stretches.lines,
        stretches.slopes,
        cells=np.column_stack([size.easting, size.northing]),
        step_m=step_m,
        reach_m=stretches.reach_m,
        corner=corner,
    )


def faces_of(
    length_m: pd.Series,
    profile: pd.DataFrame,
    measure: Callable[[Stretches], Faces],
    *,
    stretch_m: float,
) -> pd.DataFrame:
    """Width and greatest slope of lines, from mean profiles of their stretches.

    length_m: by the lines' numbers.
    profile: as `seabed.structure.tracing.slopes.profiles`, with each point's ``line``.
    measure: gives the faces of stretches, by the unsmoothed bottom.
    Returned: ``width_m`` (metres) and ``steepest`` (metres of depth a metre), by line; none for a
        line that has no breaks.
    """
    profile = profile[profile["line"].isin(length_m.index) & profile["drop_m"].notna()]
    of_line = profile.groupby("line")["line"]
    parts = np.maximum(1, np.rint(length_m / stretch_m))[profile["line"]].to_numpy()
    part = np.floor(of_line.cumcount() / of_line.transform("size") * parts)
    stretches = profile.groupby([profile["line"], part.rename("part")])
    middle = stretches[[*_LINES, *_SLOPES, "width_m"]].median()
    measured = measure(
        Stretches(
            profile[["column", "row"]].to_numpy(),
            profile[["east", "north"]].to_numpy(),
            stretches.ngroup().to_numpy(),
            middle[_LINES].to_numpy(),
            middle[_SLOPES].to_numpy(),
            middle["width_m"].to_numpy(),
        )
    )
    faces = pd.DataFrame(
        {"width_m": measured.width, "steepest": measured.steepest}, index=middle.index
    ).groupby("line")
    return pd.DataFrame({"width_m": faces["width_m"].median(), "steepest": faces["steepest"].max()})
