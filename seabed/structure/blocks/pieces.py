"""Traced lines that may hang together, over gaps, with those of other chunks.

What no other chunk can change is settled where it is found.  The rest is kept as pieces, each with
its profile and what its ends are known by, and joined when all chunks are done.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Mask
from seabed.grid import crs_of
from seabed.schema import joined_tables
from seabed.structure.blocks.whole import Arrays, Results
from seabed.structure.measure import segment_lengths_m
from seabed.structure.tracing.linking import lines_of, named, stacked
from seabed.structure.tracing.marching import Lines, placed
from seabed.structure.tracing.runs import ranges


def kept_for_later(  # noqa: PLR0917
    lines: Lines,
    starts: Floats,
    ends: Floats,
    profile: pd.DataFrame,
    good: Mask,
    frame: xr.DataArray,
    gap_m: float,
) -> tuple[dict[str, NDArray[Any]], NDArray[np.intp]]:
    """Part lines into what other chunks may change and what they can't.

    starts, ends, shape (lines, k): what the ends on shared borders are known by; NaN for those that
        are free.
    profile: numbers, a row a point.
    gap_m: gaps up to this long are bridged.
    Returned: ``piece_points``, ``piece_offsets``, ``piece_starts``, ``piece_ends`` and ``profile``
        of parts that hang together with other chunks, or may; the points of these.
    """
    begin, stop, where = _that_go_on(lines, starts, ends, good, frame, gap_m)
    taken = ranges(begin, stop - begin)
    first, last = lines[1][:-1][where], lines[1][1:][where]
    piece = lines[0][taken], np.concatenate([[0], np.cumsum(stop - begin)]).astype(np.int64)
    return {
        **named("piece", piece),
        "piece_starts": np.where((begin == first)[:, None], starts[where], np.nan),
        "piece_ends": np.where((stop == last)[:, None], ends[where], np.nan),
        "profile": profile.iloc[taken].to_numpy(float),
    }, taken


def pieces_of(
    results: Results,
    names: list[str],
    join: Callable[[Lines, Floats, Floats], tuple[Lines, NDArray[np.intp]]],
) -> tuple[Lines, pd.DataFrame]:
    """Join the pieces of all chunks, as `kept_for_later` gives them, to lines, with their profile.

    join: takes pieces and what their starts and ends are known by; gives lines, and which of the
        pieces' points each of theirs is.
    """
    pieces = stacked([lines_of("piece", result) for result in results])
    starts, ends = (
        np.concatenate([result[f"piece_{side}"] for result in results])
        for side in ("starts", "ends")
    )
    lines, taken = join(pieces, starts, ends)
    values = np.concatenate([result["profile"] for result in results])[taken]
    return lines, pd.DataFrame(values, columns=names)


def stored_table(table: gpd.GeoDataFrame, names: list[str]) -> dict[str, NDArray[Any]]:
    """Columns of numbers and lines of a table, as arrays to be stored."""
    lines: Lines = np.empty((0, 2)), np.zeros(1, np.int64)
    if len(table):
        _, points, (offsets,) = shapely.to_ragged_array(table.geometry.values)
        lines = points, offsets.astype(np.int64)
    return {"table": table[names].to_numpy(float), **named("line", lines)}


def stored_tables(
    results: Results, names: list[str], across: gpd.GeoDataFrame, frame: xr.DataArray
) -> gpd.GeoDataFrame:
    """Put the tables that `stored_table` stored, and one of lines over borders, into one."""
    return joined_tables([across, *(_table(result, names, frame) for result in results)])


def _table(result: Arrays, names: list[str], frame: xr.DataArray) -> gpd.GeoDataFrame:
    points, offsets = lines_of("line", result)
    lines = shapely.from_ragged_array(shapely.GeometryType.LINESTRING, points, (offsets,))
    table = pd.DataFrame(result["table"], columns=names)
    return gpd.GeoDataFrame(table, geometry=lines, crs=crs_of(frame))


def _that_go_on(  # noqa: PLR0917
    lines: Lines,
    starts: Floats,
    ends: Floats,
    good: Mask,
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
    spans_of: list[tuple[np.integer, np.integer, np.integer]] = []
    enters, leaves = ~np.isnan(starts[:, 0]), ~np.isnan(ends[:, 0])
    for line in np.flatnonzero(enters | leaves):
        a, b = first[line], last[line]
        at = a + np.flatnonzero(good[a : b + 1])
        if not len(at):
            if enters[line] and leaves[line] and along[b] - along[a] <= gap_m:
                spans_of.append((a, b + 1, line))
            continue
        cuts = np.flatnonzero((np.diff(at) > 1) & (np.diff(along[at]) > gap_m))
        head = bool(enters[line] and along[at[0]] - along[a] <= gap_m)
        tail = bool(leaves[line] and along[b] - along[at[-1]] <= gap_m)
        if not len(cuts) and (head or tail):
            spans = [(a if head else at[0], b if tail else at[-1])]
        else:
            spans = [(a, at[cuts[0]])] if head else []
            spans += [(at[cuts[-1] + 1], b)] if tail else []
        spans_of += [(one, other + 1, line) for one, other in spans]
    begin, stop, where = np.array(spans_of, np.intp).reshape(-1, 3).T
    return begin, stop, where
