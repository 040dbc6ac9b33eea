"""Edges: lines along which the bottom drops away from one flat to a deeper one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from seabed.arrays import as_grid
from seabed.grid import cell_size, crs_of
from seabed.schema import Table, documented
from seabed.structure.faces import Faces
from seabed.structure.lines import Traced, traced
from seabed.structure.marching import Lines, placed
from seabed.structure.scale import at_scale
from seabed.structure.slopes import Limits, slope_lines
from seabed.structure.stretches import Stretches, faces_of, faces_on
from seabed.terrain.chunks import contiguous

__all__ = ["EDGES", "described", "edges", "numbered"]

EDGES: Final = Table.of(
    "edges",
    "seabed.structure.edges",
    """
    edge_id [int "Number"] 0, 1, ...
    top_depth_m ["Top"] at the upper break; like the next two, the median along the edge
    foot_depth_m ["Foot"] at the lower break
    drop_m ["Drop" depth] between the breaks
    width_m ["Width" depth] way over the ground in which the middle 80 % of the drop happens,
        divided by 0.8 (so that of an even ramp is its own)
    slope_max_deg ["Steepest" .1] greatest over two cells
    slope_mean_deg [.1] of drop over width
    length_m ["Length" distance .2] along the line
    bearing_deg trend of the line, 0 <= bearing < 180, degrees true
    faces_deg ["Deepens toward"] direction in which the bottom deepens, degrees true; a mean, so
        that it says little for an edge that goes round a hump
    depth_min_m, depth_max_m least and greatest depth along the line itself
    in_band [bool "In the band"] some of the ground between top and foot lies in `band` (False
        without)
    band_length_m [distance .2] along the line, where this is so of the breaks right there (0
        without)
    middle_x, middle_y point on the line in the middle of its longest stretch in `band`, else of
        the whole line; in the grid's CRS
    geometry [LineString] with the deeper side on its left hand
    """,
)
"""Edges of the bottom, as `edges` finds them."""


@documented(EDGES)
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
        In the grid's CRS, longest first; without rows where there is none.

        {edges}

    Raises
    ------
    GridError
        If the scale is not above zero or is finer than the cells.

    Notes
    -----
    Lindeberg (1998) edges with Canny (1986) hysteresis; see `seabed.structure.ridges`.  A break is
    where slope, going out from the edge, has fallen 95 % of the way to that of the flank, on the
    smoothed bottom.  Width and slopes are taken from mean profiles of the bottom as it is, across
    stretches of 10 `scale_m`; what is narrower than two or three cells comes out that wide.  Edges
    end where a tenth of the Gaussian's weight falls on voids or beyond the grid, about 0.6
    `scale_m` from them.

    Examples
    --------
    >>> from seabed import example_grid
    >>> found = edges(example_grid(), band=(8, 12), min_length_m=200)
    >>> found[["top_depth_m", "foot_depth_m", "faces_deg", "in_band"]].round(0).values.tolist()
    [[6.0, 14.0, 90.0, True]]
    """
    grid = as_grid(grid)
    size, depth = cell_size(grid), at_scale(grid, scale_m)
    limits = Limits(scale_m, band, min_length_m, min_drop_m, min_slope_deg, reach_m)
    lines, profile = slope_lines(depth, size, limits, step_m=size.typical)

    def measure(stretches: Stretches) -> Faces:
        return faces_on(contiguous(grid.values), stretches, size, step_m=size.typical)

    return numbered(described(grid, lines, profile, limits, measure))


def described(
    grid: xr.DataArray,
    lines: Lines,
    profile: pd.DataFrame,
    limits: Limits,
    measure: Callable[[Stretches], Faces],
) -> gpd.GeoDataFrame:
    """Cut ridges of slope where they are no edge, and tell the rest; not yet in order.

    Parameters
    ----------
    grid : depth grid
        For places and sizes.
    lines : Lines
    profile : DataFrame
        As `profiles` gives it.
    limits : Limits
    measure : callable
        Gives the faces of stretches, by the bottom as it is.
    """
    good = profile["distinct"].to_numpy(bool)
    found = traced(grid, lines, good, gap_m=limits.scale_m)
    profile = profile.iloc[found.keep].assign(line=found.line)
    table = _described(found, profile).assign(**_where_in_band(grid, profile, limits.band))
    table["band_length_m"] *= table["length_m"]
    table = table[
        (table["length_m"] >= limits.min_length_m)
        & (table["drop_m"] >= limits.min_drop_m)
        & (table["steepest"] >= limits.gradient)
    ]
    stretch_m = 10 * limits.scale_m
    faces = faces_of(table["length_m"], profile, measure, stretch_m=stretch_m).reindex(table.index)
    width = faces["width_m"].fillna(table["width_m"])
    table = table.assign(
        edge_id=0,
        width_m=width,
        slope_max_deg=np.degrees(np.arctan(faces["steepest"].fillna(table["steepest"]))),
        slope_mean_deg=np.degrees(np.arctan(table["drop_m"] / width)),
        in_band=_in_band(table, limits.band),
    )
    return EDGES.frame(table, crs=crs_of(grid))


def numbered(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Put edges in order, longest first, and number them."""
    table = table.sort_values("length_m", ascending=False, kind="stable", ignore_index=True)
    table["edge_id"] = np.arange(len(table))
    return table


def _described(found: Traced, profile: pd.DataFrame) -> gpd.GeoDataFrame:
    groups = profile.groupby("line")
    middle = groups[["top_depth_m", "foot_depth_m", "drop_m", "width_m"]].median()
    towards = np.degrees(np.arctan2(groups["east"].sum(), groups["north"].sum()))
    return found.table.assign(
        **middle,
        steepest=groups["gradient"].max(),
        depth_min_m=groups["depth_m"].min(),
        depth_max_m=groups["depth_m"].max(),
        faces_deg=np.mod(towards + found.table["turn"], 360),
    )


def _where_in_band(
    grid: xr.DataArray, profile: pd.DataFrame, band: tuple[float, float] | None
) -> pd.DataFrame:
    """Share of each line whose face reaches into the band, and the middle of its longest stretch.

    Breaks on bridged gaps are those before the gap.
    """
    line = profile["line"]
    breaks = profile.groupby("line")[["top_depth_m", "foot_depth_m"]].ffill()
    inside = pd.Series(_in_band(breaks, band), profile.index)
    runs = ((line != line.shift()) | (inside != inside.shift())).cumsum().to_numpy()
    runs = np.where(inside.groupby(line).transform("any"), runs, -line - 1)
    stretch = pd.DataFrame(
        {"line": line.to_numpy(), "inside": inside.to_numpy(), "at": np.arange(len(line))}
    ).groupby(runs)
    stretch = stretch.agg(line=("line", "first"), inside=("inside", "first"),
                          first=("at", "min"), last=("at", "max"))  # fmt: skip
    stretch["points"] = stretch["last"] - stretch["first"]
    best = stretch.sort_values(["inside", "points"], kind="stable").groupby("line").last()
    middle = profile.iloc[(best["first"] + best["last"]).to_numpy() // 2]
    place = placed(middle[["column", "row"]].to_numpy(), grid)
    return pd.DataFrame(
        {
            "band_length_m": inside.groupby(line).mean().reindex(best.index),
            "middle_x": place[:, 0],
            "middle_y": place[:, 1],
        },
        index=best.index,
    )


def _in_band(table: pd.DataFrame, band: tuple[float, float] | None) -> Any:
    if band is None:
        return np.zeros(len(table), bool)
    shallow, deep = sorted(band)
    return (table["top_depth_m"] <= deep) & (table["foot_depth_m"] >= shallow)
