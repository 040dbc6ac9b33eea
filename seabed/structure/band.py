"""The ground between two depths, by marching squares."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from seabed.array_types import Floats, Ints, Mask
from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.schema import Table, documented
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.canvas import least_about, noise_made_over
from seabed.structure.blocks.kind import in_memory
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.calm.calming import Calms
from seabed.structure.calm.noise import NoiseSettings
from seabed.structure.measure import areas_m2
from seabed.structure.tracing.linking import (
    lines_of,
    linked,
    linked_pieces,
    named,
    picked,
    stacked,
)
from seabed.structure.tracing.marching import Lines, filled_rings, marching, placed, polygons_of
from seabed.structure.tracing.rings import noise_made
from seabed.terrain.chunks import contiguous

_STEP_M: Final = 1.0
"""Noise is taken off as far as the lesser of this and the width of the band asks."""

BAND: Final = Table.of(
    "band",
    "seabed.structure.depth_band",
    """
    shallow_m, deep_m [depth] the lesser and the greater depth
    area_m2 over the ground, holes taken out
    geometry [Polygon]
    """,
)


@documented(BAND)
def depth_band(
    grid: xr.DataArray,
    shallow_m: float,
    deep_m: float,
    *,
    significance: float | None = None,
    noise_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Ground between two depths.

    Parameters
    ----------
    grid : depth grid
    shallow_m, deep_m : float
        The lesser and the greater depth, metres.
    significance, noise_m : float, optional
        As for `contours`: the band is that of the ground without its noise, and spots and gaps
        that noise alone makes are left out.  A significance of 0 takes no noise off.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, largest first; without rows where no ground is between.

        {band}

    Raises
    ------
    GridError
        If the band has no width.

    Notes
    -----
    As for `contours`, ground is known between cell centres only: the outer half of the outermost
    cells, and of those beside a void, is not counted.

    Examples
    --------
    >>> from seabed import example_grid
    >>> depth_band(example_grid(), 8, 12)["area_m2"].round(0).tolist()
    [4964.0]
    """
    return in_memory(Band(shallow_m, deep_m), grid, NoiseSettings.of(significance, noise_m))


@dataclass(frozen=True, slots=True)
class Band:
    """The band of a grid in blocks: areas of each chunk, made one along the borders they share."""

    shallow_m: float
    deep_m: float

    def check(self, whole: Whole) -> None:
        """Refuse a band without width."""
        if not self.shallow_m < self.deep_m:
            raise GridError(
                f"a band from {self.shallow_m:g} m to {self.deep_m:g} m has no width",
                do="Give the lesser depth first.",
            )

    def margin(self, whole: Whole) -> int:
        """One cell: the next row and column are shared; and the smoothing of noise."""
        return 1 + self._calm(whole).reach

    def _calm(self, whole: Whole) -> Calms:
        least_m = min(_STEP_M, self.deep_m - self.shallow_m)
        return Calms(whole.field, whole.noise.significance, least_m)

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Outline the ground of a chunk between the two depths.

        Returned: rings as points and offsets, in columns and rows of the grid, and the number of
            the area each belongs to: ``whole_...`` of areas away from shared borders, ``part_...``
            of others.
        """
        calm, levels = self._calm(block.whole), (self.shallow_m, self.deep_m)
        field = calm.applied(contiguous(block.ground), block.row, block.column)
        values = field[block.shared]
        points, rings, outers = filled_rings(marching(values), self.shallow_m, self.deep_m)
        lines = (block.settled(points, values, levels), rings)
        area = np.repeat(np.arange(len(outers) - 1), np.diff(outers))
        along = _along_borders(lines[0], block.whole, rings)
        touched = np.zeros(len(outers) - 1, bool)
        touched[area[_ring_of(rings)[along]]] = True
        rings_of: dict[str, NDArray[Any]] = {}
        least_m = least_about(lines, calm)
        by_noise = ~_beside_unknown(lines) & np.logical_or(
            *(noise_made(lines, field, level, least_m, block.corner) for level in levels)
        )
        for name, chosen in (("whole", ~touched[area] & ~by_noise), ("part", touched[area])):
            rings_of |= named(name, picked(lines, chosen))
            rings_of[f"{name}_area"] = np.unique(area[chosen], return_inverse=True)[1].astype(
                np.int64
            )
        return rings_of

    def join(self, results: Results, whole: Whole) -> gpd.GeoDataFrame:
        """Join the areas of all chunks; as `depth_band`."""
        frame, polygons = whole.frame, [np.empty(0, object)]
        for result in results:
            points, rings = lines_of("whole", result)
            areas = np.arange(_count(result["whole_area"]) + 1)
            outers = np.searchsorted(result["whole_area"], areas)
            polygons.append(polygons_of(placed(points, frame), rings, outers))
        lines = stacked([lines_of("part", result) for result in results])
        first = np.cumsum([0, *(_count(result["part_area"]) for result in results)])
        area = np.concatenate(
            [result["part_area"] + start for result, start in zip(results, first, strict=False)]
        )
        joined, area = _merged(lines, area, int(first[-1]), whole)
        levels = self.shallow_m, self.deep_m
        by_noise = noise_made_over(joined, levels, whole, self._calm(whole))
        by_noise &= ~_beside_unknown(joined)
        joined, area = picked(joined, ~by_noise), area[~by_noise]
        polygons.append(_assembled(joined, area, frame))
        return self._table(np.concatenate(polygons), frame)

    def _table(self, polygons: NDArray[Any], frame: xr.DataArray) -> gpd.GeoDataFrame:
        polygons = shapely.normalize(polygons)  # rings begin alike, however they were put together
        area = areas_m2(polygons, frame)
        order = np.argsort(-area, kind="stable")
        columns = {
            "shallow_m": np.full(len(polygons), float(self.shallow_m)),
            "deep_m": np.full(len(polygons), float(self.deep_m)),
            "area_m2": area[order],
            "geometry": polygons[order],
        }
        return BAND.frame(columns, crs=crs_of(frame))


def _count(area: NDArray[Any]) -> int:
    return int(area.max()) + 1 if len(area) else 0


def _ring_of(offsets: Ints) -> Ints:
    return np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))


def _beside_unknown(rings: Lines) -> Mask:
    """Say which rings run along the end of the grid or a void, from cell to cell."""
    points, offsets = rings
    if len(offsets) < 2:
        return np.zeros(0, bool)
    cell = (points == np.rint(points)).all(axis=1)
    return np.logical_or.reduceat(cell, offsets[:-1])


def _along_borders(points: Floats, whole: Whole, offsets: Ints) -> NDArray[np.intp]:
    """Points from which a ring goes on along a border between chunks."""
    if not len(points):
        return np.empty(0, np.intp)
    along = np.zeros(len(points) - 1, bool)
    for axis, last in ((0, whole.shape[1] - 1), (1, whole.shape[0] - 1)):
        at = points[:, axis]
        border = (at % whole.chunk == 0) & (at > 0) & (at < last)
        along |= border[:-1] & (at[:-1] == at[1:])
    along[offsets[1:-1] - 1] = False
    return np.flatnonzero(along)


def _merged(lines: Lines, area: Ints, count: int, whole: Whole) -> tuple[Lines, Ints]:
    """Take out what areas share, and put their rings together; gives rings and their areas."""
    points, offsets = lines
    along = _along_borders(points, whole, offsets)
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


def _pieces(offsets: Ints, cut: Mask, broken: Mask) -> tuple[NDArray[np.intp], Ints]:
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


def _assembled(rings: Lines, area: Ints, frame: xr.DataArray) -> NDArray[Any]:
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


def _signed_areas(points: Floats, offsets: Ints) -> Floats:
    base = points - points[offsets[:-1]][_ring_of(offsets)]
    cross = base[:-1, 0] * base[1:, 1] - base[1:, 0] * base[:-1, 1]
    cross[offsets[1:-1] - 1] = 0
    return np.add.reduceat(np.append(cross, 0.0), offsets[:-1]) / 2
