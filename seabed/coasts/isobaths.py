"""Contours of a large grid: traced in each chunk, joined where they cross from one to the next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.coasts.block import Block
from seabed.coasts.linking import lines_of, linked, linked_pieces, named, picked, stacked
from seabed.structure.contours import contour_table
from seabed.structure.marching import Lines, level_lines, marching, placed

__all__ = ["contours_in", "joined_contours"]

Arrays = Mapping[str, NDArray[Any]]


def contours_in(block: Block) -> dict[str, NDArray[Any]]:
    """Trace the contours of a chunk.

    Returns
    -------
    dict of str to ndarray
        For each depth, numbered in rising order: points and offsets of lines that are whole
        (``whole_0_points``, ...) and of pieces that go on in other chunks (``piece_0_points``,
        ...), in columns and rows of the grid.
    """
    values = block.depth[block.shared]
    generator = marching(values)
    found: dict[str, NDArray[Any]] = {}
    for number, depth in enumerate(block.plan.wanted.contours_m):
        points, offsets = level_lines(generator, depth)
        lines = (block.settled(points, values, (depth,)), offsets)
        starts, ends = block.crossings(lines, values, depth)
        goes_on = np.asarray(~np.isnan(np.hstack([starts, ends])).all(axis=1))
        found |= named(f"whole_{number}", picked(lines, ~goes_on))
        found |= named(f"piece_{number}", picked(lines, goes_on))
        found[f"piece_{number}_starts"] = starts[goes_on]
        found[f"piece_{number}_ends"] = ends[goes_on]
    return found


def joined_contours(
    results: Iterable[Arrays], frame: xr.DataArray, depths_m: tuple[float, ...]
) -> Iterator[gpd.GeoDataFrame]:
    """Join the contours of all chunks.

    Parameters
    ----------
    results : iterable of mapping
        As `contours_in` gives them; gone through once for each depth.
    frame : depth grid
    depths_m : tuple of float
        Rising.

    Yields
    ------
    GeoDataFrame
        As `seabed.structure.contours`: a table a chunk and depth, and one of the lines that run
        through several chunks, by depth.  Together they are what the whole grid would give.
    """
    yield _table(frame, (np.empty((0, 2)), np.zeros(1, np.int64)), 0.0)
    for number, depth in enumerate(depths_m):
        pieces: list[Lines] = []
        starts, ends = [np.empty((0, 2))], [np.empty((0, 2))]
        for result in results:
            pieces.append(lines_of(f"piece_{number}", result))
            starts.append(result[f"piece_{number}_starts"])
            ends.append(result[f"piece_{number}_ends"])
            whole = lines_of(f"whole_{number}", result)
            if len(whole[0]):
                yield _table(frame, whole, depth)
        lines = stacked(pieces)
        if len(lines[0]):
            onward = linked(np.concatenate(ends), np.concatenate(starts))
            yield _table(frame, linked_pieces(lines, onward)[0], depth)


def _table(frame: xr.DataArray, lines: Lines, depth: float) -> gpd.GeoDataFrame:
    points, offsets = lines
    drawn = shapely.from_ragged_array(
        shapely.GeometryType.LINESTRING, placed(points, frame), (offsets,)
    )
    return contour_table(drawn, depth, frame)
