"""Edges: lines along which the bottom drops away from one flat to a deeper one."""

from __future__ import annotations

import math
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from seabed.grid import cell_size, crs_of
from seabed.structure.lines import Traced, traced
from seabed.structure.ridges import Crossings, across, ridge_lines
from seabed.structure.scale import check_scale
from seabed.terrain.chunks import contiguous
from seabed.terrain.smoothing import smoothed

__all__ = ["edges"]

Floats = NDArray[np.float64]

COLUMNS: Final = (
    "edge_id", "top_depth_m", "foot_depth_m", "drop_m", "width_m", "slope_max_deg",
    "slope_mean_deg", "length_m", "bearing_deg", "faces_deg", "depth_min_m", "depth_max_m",
    "in_band",
)  # fmt: skip

_LOW: Final = 0.5
"""An edge that is steep enough somewhere is followed down to this share of the wanted slope."""
_LEAST_WEIGHT: Final = 0.9
_TAIL: Final = math.sqrt(2 * math.log(1 / 0.05))
"""Deviations from the middle of a Gaussian to where it has fallen to 5 %."""


def edges(
    grid: xr.DataArray,
    *,
    scale_m: float = 20.0,
    band: tuple[float, float] | None = None,
    min_length_m: float = 60.0,
    min_drop_m: float = 1.0,
    min_slope_deg: float = 1.0,
    reach_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Find edges: ridges of slope across the fall line, with their breaks.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    scale_m : float
        Smoothing scale: twice the standard deviation of the Gaussian the depths are smoothed with.
        Wiggles and steps narrower than this are blurred into one.
    band : (float, float), optional
        Depths of interest, metres.  Marks edges; drops none.
    min_length_m, min_drop_m, min_slope_deg : float
        Shorter, lower and gentler edges are left out.  The slope must be reached somewhere along
        the edge at the smoothing scale; from there it is followed down to half of it.
    reach_m : float, optional
        How far up and down the fall line to look for the breaks, 8 `scale_m` by default.  A slope
        that does not ease to half its greatest within that on both sides is no edge.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, longest first:

        - ``edge_id``: 0, 1, ...
        - ``top_depth_m``, ``foot_depth_m``, ``drop_m``: depth at the breaks, and between; medians
          along the edge
        - ``width_m``: over the ground from break to break
        - ``slope_max_deg``: greatest along the edge; ``slope_mean_deg``: of drop over width
        - ``length_m``: along the line
        - ``bearing_deg``: trend of the line, 0 <= bearing < 180, degrees true
        - ``faces_deg``: direction in which the bottom deepens, degrees true; a mean, so that it
          says little for an edge that goes round a hump
        - ``depth_min_m``, ``depth_max_m``: least and greatest depth along the line itself
        - ``in_band``: some of the ground between top and foot lies in `band` (False without)
        - ``geometry``: LineString, with the deeper side on its left hand

        Empty, with these columns, where there is none.

    Raises
    ------
    GridError
        If the scale is not above zero or is finer than the cells.

    Notes
    -----
    Lindeberg (1998) edges with Canny (1986) hysteresis; see `seabed.structure.ridges`.  A break is
    where slope, going out from the edge, has fallen 95 % of the way to that of the flank.  Width
    and slopes are put right for the smoothing, exactly so where the slope's profile is Gaussian (a
    ramp with sharp knees, 2.5 `scale_m` wide, comes out a third too wide and a third too steep);
    nothing narrower than a cell can be told.  Edges end where a tenth of the Gaussian's weight
    falls on voids or beyond the grid, about 0.6 `scale_m` from them.
    """
    size = cell_size(grid)
    check_scale(scale_m, size)
    depth = contiguous(smoothed(grid, deviation_m=scale_m / 2, least_weight=_LEAST_WEIGHT).values)
    high = math.tan(math.radians(min_slope_deg))
    points, offsets = ridge_lines(depth, size.easting, size.northing, high * _LOW)
    crossings = across(
        depth,
        points,
        size.easting,
        size.northing,
        step_m=size.typical,
        reach_m=8 * scale_m if reach_m is None else reach_m,
    )
    found = traced(grid, (points, offsets), crossings.distinct, gap_m=scale_m)
    table = _described(found, _profile(crossings, depth, points))
    table = _unsmoothed(table, scale_m / 2, size.typical)
    chosen = table[
        (table["length_m"] >= min_length_m)
        & (table["drop_m"] >= min_drop_m)
        & (table["steepest"] >= high)
    ].sort_values("length_m", ascending=False, kind="stable", ignore_index=True)
    chosen["edge_id"] = np.arange(len(chosen))
    chosen["in_band"] = _in_band(chosen, band)
    return gpd.GeoDataFrame(chosen[[*COLUMNS, "geometry"]], geometry="geometry", crs=crs_of(grid))


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
    return profile.assign(depth_m=depth[nearest[:, 1], nearest[:, 0]].astype(float))


def _described(found: Traced, profile: pd.DataFrame) -> gpd.GeoDataFrame:
    groups = profile.iloc[found.keep].groupby(found.line)
    middle = groups[["top_depth_m", "foot_depth_m", "drop_m", "width_m"]].median()
    towards = np.degrees(np.arctan2(groups["east"].sum(), groups["north"].sum()))
    return found.table.assign(
        **middle,
        steepest=groups["gradient"].max(),
        depth_min_m=groups["depth_m"].min(),
        depth_max_m=groups["depth_m"].max(),
        faces_deg=np.mod(towards + found.table["turn"], 360),
    )


def _unsmoothed(table: gpd.GeoDataFrame, deviation_m: float, cell_m: float) -> gpd.GeoDataFrame:
    """Put width and slope right for the smoothing: variances of the slope's profile subtract.

    Besides the Gaussian, slope over two steps (a box of two cells) and interpolation between cells
    (a triangle of two cells) blur it: variances of a third and a sixth of a cell squared.
    """
    blurred = table["width_m"].to_numpy()
    variance = deviation_m**2 + cell_m**2 / 3 + cell_m**2 / 6
    width = np.sqrt(np.maximum(blurred**2 - (2 * _TAIL) ** 2 * variance, cell_m**2))
    width = np.minimum(width, blurred)
    steepened = table["steepest"] * blurred / width
    return table.assign(
        width_m=width,
        slope_max_deg=np.degrees(np.arctan(steepened)),
        slope_mean_deg=np.degrees(np.arctan(table["drop_m"] / width)),
    )


def _in_band(table: pd.DataFrame, band: tuple[float, float] | None) -> Any:
    if band is None:
        return np.zeros(len(table), bool)
    shallow, deep = sorted(band)
    return (table["top_depth_m"] <= deep) & (table["foot_depth_m"] >= shallow)
