"""What a piece of bottom is worth to a drift, where no catch has said so yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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

WEIGHT_STEP: Final = 0.125
"""Scores are told apart in steps of this."""

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
    """
    in_band = (grid.values >= band_m[0]) & (grid.values <= band_m[1])
    pull = np.zeros(grid.shape)
    for weight, shapes in _by_weight(structure, crs_of(grid)).items():
        near = np.exp(-0.5 * (_distance(grid, shapes) / reach_m) ** 2)
        np.maximum(pull, weight * near, out=pull)
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


def _distance(grid: xr.DataArray, shapes: Sequence[Any]) -> NDArray[Any]:
    """Metres from each cell to the nearest of some shapes."""
    away = rasterize(
        shapes, out_shape=grid.shape, transform=transform_of(grid), fill=1, default_value=0,
        all_touched=True, dtype="uint8",
    )  # fmt: skip
    size = cell_size(grid)
    middle = len(size.northing) // 2
    metres: NDArray[Any] = distance_transform_edt(
        away, sampling=(size.northing[middle], size.easting[middle])
    )
    return metres


def _outline(shape: Any) -> Any:
    return shape.boundary if shape is not None and shape.geom_type.endswith("Polygon") else shape
