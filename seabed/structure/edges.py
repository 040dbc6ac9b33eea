"""Edges: lines along which the bottom drops away from one flat to a deeper one."""

from __future__ import annotations

import math
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.grid import CellSize, cell_size, crs_of, transform_of
from seabed.structure.marching import placed
from seabed.structure.measure import lengths_m, segment_lengths_m
from seabed.structure.ridges import Crossings, across, ridge_lines
from seabed.terrain.chunks import contiguous
from seabed.terrain.north import convergence_at
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
    _check(scale_m, size)
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
    owner = np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))
    position = placed(points, grid)
    keep, piece = _pieces(crossings.distinct, owner, segment_lengths_m(position, grid), scale_m)
    profile = _profile(crossings, depth, points)
    table = _described(grid, position[keep], piece[keep], profile[keep])
    table = _unsmoothed(table, scale_m / 2, size.typical)
    chosen = table[
        (table["length_m"] >= min_length_m)
        & (table["drop_m"] >= min_drop_m)
        & (table["steepest"] >= high)
    ].sort_values("length_m", ascending=False, kind="stable", ignore_index=True)
    chosen["edge_id"] = np.arange(len(chosen))
    chosen["in_band"] = _in_band(chosen, band)
    return gpd.GeoDataFrame(chosen[[*COLUMNS, "geometry"]], geometry="geometry", crs=crs_of(grid))


def _check(scale_m: float, size: CellSize) -> None:
    if not scale_m > 0:
        raise GridError(f"an edge scale of {scale_m:g} m is none", do="Give metres above 0.")
    if scale_m < size.typical:
        raise GridError(
            f"an edge scale of {scale_m:g} m is finer than the cells, {size.typical:.3g} m",
            do=f"Choose {2 * size.typical:.3g} m or more.",
        )


def _pieces(
    good: NDArray[np.bool_], owner: NDArray[np.int64], step_m: Floats, gap_m: float
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Cut lines where points are not good, bridging gaps up to `gap_m`.

    Returns
    -------
    keep : which points stay
    piece : number of the piece each point belongs to, rising
    """
    if not len(good):
        return good, owner
    along = np.concatenate([[0.0], np.cumsum(step_m)])
    at = np.flatnonzero(good)
    joined = (owner[at[1:]] == owner[at[:-1]]) & (
        (np.diff(at) == 1) | (np.diff(along[at]) <= gap_m)
    )
    piece_of_good = np.concatenate([[0], np.cumsum(~joined)])
    first = np.full(len(good) + 1, 0)
    last = np.zeros(len(good) + 1, int)
    np.add.at(first, at[:-1][joined], 1)
    np.add.at(last, at[1:][joined], 1)
    inside = np.cumsum(first[:-1]) - np.cumsum(last[:-1]) > 0
    piece = np.full(len(good), -1)
    piece[at] = piece_of_good
    filled = pd.Series(np.where(piece < 0, np.nan, piece)).ffill().fillna(-1).to_numpy(int)
    keep = good | inside
    return keep, np.where(keep, filled, -1)


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


def _described(
    grid: xr.DataArray, position: Floats, piece: NDArray[np.int64], profile: pd.DataFrame
) -> gpd.GeoDataFrame:
    """One row a piece of two points or more."""
    count = np.bincount(piece) if len(piece) else np.empty(0, int)
    enough = count[piece] >= 2 if len(piece) else np.empty(0, bool)
    position, profile = position[enough], profile[enough]
    _, line = np.unique(piece[enough], return_inverse=True)
    lines = shapely.linestrings(position, indices=line) if len(line) else np.empty(0, object)
    groups = profile.groupby(line)
    table = groups[["top_depth_m", "foot_depth_m", "drop_m", "width_m"]].median()
    table["steepest"] = groups["gradient"].max()
    table["depth_min_m"], table["depth_max_m"] = groups["depth_m"].min(), groups["depth_m"].max()
    middle = shapely.get_coordinates(
        shapely.line_interpolate_point(lines, 0.5, normalized=True)
    ).reshape(-1, 2)
    turn = convergence_at(grid, middle[:, 0], middle[:, 1])
    east, north = groups["east"].sum(), groups["north"].sum()
    table["faces_deg"] = np.mod(np.degrees(np.arctan2(east, north)) + turn, 360)
    table["bearing_deg"] = np.mod(_trend(grid, position, line, len(lines)) + turn, 180)
    table["length_m"] = lengths_m(lines, grid)
    return gpd.GeoDataFrame(table, geometry=lines, crs=crs_of(grid))


def _trend(grid: xr.DataArray, position: Floats, line: NDArray[Any], count: int) -> Floats:
    """Mean direction of the segments, without a sense, weighted by length; from grid north."""
    size, affine = cell_size(grid), transform_of(grid)
    row = ((position[:-1, 1] - affine.f) / affine.e).astype(int)
    step = np.diff(position, axis=0)
    east = step[:, 0] / affine.a * size.easting[row]
    north = step[:, 1] / -affine.e * size.northing[row]
    same = line[1:] == line[:-1]
    doubled, weight = 2 * np.arctan2(east, north), np.hypot(east, north) * same
    sine = np.bincount(line[:-1], weights=np.sin(doubled) * weight, minlength=count)
    cosine = np.bincount(line[:-1], weights=np.cos(doubled) * weight, minlength=count)
    return np.asarray(np.degrees(np.arctan2(sine, cosine)) / 2, float)


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
