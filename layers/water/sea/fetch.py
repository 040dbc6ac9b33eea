"""How far open water reaches to windward, and how deep it is there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.geodesy import ahead
from seabed.grid.places import CellFinder

STEP_DEG: Final = 3.0
"""Between the rays of a fetch."""
RAYS: Final = 4
"""To either side of the wind, whose mean length with that of the middle one is the fetch: nine rays
3 degrees apart (Shore Protection Manual 1984, chapter 3; from memory)."""
LOOKS: Final = 3000
"""Along a ray, at most."""
GAP_CELLS: Final = 3.0
"""A blank no wider than this along a ray is a hole in the survey, not land (our choice)."""
STEEP_M: Final = 2.0
"""Where water deeper than this ends at blank cells, they may be water nobody sounded (our choice:
most shores shoal)."""
BEARINGS: Final = np.arange(0.0, 360.0, STEP_DEG)


@dataclass(frozen=True, slots=True)
class Fetches:
    """Open water round a place, by where the wind comes from.

    Made by `fetches_round`.

    distance_m: ndarray of float64, shape (120,); to land, to blank cells or to the grid's edge,
        toward each third degree; 0 from a place without water.
    depth_m: ndarray of float64, shape (120,); mean charted depth on the way; NaN of no way.
    open_water: ndarray of bool, shape (120,); whether the water may go on where it ends: at the
        grid's edge, at blank cells beside deep water, or because the place itself is blank.
    """

    distance_m: Floats
    depth_m: Floats
    open_water: NDArray[np.bool_]

    def toward(
        self, wind_from_deg: Any, *, beyond_m: float = 0.0
    ) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Give the fetch, its mean charted depth, and whether it reaches out of the grid.

        The mean of nine rays 3 degrees apart about the wind.

        wind_from_deg: array-like of float, shape (n,); degrees true; NaN has no fetch.
        beyond_m: open water beyond the grid's edge.
        """
        from_deg = np.asarray(wind_from_deg, float)
        known = np.isfinite(from_deg)
        middle = np.round(np.where(known, from_deg, 0.0) / STEP_DEG).astype(int)
        rays = (middle[..., None] + np.arange(-RAYS, RAYS + 1)) % len(BEARINGS)
        far = self.distance_m[rays] + beyond_m * self.open_water[rays]
        weight = far / np.maximum(far.sum(axis=-1, keepdims=True), 1e-9)
        depth = np.nansum(weight * self.depth_m[rays], axis=-1)
        return (
            np.where(known, far.mean(axis=-1), np.nan),
            np.where(known & (far.sum(axis=-1) > 0), depth, np.nan),
            known & self.open_water[rays].any(axis=-1),
        )


def fetches_round(
    grid: xr.DataArray, longitude: float, latitude: float, *, height_m: float = 0.0
) -> Fetches:
    """Look from a place over a depth grid to the nearest land, all round.

    Cells without a depth end the water; holes of a survey, up to three cells wide, do not.
    height_m: of the tide over the datum: ground that it does not cover is land.
    """
    rows, columns = grid.shape
    # the place, and 100 m toward each bearing: north of a grid need not be up
    x, y = ahead(longitude, latitude, BEARINGS, 100.0)
    row, column = CellFinder.of(grid).row_column([longitude, *x], [latitude, *y])
    down, across = (row[1:] - row[0]) / 100, (column[1:] - column[0]) / 100
    reach = np.hypot(rows, columns) / np.hypot(down, across)
    share = np.arange(1, LOOKS + 1) / LOOKS
    far = reach[:, None] * share
    i = np.floor(row[0] + down[:, None] * far).astype(int)
    j = np.floor(column[0] + across[:, None] * far).astype(int)
    inside = (i >= 0) & (i < rows) & (j >= 0) & (j < columns)
    depth = np.full(far.shape, np.nan)
    depth[inside] = grid.values[i[inside], j[inside]]
    blank = inside & np.isnan(depth)
    gap = math.ceil(GAP_CELLS * LOOKS / np.hypot(rows, columns))
    wide = blank & _in_long_runs(blank | ~inside, gap)
    end = ~inside | wide | (depth + height_m <= 0)
    steps = np.where(end.any(axis=1), np.argmax(end, axis=1), LOOKS)
    at, first = np.arange(len(BEARINGS)), np.minimum(steps, LOOKS - 1)
    last = np.maximum(steps, 1) - 1
    known = (np.arange(LOOKS) < steps[:, None]) & ~blank
    count = known.sum(axis=1)
    mean = np.where(known, depth, 0.0).sum(axis=1) / np.where(count, count, np.nan)
    steep = (steps == 0) | (depth[at, last] + height_m > STEEP_M)
    unsounded = wide[at, first] & steep
    return Fetches(reach * steps / LOOKS, mean, unsounded | ((steps > 0) & ~inside[at, first]))


def _in_long_runs(blank: NDArray[np.bool_], length: int) -> NDArray[np.bool_]:
    """Mark, along each row, cells after which so many more are blank."""
    count = np.cumsum(blank, axis=1)
    ahead = np.minimum(np.arange(blank.shape[1]) + length, blank.shape[1] - 1)
    return np.asarray(count[:, ahead] - count == ahead - np.arange(blank.shape[1]))
