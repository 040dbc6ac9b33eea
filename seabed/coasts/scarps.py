"""Edges of a large grid: told in the chunk they lie in, or joined where they cross its border."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.coasts.block import Block
from seabed.coasts.linking import lines_of, linked, linked_pieces, named, stacked
from seabed.coasts.plan import Blocks, Plan, Wanted
from seabed.grid import CellSize, cell_size, crs_of
from seabed.structure.edges import EDGES, described, numbered
from seabed.structure.faces import Faces
from seabed.structure.marching import Lines, level_lines, marching, placed
from seabed.structure.measure import segment_lengths_m
from seabed.structure.ridges import bends
from seabed.structure.runs import ranges
from seabed.structure.scale import LEAST_WEIGHT
from seabed.structure.slopes import LOW, Limits, profiles
from seabed.structure.stretches import Stretches, faces_on
from seabed.terrain.chunks import contiguous, row_classes
from seabed.terrain.smoothing import smoothed_block

__all__ = ["edges_in", "joined_edges"]

Arrays = Mapping[str, NDArray[Any]]
Floats = NDArray[np.float64]

_PROFILE: Final = (
    "gradient", "east", "north", "top_depth_m", "foot_depth_m", "drop_m", "width_m", "depth_m",
    "distinct",
)  # fmt: skip
_TABLE: Final = EDGES.names[1:-1]
_TILE: Final = 1024


def edges_in(block: Block) -> dict[str, NDArray[Any]]:
    """Find the edges of a chunk.

    Returns
    -------
    dict of str to ndarray
        ``table``, shape (edges, columns), ``line_points`` and ``line_offsets`` (in the grid's
        CRS): edges that no other chunk can change.  ``piece_points``, ``piece_offsets`` (columns
        and rows), ``piece_starts``, ``piece_ends`` (crossings) and ``profile``: ridges of slope
        that go on, or may, in other chunks.
    """
    limits = _limits(block.plan.wanted)
    size = CellSize(block.size.easting[block.rows], block.size.northing[block.rows])
    depth = _smoothed(block, limits)
    bend = bends(depth, size.easting, size.northing, limits.gradient * LOW)[block.shared]
    points, offsets = level_lines(marching(bend), 0.0)
    lines = (block.settled(points, bend, (0.0,)), offsets)
    starts, ends = block.crossings(lines, bend, 0.0)
    here = np.array([block.column, block.row])
    step_m = block.size.typical
    profile = profiles(depth, lines[0] - here, size, limits, step_m=step_m)
    profile[["column", "row"]] = lines[0]

    def measure(stretches: Stretches) -> Faces:
        return faces_on(block.depth, _moved(stretches, here), size, step_m=step_m)

    begin, stop, where = _that_go_on(
        lines, starts, ends, profile["distinct"].to_numpy(bool), block.frame, limits.scale_m
    )
    taken = ranges(begin, stop - begin)
    first, last = offsets[:-1][where], offsets[1:][where]
    piece = (lines[0][taken], np.concatenate([[0], np.cumsum(stop - begin)]).astype(np.int64))
    going_on = profile.loc[taken, list(_PROFILE)].to_numpy(float)
    profile.loc[taken, "distinct"] = False
    table = described(block.frame, lines, profile, limits, measure)
    return {
        "table": table[list(_TABLE)].to_numpy(float),
        **named("line", _ragged(table)),
        **named("piece", piece),
        "piece_starts": np.where((begin == first)[:, None], starts[where], np.nan),
        "piece_ends": np.where((stop == last)[:, None], ends[where], np.nan),
        "profile": going_on,
    }


def joined_edges(
    results: Sequence[Arrays], plan: Plan, blocks: Blocks, frame: xr.DataArray
) -> gpd.GeoDataFrame:
    """Join the edges of all chunks; a table as `seabed.structure.edges` gives it.

    Parameters
    ----------
    results : sequence of mapping
        As `edges_in` gives them.
    plan : Plan
    blocks : Blocks
        Read again around edges that lie in several chunks.
    frame : depth grid
    """
    limits = _limits(plan.wanted)
    pieces = stacked([lines_of("piece", result) for result in results])
    onward = linked(
        np.concatenate([result["piece_ends"] for result in results]),
        np.concatenate([result["piece_starts"] for result in results]),
    )
    lines, taken = linked_pieces(pieces, onward)
    values = np.concatenate([result["profile"] for result in results])[taken]
    profile = pd.DataFrame(values, columns=list(_PROFILE))
    profile = profile.assign(
        distinct=profile["distinct"] == 1, column=lines[0][:, 0], row=lines[0][:, 1]
    )
    size = cell_size(frame)

    def measure(stretches: Stretches) -> Faces:
        return _faces_by_tile(blocks, stretches, size)

    across = described(frame, lines, profile, limits, measure)
    tables = [across, *(_table(result, frame) for result in results)]
    filled = [table for table in tables if len(table)]
    together = pd.concat(filled, ignore_index=True) if filled else across
    return numbered(gpd.GeoDataFrame(together, geometry="geometry", crs=crs_of(frame)))


def _limits(wanted: Wanted) -> Limits:
    return Limits(
        wanted.edge_scale_m,
        wanted.band_m,
        wanted.edge_min_length_m,
        wanted.edge_min_drop_m,
        wanted.edge_min_slope_deg,
    )


def _smoothed(block: Block, limits: Limits) -> NDArray[np.float32]:
    size = block.size
    widths = row_classes(size.easting)[block.rows]
    depth = smoothed_block(
        block.depth,
        widths,
        float(size.northing[len(size.northing) // 2]),
        deviation_m=limits.scale_m / 2,
        least_weight=LEAST_WEIGHT,
        level_m=block.plan.level_m,
    )
    return contiguous(depth)


def _that_go_on(  # noqa: PLR0917
    lines: Lines,
    starts: Floats,
    ends: Floats,
    good: NDArray[np.bool_],
    frame: xr.DataArray,
    gap_m: float,
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Parts of lines that may hang together, over gaps no longer than `gap_m`, with other chunks.

    Gives the first point and the one after the last of each, and the line it is of.
    """
    points, offsets = lines
    nothing = np.empty(0, np.intp)
    if not len(points):
        return nothing, nothing, nothing
    step_m = segment_lengths_m(placed(points, frame), frame)
    along = np.concatenate([[0.0], np.cumsum(step_m)])
    first, last = offsets[:-1], offsets[1:] - 1
    found: list[tuple[np.integer, np.integer, np.integer]] = []
    enters, leaves = ~np.isnan(starts[:, 0]), ~np.isnan(ends[:, 0])
    for line in np.flatnonzero(enters | leaves):
        a, b = first[line], last[line]
        at = a + np.flatnonzero(good[a : b + 1])
        if not len(at):
            if enters[line] and leaves[line] and along[b] - along[a] <= gap_m:
                found.append((a, b + 1, line))
            continue
        cuts = np.flatnonzero((np.diff(at) > 1) & (np.diff(along[at]) > gap_m))
        head = bool(enters[line] and along[at[0]] - along[a] <= gap_m)
        tail = bool(leaves[line] and along[b] - along[at[-1]] <= gap_m)
        if not len(cuts) and (head or tail):
            spans = [(a if head else at[0], b if tail else at[-1])]
        else:
            spans = [(a, at[cuts[0]])] if head else []
            spans += [(at[cuts[-1] + 1], b)] if tail else []
        found += [(one, other + 1, line) for one, other in spans]
    begin, stop, where = np.array(found, np.intp).reshape(-1, 3).T
    return begin, stop, where


def _moved(stretches: Stretches, here: NDArray[Any]) -> Stretches:
    """Stretches in columns and rows of a block that begins elsewhere."""
    return Stretches(
        stretches.points - here,
        stretches.towards,
        stretches.stretch,
        stretches.breaks,
        stretches.reach_m,
    )


def _ragged(table: gpd.GeoDataFrame) -> Lines:
    if not len(table):
        return np.empty((0, 2)), np.zeros(1, np.int64)
    _, points, (offsets,) = shapely.to_ragged_array(table.geometry.values)
    return points, offsets.astype(np.int64)


def _table(result: Arrays, frame: xr.DataArray) -> gpd.GeoDataFrame:
    points, offsets = lines_of("line", result)
    lines = shapely.from_ragged_array(shapely.GeometryType.LINESTRING, points, (offsets,))
    table = pd.DataFrame(result["table"], columns=list(_TABLE))
    table["in_band"] = table["in_band"] == 1
    table.insert(0, "edge_id", 0)
    return gpd.GeoDataFrame(table, geometry=lines, crs=crs_of(frame))


def _faces_by_tile(blocks: Blocks, stretches: Stretches, size: CellSize) -> Faces:
    """Measure stretches on parts of the grid, those near each other on one."""
    count = len(stretches.breaks)
    out = Faces(np.full(count, np.nan), np.full(count, np.nan))
    if not count:
        return out
    starts = np.searchsorted(stretches.stretch, np.arange(count + 1))
    tile = (stretches.points[starts[:-1]] // _TILE).astype(int)
    smallest = min(float(size.easting.min()), float(size.northing.min()))
    margin = np.ceil((np.maximum(stretches.reach_m, 0) + 4 * size.typical) / smallest) + 2
    _, group = np.unique(tile, axis=0, return_inverse=True)
    for number in range(group.max() + 1):
        chosen = np.flatnonzero(group.ravel() == number)
        taken = ranges(starts[chosen], np.diff(starts)[chosen])
        points, reach = stretches.points[taken], int(margin[chosen].max())
        low = np.maximum(np.floor(points.min(axis=0)).astype(int) - reach, 0)
        high = np.minimum(np.ceil(points.max(axis=0)).astype(int) + reach + 1, blocks.shape[::-1])
        depth = blocks.depths(low[1], low[0], high[1] - low[1], high[0] - low[0])
        part = Stretches(
            points - low,
            stretches.towards[taken],
            np.repeat(np.arange(len(chosen)), np.diff(starts)[chosen]),
            stretches.breaks[chosen],
            stretches.reach_m[chosen],
        )
        rows = CellSize(size.easting[low[1] : high[1]], size.northing[low[1] : high[1]])
        found = faces_on(contiguous(depth), part, rows, step_m=size.typical)
        out.width[chosen], out.steepest[chosen] = found.width, found.steepest
    return out
