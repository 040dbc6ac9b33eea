"""Marching squares over cell centres, NaN-aware, in columns and rows."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
import xarray as xr
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints
from seabed.grid import transform_of

Lines = tuple[Floats, Ints]
"""Vertices, shape (n, 2), and where each line starts among them, shape (lines + 1,)."""


def marching(values: NDArray[Any]) -> Any:
    """Prepare to trace through values, shape (rows, columns); NaN is void.

    Where one corner of four is void, the other three still hold the surface.
    """
    rows, columns = values.shape
    if rows < 2 or columns < 2:  # no surface at all
        values = np.full((2, 2), np.nan)
    return contour_generator(
        z=values,
        name="serial",
        corner_mask=True,
        line_type=LineType.ChunkCombinedOffset,
        fill_type=FillType.ChunkCombinedOffsetOffset,
    )


def level_lines(generator: Any, level: float) -> Lines:
    """Lines on which the values are `level`, as columns and rows counted between cell centres."""
    (points,), (offsets,) = generator.lines(level)
    if points is None:
        return np.empty((0, 2)), np.zeros(1, np.int64)
    return points, offsets.astype(np.int64)


def filled_rings(generator: Any, lower: float, upper: float) -> tuple[Floats, Ints, Ints]:
    """Rings of the areas where the values are between two: outer ones, each before its holes.

    Returned: columns and rows counted between cell centres; where each ring starts among them;
        where the rings of each area start among those.
    """
    (points,), (rings,), (outers,) = generator.filled(lower, upper)
    if points is None:
        return np.empty((0, 2)), np.zeros(1, np.int64), np.zeros(1, np.int64)
    return points, rings.astype(np.int64), outers.astype(np.int64)


def polygons_of(points: Floats, rings: Ints, outers: Ints) -> NDArray[Any]:
    """Polygons of rings as `filled_rings` gives them; those that touch themselves are repaired."""
    if not len(points):
        return np.empty(0, dtype=object)
    return _valid(shapely.from_ragged_array(shapely.GeometryType.POLYGON, points, (rings, outers)))


def placed(points: Floats, grid: xr.DataArray) -> Floats:
    """Columns and rows, shape (n, 2), to the grid's CRS."""
    affine = transform_of(grid)
    at: Floats = (points + 0.5) * [affine.a, affine.e] + [affine.c, affine.f]
    return at


def _valid(polygons: NDArray[Any]) -> NDArray[Any]:
    """Repair rings that touch themselves at a saddle; drop what has no area."""
    bad = ~shapely.is_valid(polygons)
    if bad.any():
        mended = shapely.get_parts(shapely.make_valid(polygons[bad]))
        flat = shapely.get_type_id(mended) == shapely.GeometryType.POLYGON
        polygons = np.concatenate([polygons[~bad], mended[flat]])
    return np.asarray(polygons[shapely.area(polygons) > 0], dtype=object)
