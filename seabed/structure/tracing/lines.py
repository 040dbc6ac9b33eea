"""Traced points to lines: cut where they fail, and named by their direction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.grid import CellSize, cell_size, crs_of, transform_of
from seabed.structure.measure import lengths_m, segment_lengths_m
from seabed.structure.tracing.marching import Lines, placed
from seabed.terrain.north import convergence_at


@dataclass(frozen=True, slots=True)
class Traced:
    """Lines made of the good points of longer ones.

    keep, shape (n,): which points they run through, in order: good ones and those on bridged gaps.
    line, shape (n,): which line each of these belongs to, 0, 1, ...
    table: a row a line: ``length_m``, ``bearing_deg`` (trend, 0 <= bearing < 180, degrees true),
        ``turn`` (meridian convergence at its middle, degrees), ``geometry``.
    """

    keep: NDArray[np.intp]
    line: NDArray[np.intp]
    table: gpd.GeoDataFrame


def traced(
    grid: xr.DataArray,
    lines: Lines,
    good: Mask,
    *,
    gap_m: float,
    sense: bool = True,
) -> Traced:
    """Cut lines, in columns and rows of the grid, where points are not good; drop single ones.

    A line that ends where it starts is a ring.

    gap_m: gaps up to this long are bridged.
    sense: whether lines have one.  Those without are all turned to begin in the north, or west.
    """
    points, offsets = lines
    position = placed(points, grid)
    order = _rings_from_a_gap(points, offsets, good, segment_lengths_m(position, grid))
    owner = np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))
    step_m = segment_lengths_m(position[order], grid)
    piece = _pieces(good[order], owner, step_m, gap_m)
    count = np.bincount(piece + 1)  # the first is of points in no piece
    kept = (piece >= 0) & (count[piece + 1] >= 2)
    keep = order[kept]
    _, line = np.unique(piece[kept], return_inverse=True)
    if not sense:
        keep = keep[_from_the_north(points[keep], line)]
    return Traced(keep, line, _measured(grid, position[keep], line))


def _from_the_north(points: Floats, line: NDArray[np.intp]) -> NDArray[np.intp]:
    """Order points so that each line begins at its more northern end, or the western of two."""
    order = np.arange(len(line))
    if not len(line):
        return order
    starts = np.flatnonzero(np.diff(line, prepend=-1))
    stops = np.append(starts[1:], len(line))
    for a, b in zip(starts, stops, strict=True):
        ring = (points[a] == points[b - 1]).all()
        first, last = (points[a + 1], points[b - 2]) if ring else (points[a], points[b - 1])
        if (first[1], first[0]) > (last[1], last[0]):
            order[a:b] = order[a:b][::-1]
    return order


def _rings_from_a_gap(
    points: Floats, offsets: Ints, good: Mask, step_m: Floats
) -> NDArray[np.intp]:
    """Order points so that each ring starts in its longest gap: no run is cut there."""
    order = np.arange(len(points))
    if not len(points):
        return order
    first, last = offsets[:-1], offsets[1:] - 1
    ring = (points[first] == points[last]).all(axis=1) & (last > first)
    mixed = np.logical_or.reduceat(good, first) & ~np.logical_and.reduceat(good, first)
    for a, b in zip(first[ring & mixed], last[ring & mixed], strict=True):
        order[a:b] = np.roll(order[a:b], -_longest_gap(good[a:b], step_m[a:b]))
        order[b] = order[a]
    return order


@compiled
def _longest_gap(good: Mask, step_m: Floats) -> int:
    """Where the longest way over what is not good starts on a ring of so many points and steps."""
    count = len(good)
    first = 0
    while not good[first]:
        first += 1
    start, longest, last, way = first + 1, 0.0, first, 0.0
    for n in range(first + 1, first + count + 1):
        way += step_m[(n - 1) % count]
        if good[n % count]:
            if n - last > 1 and way > longest:
                start, longest = last + 1, way
            last, way = n, 0.0
    return start % count


def _pieces(good: Mask, owner: Ints, step_m: Floats, gap_m: float) -> Ints:
    """Give each point the number of its piece, rising; -1 for none."""
    piece = np.full(len(good), -1)
    at = np.flatnonzero(good)
    if not len(at):
        return piece
    along = np.concatenate([[0.0], np.cumsum(step_m)])
    joined = (owner[at[1:]] == owner[at[:-1]]) & (
        (np.diff(at) == 1) | (np.diff(along[at]) <= gap_m)
    )
    piece[at] = np.concatenate([[0], np.cumsum(~joined)])
    before = np.maximum.accumulate(np.where(good, np.arange(len(good)), -1))
    after = (
        len(good) - 1 - np.maximum.accumulate(np.where(good[::-1], np.arange(len(good)), -1))[::-1]
    )
    between = ~good & (before >= 0) & (after < len(good))
    inner = np.flatnonzero(between)
    bridged = inner[piece[before[inner]] == piece[after[inner]]]
    piece[bridged] = piece[before[bridged]]
    return piece


def _measured(grid: xr.DataArray, position: Floats, line: NDArray[Any]) -> gpd.GeoDataFrame:
    lines = shapely.linestrings(position, indices=line) if len(line) else np.empty(0, object)
    middle = shapely.get_coordinates(
        shapely.line_interpolate_point(lines, 0.5, normalized=True)
    ).reshape(-1, 2)
    turn = convergence_at(grid, middle[:, 0], middle[:, 1])
    return gpd.GeoDataFrame(
        pd.DataFrame(
            {
                "length_m": lengths_m(lines, grid),
                "bearing_deg": np.mod(_trend(grid, position, line, len(lines)) + turn, 180),
                "turn": turn,
            }
        ),
        geometry=lines,
        crs=crs_of(grid),
    )


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


def at_most_m(lines: Lines, size: CellSize) -> Floats:
    """Give a length of each line, in columns and rows, that it has at most over the ground."""
    points, offsets = lines
    if not len(points):
        return np.zeros(len(offsets) - 1)
    step = np.diff(points, axis=0, append=points[-1:])
    step[offsets[1:] - 1] = 0  # from the end of a line to the next
    most = np.hypot(step[:, 0] * size.easting.max(), step[:, 1] * size.northing.max())
    # the ground is measured a little otherwise
    return np.asarray(1.01 * np.add.reduceat(most, offsets[:-1]), float)


def longest_first(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Put lines in order, longest first, those of one length from north to south."""
    place = np.array([line.coords[0] for line in table.geometry]).reshape(-1, 2)
    order = np.lexsort((place[:, 0], -place[:, 1], -table["length_m"]))
    return table.iloc[order].reset_index(drop=True)
