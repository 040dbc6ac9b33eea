"""Humps and holes of a large grid: a merge tree a chunk, joined over the chunks' borders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.coasts.block import Block
from seabed.coasts.canvas import TILE, Canvas
from seabed.coasts.plan import Blocks, Plan
from seabed.coasts.reduction import reduced, rim_of
from seabed.structure.basins import outside_of
from seabed.structure.highs import Kind, described, numbered, significant
from seabed.structure.mergetree import Peaks, joined
from seabed.structure.outline import outline, outline_through
from seabed.structure.sorting import sorted_depths
from seabed.terrain.chunks import contiguous

__all__ = ["KINDS", "joined_peaks", "peaks_in"]

Arrays = Mapping[str, NDArray[Any]]
KINDS: Final[dict[Kind, int]] = {"hump": 1, "hole": -1}
_SIDES: Final = ("north", "south", "west", "east")


def peaks_in(block: Block, kind: Kind) -> dict[str, NDArray[Any]]:
    """Find the highs, or lows, of a chunk.

    Returns
    -------
    dict of str to ndarray
        Fields of `Reduced`, cells counted in the grid; ``rim_north`` and so on, and the depths
        there, ``edge_north``, ...; ``ring_points`` and ``ring_offsets``: outlines of the settled
        highs, in columns and rows of the grid.
    """
    own = contiguous(KINDS[kind] * block.depth[block.own])
    found = reduced(
        own, _outside(block), _walls(block), least_height=block.plan.wanted.hump_min_height_m
    )
    rings = [
        outline(own, cell, float(level))
        for cell, level in zip(found.cell[found.settled], found.saddle[found.settled], strict=True)
    ]
    row, column = np.divmod(found.cell.astype(np.int64), own.shape[1])
    place = (row + block.chunk.row) * block.plan.shape[1] + column + block.chunk.column
    names = ("crest", "saddle", "absorber", "open", "settled", "level", "high", "low", "direct")
    corner = [block.chunk.column, block.chunk.row]
    return {
        "cell": place,
        **{name: getattr(found, name) for name in names},
        **{f"rim_{side}": rim for side, rim in zip(_SIDES, found.rim, strict=True)},
        **{f"edge_{side}": edge.copy() for side, edge in zip(_SIDES, rim_of(own), strict=True)},
        "ring_points": np.concatenate([np.empty((0, 2)), *rings]) + corner,
        "ring_offsets": np.cumsum([0, *map(len, rings)]).astype(np.int64),
    }


def joined_peaks(
    results: Sequence[Arrays], plan: Plan, blocks: Blocks, frame: xr.DataArray, kind: Kind
) -> gpd.GeoDataFrame:
    """Join the highs, or lows, of all chunks; a table as `seabed.structure.humps` gives it.

    Parameters
    ----------
    results : sequence of mapping
        As `peaks_in` gives them, chunk by chunk.
    plan : Plan
    blocks : Blocks
        Read again along the outlines of what lies in several chunks.
    frame : depth grid
    kind : "hump" or "hole"
    """
    first = np.cumsum([0, *(len(result["cell"]) for result in results)])
    peaks, settled, row_of = _joined(results, first, plan)
    chosen = significant(peaks, plan.wanted.hump_min_height_m)
    outlined = {
        int(row_of[first[number] + row]): (number, place)
        for number, result in enumerate(results)
        for place, row in enumerate(np.flatnonzero(result["settled"]))
    }
    rings: dict[int, NDArray[np.float64]] = {}
    for peak in chosen[settled[chosen]]:
        number, place = outlined[int(peak)]
        where = results[number]["ring_offsets"]
        rings[int(peak)] = results[number]["ring_points"][where[place] : where[place + 1]]
    rings |= _outlines(peaks, chosen[~settled[chosen]], plan, Canvas(blocks, sign=KINDS[kind]))
    table = described(frame, kind, peaks, chosen, [rings[int(peak)] for peak in chosen])
    return numbered(frame, table, peaks, chosen)


def _outside(block: Block) -> NDArray[np.bool_]:
    """Outside cells of the chunk and a rim of one cell."""
    (rows, columns), (down, across) = block.plan.shape, block.depth.shape
    north, south = block.row == 0, block.row + down == rows
    west, east = block.column == 0, block.column + across == columns
    outside = outside_of(block.depth, (north, south, west, east))
    if not outside.size:
        return outside
    own = block.own
    return outside[own[0].start : own[0].stop + 2, own[1].start : own[1].stop + 2]


def _walls(block: Block) -> NDArray[np.bool_]:
    borders = block.borders
    walls: NDArray[np.bool_] = np.isnan(np.array([*borders[0], *borders[1]]))
    return walls


def _joined(
    results: Sequence[Arrays], first: NDArray[np.int64], plan: Plan
) -> tuple[Peaks, NDArray[np.bool_], NDArray[np.int64]]:
    """Peaks of all chunks by cell; which were settled in theirs; row of each given one."""
    whole = {
        name: np.concatenate([result[name] for result in results])
        for name in ("cell", "crest", "saddle", "open", "settled")
    }
    absorber = np.concatenate(
        [_shifted(result["absorber"], start) for result, start in zip(results, first, strict=False)]
    )
    order = np.argsort(whole["cell"], kind="stable")
    row_of = np.empty(len(order), np.int64)
    row_of[order] = np.arange(len(order))
    absorber = np.where(absorber >= 0, row_of[absorber], -1)[order]
    whole = {name: values[order] for name, values in whole.items()}
    free = np.flatnonzero(~whole["settled"])
    name_of = np.zeros(len(order) + 1, np.int32)  # 0, the last, is the outside
    name_of[free] = np.arange(1, len(free) + 1)
    level, one, other, direct = _all_passes(results, first, plan)
    high, low = (name_of[np.where(at >= 0, row_of[at], len(order))] for at in (one, other))
    by_depth = sorted_depths(level)
    tree = joined(
        whole["cell"][free],
        whole["crest"][free],
        level[by_depth],
        high[by_depth],
        low[by_depth],
        direct=direct[by_depth],
    )
    whole["saddle"][free], whole["open"][free] = tree.saddle, tree.open
    absorber[free] = np.where(tree.absorber >= 0, free[tree.absorber], -1)
    peaks = Peaks(
        whole["cell"], whole["crest"], whole["saddle"], absorber.astype(np.int32), whole["open"]
    )
    return peaks, whole["settled"], row_of


def _shifted(rows: NDArray[Any], start: int) -> NDArray[np.int64]:
    return np.where(rows >= 0, rows.astype(np.int64) + start, -1)


def _all_passes(
    results: Sequence[Arrays], first: NDArray[np.int64], plan: Plan
) -> tuple[NDArray[np.float32], NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """List passes within chunks and over their borders, between rows of all given highs."""
    level, high, low, direct = [], [], [], []
    for result, start in zip(results, first, strict=False):
        level.append(result["level"])
        high.append(_shifted(result["high"], start))
        low.append(_shifted(result["low"], start))
        direct.append(result["direct"])
    for one, other, shift in _neighbours(plan):
        depths, names = [], []
        for number, side, part in ((one[0], one[1], one[2]), (other[0], other[1], other[2])):
            depths.append(results[number][f"edge_{side}"][part])
            names.append(_shifted(results[number][f"rim_{side}"], first[number])[part])
        a, b = _offset(len(depths[0]), shift), _offset(len(depths[1]), -shift)
        known = (names[0][a] >= 0) & (names[1][b] >= 0)
        level.append(np.maximum(depths[0][a], depths[1][b])[known])
        high.append(names[0][a][known])
        low.append(names[1][b][known])
        direct.append(np.zeros(int(known.sum()), bool))
    return (
        np.concatenate(level).astype(np.float32),
        np.concatenate(high),
        np.concatenate(low),
        np.concatenate(direct),
    )


def _offset(count: int, shift: int) -> slice:
    """Cells that have a partner `shift` further on."""
    return slice(max(-shift, 0), count - max(shift, 0))


def _neighbours(plan: Plan) -> Any:
    """Pairs of border cells of two chunks that touch: (chunk, side, cells), the same, and shift."""
    across, count = plan.columns, len(plan.chunks)
    whole, head, tail = slice(None), slice(0, 1), slice(-1, None)
    for number in range(count):
        east = number % across < across - 1
        if east:
            for shift in (-1, 0, 1):
                yield (number, "east", whole), (number + 1, "west", whole), shift
        if number + across >= count:
            continue
        for shift in (-1, 0, 1):
            yield (number, "south", whole), (number + across, "north", whole), shift
        if east:
            yield (number, "south", tail), (number + across + 1, "north", head), 0
        if number % across:
            yield (number, "south", head), (number + across - 1, "north", tail), 0


def _outlines(
    peaks: Peaks, chosen: NDArray[np.intp], plan: Plan, canvas: Canvas
) -> dict[int, NDArray[np.float64]]:
    """Outline peaks through tiles of the grid, those near each other one after the other."""
    row, column = np.divmod(peaks.cell[chosen], plan.shape[1])
    order = np.lexsort((column // TILE, row // TILE))
    return {
        int(chosen[at]): outline_through(
            canvas, int(row[at]), int(column[at]), float(peaks.saddle[chosen[at]])
        )
        for at in order
    }
