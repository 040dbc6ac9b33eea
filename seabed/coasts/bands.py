"""The depth band of a large grid: areas of each chunk, made one along the borders they share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from seabed.coasts.block import Block
from seabed.coasts.linking import lines_of, linked, linked_pieces, named, picked, stacked
from seabed.coasts.plan import Plan
from seabed.structure.contours import band_table
from seabed.structure.marching import Lines, filled_rings, marching, placed, polygons_of

__all__ = ["band_in", "joined_band"]

Arrays = Mapping[str, NDArray[Any]]
Floats = NDArray[np.float64]


def band_in(block: Block) -> dict[str, NDArray[Any]]:
    """Outline the ground of a chunk between the band's two depths.

    Returns
    -------
    dict of str to ndarray
        Rings as points and offsets, in columns and rows of the grid, and the number of the area
        each belongs to: ``whole_...`` of areas away from shared borders, ``part_...`` of others.
    """
    values = block.depth[block.shared]
    band = block.plan.wanted.band_m
    points, rings, outers = filled_rings(marching(values), *band)
    lines = (block.settled(points, values, band), rings)
    area = np.repeat(np.arange(len(outers) - 1), np.diff(outers))
    along = _along_borders(lines[0], block.plan, rings)
    touched = np.zeros(len(outers) - 1, bool)
    touched[area[_ring_of(rings)[along]]] = True
    found: dict[str, NDArray[Any]] = {}
    for name, chosen in (("whole", ~touched[area]), ("part", touched[area])):
        found |= named(name, picked(lines, chosen))
        found[f"{name}_area"] = np.unique(area[chosen], return_inverse=True)[1].astype(np.int64)
    return found


def joined_band(results: Sequence[Arrays], plan: Plan, frame: xr.DataArray) -> gpd.GeoDataFrame:
    """Join the areas of all chunks; a table as `seabed.structure.depth_band` gives it.

    Parameters
    ----------
    results : sequence of mapping
        As `band_in` gives them.
    plan : Plan
    frame : depth grid
    """
    polygons = [np.empty(0, object)]
    for result in results:
        points, rings = lines_of("whole", result)
        outers = np.searchsorted(result["whole_area"], np.arange(_count(result["whole_area"]) + 1))
        polygons.append(polygons_of(placed(points, frame), rings, outers))
    lines = stacked([lines_of("part", result) for result in results])
    counts = [_count(result["part_area"]) for result in results]
    first = np.cumsum([0, *counts])
    area = np.concatenate(
        [result["part_area"] + start for result, start in zip(results, first, strict=False)]
    )
    joined, area = _merged(lines, area, int(first[-1]), plan)
    polygons.append(_assembled(joined, area, frame))
    return band_table(np.concatenate(polygons), *plan.wanted.band_m, frame)


def _count(area: NDArray[Any]) -> int:
    return int(area.max()) + 1 if len(area) else 0


def _ring_of(offsets: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))


def _along_borders(points: Floats, plan: Plan, offsets: NDArray[np.int64]) -> NDArray[np.intp]:
    """Points from which a ring goes on along a border between chunks."""
    if not len(points):
        return np.empty(0, np.intp)
    along = np.zeros(len(points) - 1, bool)
    for axis, last in ((0, plan.shape[1] - 1), (1, plan.shape[0] - 1)):
        at = points[:, axis]
        border = (at % plan.chunk == 0) & (at > 0) & (at < last)
        along |= border[:-1] & (at[:-1] == at[1:])
    along[offsets[1:-1] - 1] = False
    return np.flatnonzero(along)


def _merged(
    lines: Lines, area: NDArray[np.int64], count: int, plan: Plan
) -> tuple[Lines, NDArray[np.int64]]:
    """Take out what areas share, and put their rings together; gives rings and their areas."""
    points, offsets = lines
    along = _along_borders(points, plan, offsets)
    if not len(along):
        return lines, area
    one, other = _shared(points, along)
    ring = _ring_of(offsets)
    graph = coo_array((np.ones(len(one)), (area[ring[one]], area[ring[other]])), (count, count))
    area = connected_components(graph, directed=False)[1][area].astype(np.int64)
    cut = np.zeros(len(points), bool)  # the step from this point on is gone
    cut[one] = cut[other] = True
    broken = np.zeros(len(offsets) - 1, bool)
    broken[ring[np.flatnonzero(cut)]] = True
    order, starts = _pieces(offsets, cut, broken)
    pieces = (points[order], starts)
    piece_area = area[ring[order[starts[:-1]]]]
    onward = linked(pieces[0][starts[1:] - 1], pieces[0][starts[:-1]])
    joined, taken = linked_pieces(pieces, onward)
    owner = np.repeat(piece_area, np.diff(starts))[taken[joined[1][:-1]]]
    closed = (joined[0][joined[1][:-1]] == joined[0][joined[1][1:] - 1]).all(axis=1)
    joined, owner = picked(joined, closed), owner[closed]
    return stacked([picked(lines, ~broken), joined]), np.concatenate([area[~broken], owner])


def _shared(points: Floats, along: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of steps that run between the same two points in opposite directions."""
    a, b = points[along], points[along + 1]
    turned = (a[:, 0] > b[:, 0]) | ((a[:, 0] == b[:, 0]) & (a[:, 1] > b[:, 1]))
    ends = np.where(turned[:, None], np.hstack([b, a]), np.hstack([a, b]))
    order = np.lexsort((turned, *ends.T))
    same = (ends[order[1:]] == ends[order[:-1]]).all(axis=1)
    pair = np.flatnonzero(same & (turned[order[1:]] != turned[order[:-1]]))
    return along[order[pair]], along[order[pair + 1]]


def _pieces(
    offsets: NDArray[np.int64], cut: NDArray[np.bool_], broken: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.int64]]:
    """Cut rings: points in order, and where each piece starts; each ring begins after a cut."""
    order, starts, used = [np.empty(0, np.intp)], [0], 0
    for ring in np.flatnonzero(broken):
        first, last = offsets[ring], offsets[ring + 1] - 1  # the last point is the first again
        cuts = np.flatnonzero(cut[first:last])
        size = last - first
        sizes = np.diff(cuts, append=cuts[0] + size)
        for begin, count in zip(cuts + 1, sizes, strict=True):
            if count < 2:  # two cuts in a row: nothing between
                continue
            order.append(first + np.arange(begin, begin + count) % size)
            used += count
            starts.append(used)
    return np.concatenate(order), np.array(starts, np.int64)


def _assembled(rings: Lines, area: NDArray[np.int64], frame: xr.DataArray) -> NDArray[Any]:
    """Polygons of rings: the greatest of each area is the outer one, others are holes."""
    points, offsets = rings
    if not len(area):
        return np.empty(0, object)
    signed = _signed_areas(points, offsets)
    keep = signed != 0
    points, offsets = picked(rings, keep)
    area, signed = area[keep], signed[keep]
    order = np.lexsort((-np.abs(signed), area))
    points, offsets = picked((points, offsets), order)
    starts = np.flatnonzero(np.diff(area[order], prepend=-1))
    outers = np.append(starts, len(order)).astype(np.int64)
    return polygons_of(placed(points, frame), offsets, outers)


def _signed_areas(points: Floats, offsets: NDArray[np.int64]) -> Floats:
    base = points - points[offsets[:-1]][_ring_of(offsets)]
    cross = base[:-1, 0] * base[1:, 1] - base[1:, 0] * base[:-1, 1]
    cross[offsets[1:-1] - 1] = 0
    return np.add.reduceat(np.append(cross, 0.0), offsets[:-1]) / 2
