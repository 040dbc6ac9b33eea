"""Edges: lines along which the bottom drops away from one flat to a deeper one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Mask
from seabed.grid import CellSize, crs_of
from seabed.schema import Table, documented
from seabed.structure.blocks.block import Block, without_doubtful
from seabed.structure.blocks.kind import in_memory
from seabed.structure.blocks.pieces import (
    kept_for_later,
    pieces_of,
    stored_table,
    stored_tables,
)
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.calm.lone import REACH
from seabed.structure.calm.noise import NoiseSettings
from seabed.structure.scale import at_scale, check_scale, margin_of, scale_on
from seabed.structure.tracing.faces import Faces, Stretches, faces_of, faces_on
from seabed.structure.tracing.lines import Traced, at_most_m, longest_first, traced
from seabed.structure.tracing.linking import joined_onward, picked, ring_order
from seabed.structure.tracing.marching import Lines, level_lines, marching, placed
from seabed.structure.tracing.ridges import STRIDES, bends, steepness
from seabed.structure.tracing.runs import ranges
from seabed.structure.tracing.slopes import LOW, Limits, profiles

EDGES: Final = Table.of(
    "edges",
    "seabed.structure.edges",
    """
    edge_id [int "Number"] 0, 1, ...
    top_depth_m ["Top"] at the upper break; like the next two, the median along the edge
    foot_depth_m ["Foot"] at the lower break
    drop_m ["Drop" depth .2] at the line, between the flanks beyond the breaks drawn on as straight
        lines: on ground that falls as a whole it is less than from top to foot
    width_m ["Width" depth .0] way over the ground in which the middle 80 % of the drop happens,
        divided by 0.8 (so that of an even ramp is its own)
    slope_max_deg ["Steepest" .1] greatest over two cells
    slope_mean_deg [.1] of drop over width, and the mean slope of the flanks added
    length_m ["Length" distance .2] along the line
    bearing_deg trend of the line, 0 <= bearing < 180, degrees true
    faces_deg ["Deepens toward"] direction in which the bottom deepens, degrees true; a mean, so
        that it says little for an edge that goes round a hump
    depth_min_m, depth_max_m least and greatest depth along the line itself
    in_band [bool "In the band"] some of the ground between top and foot is in `band` (False
        without)
    band_length_m [distance .2] along the line, where this is so of the breaks right there (0
        without)
    middle_x, middle_y point on the line in the middle of its longest stretch in `band`, else of
        the whole line; in the grid's CRS
    geometry [LineString] with the deeper side on its left hand
    """,
)
"""Edges of the bottom, as `edges` finds them."""

_PROFILE: Final = (
    "gradient", "east", "north", "top_depth_m", "foot_depth_m", "top_line_m", "foot_line_m",
    "top_slope", "foot_slope", "drop_m", "width_m", "depth_m", "distinct",
)  # fmt: skip
USUAL_M: Final = 20.0
"""Smoothing scale on cells that are fine enough."""
_LENGTHS: Final = 4.0
"""Scales that an edge is long, at least."""
_SLACK: Final = 0.95
"""Share of the least drop that is enough: smoothing and noise take some of it."""
_COLUMNS: Final = list(EDGES.names[:-1])
_TILE: Final = 1024


@documented(EDGES)
def edges(
    grid: xr.DataArray,
    *,
    scale_m: float | None = None,
    band: tuple[float, float] | None = None,
    min_length_m: float | None = None,
    min_drop_m: float = 1.0,
    min_slope_deg: float = 1.0,
    reach_m: float | None = None,
    significance: float | None = None,
    noise_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Find edges: ridges of slope across the fall line, with their breaks.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    scale_m : float, optional
        Smoothing scale: twice the standard deviation of the Gaussian the depths are smoothed with.
        Wiggles and steps narrower than this are blurred into one.  20 m by default, or two cells
        where these are more.
    band : (float, float), optional
        Depths of interest, metres.  Marks edges; drops none.
    min_length_m, min_drop_m, min_slope_deg : float
        Shorter, lower and gentler edges are left out; the least length is four scales by default,
        and a drop that falls short by a twentieth is enough.  The slope must be reached somewhere
        along the edge at the smoothing scale; from there it is followed down to half of it.
    reach_m : float, optional
        How far up and down the fall line to look for the breaks, 8 `scale_m` by default.  A slope
        that does not ease to half its greatest within that on both sides is no edge, unless it is a
        degree steeper than its flanks.  A flank's slope is no less than the median over eight
        scales beyond the break.
    significance : float, optional
        0 takes doubtful soundings for ground, and the drop from break to break without regard to
        the slope of the flanks.
    noise_m : float, optional
        As for `humps`.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, longest first; without rows if there is none.

        {edges}

    Raises
    ------
    GridError
        If the scale is not above zero or is finer than the cells.

    Notes
    -----
    Lindeberg (1998) edges with Canny (1986) hysteresis; see `seabed.structure.tracing.ridges`.  A
    break is where slope, going out from the edge, has fallen 95 % of the way to that of the flank,
    on the smoothed bottom.  Width and slopes are taken from mean profiles of the bottom as it is,
    across stretches of 10 `scale_m`; what is narrower than two or three cells comes out that wide.
    Edges end where a tenth of the Gaussian's weight falls on voids or beyond the grid, about 0.6
    `scale_m` from them.

    Examples
    --------
    >>> from seabed import example_grid
    >>> found = edges(example_grid(), band=(8, 12), min_length_m=200)
    >>> found[["top_depth_m", "foot_depth_m", "faces_deg", "in_band"]].round(0).values.tolist()
    [[6.0, 14.0, 90.0, True]]
    """
    wanted = Edges(scale_m, min_length_m, min_drop_m, min_slope_deg, band, reach_m)
    return in_memory(wanted, grid, NoiseSettings.of(significance, noise_m))


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of a grid in blocks: complete in their chunk, or joined where they cross its border."""

    scale_m: float | None = None
    min_length_m: float | None = None
    min_drop_m: float = 1.0
    min_slope_deg: float = 1.0
    band: tuple[float, float] | None = None
    reach_m: float | None = None

    def limits(self, whole: Whole) -> Limits:
        """Give the options on a grid: those left open follow its cells."""
        scale_m = scale_on(whole, USUAL_M) if self.scale_m is None else self.scale_m
        length_m = _LENGTHS * scale_m if self.min_length_m is None else self.min_length_m
        return Limits(
            scale_m, length_m, self.min_drop_m, self.min_slope_deg, self.band, self.reach_m
        )

    def check(self, whole: Whole) -> None:
        """Refuse a scale that does not fit the cells."""
        check_scale(self.limits(whole).scale_m, whole)

    def margin(self, whole: Whole) -> int:
        """Reach of the smoothing and, on that, of the walk across an edge."""
        limits = self.limits(whole)
        beyond = STRIDES * limits.scale_m if whole.noise.significance else 0.0
        return margin_of(limits.scale_m, limits.reach + beyond, whole)

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Find the edges of a chunk, as `stored_table` and `kept_for_later` give them."""
        whole, size = block.whole, block.size
        limits, step_m, frame = self.limits(whole), whole.size.typical, whole.frame
        depth = at_scale(block, limits.scale_m)
        bend = bends(depth, size.easting, size.northing, limits.gradient * LOW)[block.shared]
        points, offsets = level_lines(marching(bend), 0.0)
        lines = block.settled(points, bend, (0.0,)), offsets
        lines = lines[0][ring_order(lines)], offsets
        starts, ends = block.crossings(lines, bend, 0.0)
        worth = _worth_a_walk(lines, depth, block, limits) | ~np.isnan(
            np.hstack([starts, ends])
        ).all(axis=1)
        lines, starts, ends = picked(lines, worth), starts[worth], ends[worth]
        profile = profiles(
            depth,
            lines[0],
            size,
            limits,
            step_m=step_m,
            corner=block.corner,
            tilted=whole.noise.significance > 0,
        )

        def measure(stretches: Stretches) -> Faces:
            return faces_on(block.ground, stretches, size, step_m=step_m, corner=block.corner)

        good = profile["distinct"].to_numpy(bool)
        later, taken = kept_for_later(
            lines, starts, ends, profile[list(_PROFILE)], good, frame, limits.scale_m
        )
        profile.loc[taken, "distinct"] = False
        table = described(frame, lines, profile, limits, measure)
        return {**stored_table(table, _COLUMNS), **later}

    def join(self, results: Results, whole: Whole) -> gpd.GeoDataFrame:
        """Join the edges of all chunks; the grid is read again around those in several."""
        lines, profile = pieces_of(results, list(_PROFILE), joined_onward)
        order = ring_order(lines)
        lines, profile = (lines[0][order], lines[1]), profile.iloc[order].reset_index(drop=True)
        profile = profile.assign(
            distinct=profile["distinct"] == 1, column=lines[0][:, 0], row=lines[0][:, 1]
        )

        def measure(stretches: Stretches) -> Faces:
            return _faces_by_tile(whole, stretches)

        across = described(whole.frame, lines, profile, self.limits(whole), measure)
        table = stored_tables(results, _COLUMNS, across, whole.frame)
        return numbered(EDGES.frame(table.assign(in_band=table["in_band"] == 1), crs=across.crs))


def _worth_a_walk(lines: Lines, depth: NDArray[np.float32], block: Block, limits: Limits) -> Mask:
    """Say which lines, as traced, are long and somewhere steep enough for an edge."""
    points, offsets = lines
    if not len(points):
        return np.zeros(len(offsets) - 1, bool)
    size = block.size
    slope = steepness(depth, points, size.easting, size.northing, *block.corner)
    steepest = np.fmax.reduceat(slope, offsets[:-1])
    enough: Mask = (steepest >= limits.gradient) & (
        at_most_m(lines, block.whole.size) >= limits.min_length_m
    )
    return enough


def described(
    grid: xr.DataArray,
    lines: Lines,
    profile: pd.DataFrame,
    limits: Limits,
    measure: Callable[[Stretches], Faces],
) -> gpd.GeoDataFrame:
    """Cut ridges of slope where they are no edge, and describe the rest; not yet in order."""
    good = profile["distinct"].to_numpy(bool)
    ridges = traced(grid, lines, good, gap_m=limits.scale_m)
    profile = profile.iloc[ridges.keep].assign(line=ridges.line)
    table = _described(ridges, profile).assign(**_where_in_band(grid, profile, limits.band))
    table["band_length_m"] *= table["length_m"]
    table = table[
        (table["length_m"] >= limits.min_length_m)
        & (table["drop_m"] >= limits.min_drop_m * _SLACK)
        & (table["steepest"] >= limits.gradient)
    ]
    stretch_m = 10 * limits.scale_m
    faces = faces_of(table["length_m"], profile, measure, stretch_m=stretch_m).reindex(table.index)
    width = faces["width_m"].fillna(table["width_m"])
    steepest = faces["steepest"].fillna(table["steepest"])
    mean = np.minimum(table["drop_m"] / width + table["flank"], steepest)
    table = table.assign(
        edge_id=0,
        width_m=width,
        slope_max_deg=np.degrees(np.arctan(steepest)),
        slope_mean_deg=np.degrees(np.arctan(mean)),
        in_band=_in_band(table, limits.band),
    )
    return EDGES.frame(table, crs=crs_of(grid))


def numbered(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Put edges in order as `longest_first`, and number them."""
    return longest_first(table).assign(edge_id=np.arange(len(table)))


def _described(ridges: Traced, profile: pd.DataFrame) -> gpd.GeoDataFrame:
    groups = profile.groupby("line")
    middle = groups[["top_depth_m", "foot_depth_m", "drop_m", "width_m"]].median()
    flank = groups[["top_slope", "foot_slope"]].median().mean(axis=1)
    east, north = (  # in the order of the points, which a sum of groups does not keep
        np.bincount(ridges.line, profile[name].fillna(0.0), minlength=len(ridges.table))
        for name in ("east", "north")
    )
    towards = np.degrees(np.arctan2(east, north))
    return ridges.table.assign(
        **middle,
        flank=flank,
        steepest=groups["gradient"].max(),
        depth_min_m=groups["depth_m"].min(),
        depth_max_m=groups["depth_m"].max(),
        faces_deg=np.mod(towards + ridges.table["turn"], 360),
    )


def _where_in_band(
    grid: xr.DataArray, profile: pd.DataFrame, band: tuple[float, float] | None
) -> pd.DataFrame:
    """Share of each line whose face reaches into the band, and the middle of its longest stretch.

    Breaks on bridged gaps are those before the gap.
    """
    line = profile["line"].to_numpy()
    breaks = profile.groupby("line")[["top_depth_m", "foot_depth_m"]].ffill()
    inside = np.asarray(_in_band(breaks, band), bool)
    first = np.flatnonzero((np.diff(line, prepend=-1) != 0) | np.diff(inside, prepend=False))
    last = np.append(first[1:], len(line)) - 1
    owner, within = line[first], inside[first]
    order = np.lexsort((np.arange(len(first)), last - first, within, owner))
    best = order[np.flatnonzero(np.diff(owner[order], append=-1))]
    middle = profile.iloc[(first[best] + last[best]) // 2]
    place = placed(middle[["column", "row"]].to_numpy(), grid)
    return pd.DataFrame(
        {
            "band_length_m": np.bincount(line, inside) / np.bincount(line),
            "middle_x": place[:, 0],
            "middle_y": place[:, 1],
        },
        index=pd.Index(owner[best], name="line"),
    )


def _in_band(table: pd.DataFrame, band: tuple[float, float] | None) -> Any:
    if band is None:
        return np.zeros(len(table), bool)
    shallow, deep = sorted(band)
    return (table["top_depth_m"] <= deep) & (table["foot_depth_m"] >= shallow)


def _faces_by_tile(whole: Whole, stretches: Stretches) -> Faces:
    """Measure stretches on parts of the grid, those near each other on one."""
    count, size = len(stretches.lines), whole.size
    out = Faces(np.full(count, np.nan), np.full(count, np.nan))
    if not count:
        return out
    starts = np.searchsorted(stretches.stretch, np.arange(count + 1))
    tile = (stretches.points[starts[:-1]] // _TILE).astype(int)
    margin = np.ceil((np.maximum(stretches.reach_m, 0) + 4 * size.typical) / whole.smallest_m)
    margin += 2 + REACH
    _, group = np.unique(tile, axis=0, return_inverse=True)
    for number in range(group.max() + 1):
        chosen = np.flatnonzero(group.ravel() == number)
        taken = ranges(starts[chosen], np.diff(starts)[chosen])
        points, reach = stretches.points[taken], int(margin[chosen].max())
        low = np.maximum(np.floor(points.min(axis=0)).astype(int) - reach, 0)
        high = np.minimum(np.ceil(points.max(axis=0)).astype(int) + reach + 1, whole.shape[::-1])
        depth = whole.blocks.depths(low[1], low[0], high[1] - low[1], high[0] - low[0])
        depth = without_doubtful(depth, whole, int(low[1]), int(low[0]))
        part = Stretches(
            points,
            stretches.towards[taken],
            np.repeat(np.arange(len(chosen)), np.diff(starts)[chosen]),
            stretches.lines[chosen],
            stretches.slopes[chosen],
            stretches.reach_m[chosen],
        )
        rows = CellSize(size.easting[low[1] : high[1]], size.northing[low[1] : high[1]])
        corner = int(low[0]), int(low[1])
        faces = faces_on(depth, part, rows, step_m=size.typical, corner=corner)
        out.width[chosen], out.steepest[chosen] = faces.width, faces.steepest
    return out
