"""What a piece of bottom is worth to a drift, where no catch shows it yet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
import xarray as xr
from numpy.typing import NDArray
from rasterio.features import rasterize
from scipy.ndimage import distance_transform_edt

from seabed.grid import cell_size, crs_of, transform_of

REACH_M: Final = 25.0
"""How far from an edge its pull is down to 61 % (one standard deviation).  Common practice, no
source."""

FELT: Final = 6.5
"""How many reaches from an edge its pull is last more than float32 can hold beside `FLAT_WORTH`."""

WEIGHT_STEP: Final = 0.125
"""Scores differ in steps of this."""

FLAT_WORTH: Final = 0.2
"""Worth of bottom in the band far from any structure, against 1 on it.  Common practice, no
source."""


def structure_worth(
    grid: xr.DataArray,
    band_m: tuple[float, float],
    structure: Iterable[gpd.GeoDataFrame],
    *,
    reach_m: float = REACH_M,
) -> xr.DataArray:
    """Score each cell from 0 to 1 by depth band and nearness to structure.

    A plain, stated guess for water with no catches: 0 outside the band; inside it
    ``0.2 + 0.8 w exp(-d^2 / 2 reach^2)`` with d the distance in metres to an edge line or the
    outline of a hump or hole, and w the ``score`` that it is ranked by, over the best one's (1
    where it has none); of all, what gives most.

    Parameters
    ----------
    grid : depth grid, held in memory
    band_m : (float, float)
        Shallow and deep end, metres of charted depth.
    structure : iterable of GeoDataFrame
        Edges, humps, holes; any CRS; empty ones are passed over.
    reach_m : float
        Metres.

    Returns
    -------
    DataArray of float32
        On the cells of `grid`; 0 on land and void.

    Examples
    --------
    >>> from seabed import edges, example_grid
    >>> grid, band = example_grid(), (8.0, 12.0)
    >>> worth = structure_worth(grid, band, [edges(grid, band=band)])
    >>> worth.values[30, 32:44:2].round(1).tolist()
    [0.0, 0.0, 0.0, 0.0, 1.0, 0.0]
    """
    in_band = (grid.values >= band_m[0]) & (grid.values <= band_m[1])
    pull = np.zeros(grid.shape)
    for weight, shapes in _by_weight(structure, crs_of(grid)).items():
        for part, away_m in _distances(grid, shapes, FELT * reach_m):
            near = np.exp(-0.5 * (away_m / reach_m) ** 2)
            np.maximum(pull[part], weight * near, out=pull[part])
    worth = np.where(in_band, FLAT_WORTH + (1 - FLAT_WORTH) * pull, 0.0)
    return grid.copy(data=worth.astype(np.float32)).rename("worth")


def _by_weight(structure: Iterable[gpd.GeoDataFrame], crs: Any) -> dict[float, list[Any]]:
    """Outlines by their score over the best one's, in steps of `WEIGHT_STEP`."""
    outlines: list[tuple[float, Any]] = []
    for table in structure:
        if not len(table):
            continue
        scores = table["score"].to_numpy(float) if "score" in table else np.full(len(table), np.nan)
        shapes = table.to_crs(crs).geometry.apply(_outline)
        outlines += zip(scores, shapes, strict=True)
    best = max((score for score, _ in outlines if score > 0), default=1.0)
    weighed: dict[float, list[Any]] = {}
    for score, shape in outlines:
        if shape is None or shape.is_empty:
            continue
        weight = 1.0 if np.isnan(score) else WEIGHT_STEP * round(score / best / WEIGHT_STEP)
        if weight > 0:
            weighed.setdefault(weight, []).append(shape)
    return weighed


def _distances(
    grid: xr.DataArray, shapes: Sequence[Any], reach_m: float
) -> Iterator[tuple[tuple[slice, slice], NDArray[Any]]]:
    """Give parts of the grid, all cells within reach in one, and metres to the nearest shape."""
    transform, size = transform_of(grid), cell_size(grid)
    away = rasterize(
        shapes, out_shape=grid.shape, transform=transform, fill=1, default_value=0,
        all_touched=True, dtype="uint8",
    )  # fmt: skip
    middle = len(size.northing) // 2
    metres = size.northing[middle], size.easting[middle]
    for shape in shapes:
        west, south, east, north = shape.bounds
        (left, top), (right, bottom) = ~transform @ (west, north), ~transform @ (east, south)
        margin = [reach_m / step + 1 for step in metres]
        part = (
            slice(max(int(top - margin[0]), 0), max(int(bottom + margin[0]) + 1, 0)),
            slice(max(int(left - margin[1]), 0), max(int(right + margin[1]) + 1, 0)),
        )
        if not away[part].all():
            yield part, distance_transform_edt(away[part], sampling=metres)


def _outline(shape: Any) -> Any:
    return shape.boundary if shape is not None and shape.geom_type.endswith("Polygon") else shape
