"""Profiles across ridges of slope on a smoothed bottom."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.grid import CellSize
from seabed.structure.tracing.ridges import Crossings, across

LOW: Final = 0.5
"""An edge that is steep enough somewhere is followed down to this share of the wanted slope."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What counts as an edge; names and meanings as the options of `seabed.structure.edges`."""

    scale_m: float
    min_length_m: float
    min_drop_m: float = 1.0
    min_slope_deg: float = 1.0
    band: tuple[float, float] | None = None
    reach_m: float | None = None

    @property
    def reach(self) -> float:
        """How far up and down the fall line the breaks are sought, metres."""
        return 8 * self.scale_m if self.reach_m is None else self.reach_m

    @property
    def gradient(self) -> float:
        """Least slope, metres of depth a metre."""
        return math.tan(math.radians(self.min_slope_deg))


def profiles(
    depth: NDArray[np.float32],
    points: Floats,
    size: CellSize,
    limits: Limits,
    *,
    step_m: float,
    corner: tuple[int, int],
    tilted: bool = True,
) -> pd.DataFrame:
    """Look across the slope from points, in columns and rows of the grid, on smoothed depths.

    corner: (column, row) of the first of `depth` in the grid.
    tilted: whether flanks are drawn on; else the drop is that between the breaks.
    Returned: ``gradient``, ``east``, ``north``, ``top_depth_m``, ``foot_depth_m``, ``width_m``, NaN
        where not ``distinct``, like ``drop_m`` between the flanks drawn on, their depths and
        slopes; ``depth_m``, ``column``, ``row``.
    """
    crossings = across(
        depth,
        points,
        size.easting,
        size.northing,
        step_m=step_m,
        reach_m=limits.reach,
        flank_m=limits.scale_m if tilted else 0.0,
        corner=corner,
    )
    return _profile(crossings, depth, points, corner)


def _profile(
    crossings: Crossings, depth: NDArray[np.float32], points: Floats, corner: tuple[int, int]
) -> pd.DataFrame:
    """One row a point; on bridged gaps only the depth is known."""
    profile = pd.DataFrame(
        {
            "gradient": crossings.gradient,
            "east": crossings.east,
            "north": crossings.north,
            "top_depth_m": crossings.top_depth,
            "foot_depth_m": crossings.foot_depth,
            "top_line_m": crossings.top_line,
            "foot_line_m": crossings.foot_line,
            "top_slope": crossings.top_slope,
            "foot_slope": crossings.foot_slope,
            "drop_m": crossings.foot_line - crossings.top_line,
            "width_m": crossings.width,
        }
    )
    profile[~crossings.distinct] = np.nan
    nearest = np.rint(points).astype(int) - corner
    return profile.assign(
        distinct=crossings.distinct,
        depth_m=depth[nearest[:, 1], nearest[:, 0]].astype(float),
        column=points[:, 0],
        row=points[:, 1],
    )
