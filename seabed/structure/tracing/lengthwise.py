"""Stretches of edges, whose faces are measured on the bottom as it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.grid import CellSize
from seabed.structure.tracing.faces import Faces, mean_faces

_LINES: Final = ["top_line_m", "foot_line_m"]
_SLOPES: Final = ["top_slope", "foot_slope"]


@dataclass(frozen=True, slots=True)
class Stretches:
    """Points of stretches of edges, and what is known of each of the n stretches.

    points, towards: ndarray, shape (points, 2); column and row in the grid; unit vector toward
        which the bottom deepens, east and north.
    stretch: ndarray of int64, shape (points,); rising.
    lines, slopes: ndarray, shape (n, 2); depth at the edge, metres, and slope of the upper and the
        lower flank drawn on.
    reach_m: ndarray, shape (n,).
    """

    points: Floats
    towards: Floats
    stretch: NDArray[np.int64]
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
    """Measure the faces of stretches on a bottom, not smoothed, whose rows have these sizes.

    `corner` is the column and row of its first cell in the grid.
    """
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
    measure: gives the faces of stretches, by the bottom as it is.
    stretch_m: about how long stretches are to be.
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
