"""Ridges of slope on a smoothed bottom, with a profile across at each point."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.grid import CellSize
from seabed.structure.marching import Lines
from seabed.structure.ridges import Crossings, across, ridge_lines

__all__ = ["LOW", "Limits", "profiles", "slope_lines"]

Floats = NDArray[np.float64]

LOW: Final = 0.5
"""An edge that is steep enough somewhere is followed down to this share of the wanted slope."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What counts as an edge; names and meanings as the options of `seabed.structure.edges`."""

    scale_m: float
    band: tuple[float, float] | None
    min_length_m: float
    min_drop_m: float
    min_slope_deg: float
    reach_m: float | None = None

    @property
    def gradient(self) -> float:
        """Least slope, metres of depth a metre."""
        return math.tan(math.radians(self.min_slope_deg))


def slope_lines(
    depth: NDArray[np.float32], size: CellSize, limits: Limits, *, step_m: float
) -> tuple[Lines, pd.DataFrame]:
    """Trace ridges of slope on a smoothed bottom, with a profile across at each point.

    Parameters
    ----------
    depth : ndarray of float32, shape (rows, columns)
    size : CellSize
        Of these rows.
    limits : Limits
    step_m : float
        Steps of the profile.

    Returns
    -------
    Lines
    DataFrame
        As `profiles`, a row a point.
    """
    lines = ridge_lines(depth, size.easting, size.northing, limits.gradient * LOW)
    return lines, profiles(depth, lines[0], size, limits, step_m=step_m)


def profiles(
    depth: NDArray[np.float32], points: Floats, size: CellSize, limits: Limits, *, step_m: float
) -> pd.DataFrame:
    """Look across the slope from points, in columns and rows of a smoothed bottom.

    Returns
    -------
    DataFrame
        ``gradient``, ``east``, ``north``, ``top_depth_m``, ``foot_depth_m``, ``drop_m``,
        ``width_m``, NaN where not ``distinct``; ``depth_m``, ``column``, ``row``.
    """
    reach = 8 * limits.scale_m if limits.reach_m is None else limits.reach_m
    crossings = across(depth, points, size.easting, size.northing, step_m=step_m, reach_m=reach)
    return _profile(crossings, depth, points)


def _profile(crossings: Crossings, depth: NDArray[np.float32], points: Floats) -> pd.DataFrame:
    """One row a point; on bridged gaps only the depth is known."""
    profile = pd.DataFrame(
        {
            "gradient": crossings.gradient,
            "east": crossings.east,
            "north": crossings.north,
            "top_depth_m": crossings.top_depth,
            "foot_depth_m": crossings.foot_depth,
            "drop_m": crossings.foot_depth - crossings.top_depth,
            "width_m": crossings.width,
        }
    )
    profile[~crossings.distinct] = np.nan
    nearest = np.rint(points).astype(int)
    return profile.assign(
        distinct=crossings.distinct,
        depth_m=depth[nearest[:, 1], nearest[:, 0]].astype(float),
        column=points[:, 0],
        row=points[:, 1],
    )
