"""The fetch round a place, and the sea there through a day."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr

from layers.water.currents.currents import Currents, vector
from layers.water.heights._heights import Heights
from layers.water.sea.waves import HEIGHT_DOUBT, Waves, waves
from layers.water.times import as_utc
from layers.water.wind._wind import Wind
from seabed.array_types import Floats, Mask
from seabed.geodesy import ahead, to_degrees
from seabed.grid import crs_of
from seabed.grid.places import CellFinder
from seabed.schema import Table

SEA: Final = Table.of(
    "sea",
    "layers.water.sea",
    """
    wave_m ["Waves" depth .2 empty] significant height, held down to what does not break; NaN where
        it is not known
    wave_period_s [.1 empty] of their peak over the ground
    wave_steepness [empty] height over length
    sea [text empty "Sea"] ripples, short and steep, breaking, beyond what is known or ``""``
    """,
)
"""Waves at a moment."""

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
class Sea:
    """Waves that the wind raises at a place.  Made by `sea_at`.

    heights: None is the tide at datum all day.
    beyond_m: open water beyond the grid's edge; None is not known, and counts as none.
    """

    fetches: Fetches
    wind: Wind
    currents: Currents | None
    heights: Heights | None
    longitude: float
    latitude: float
    beyond_m: float | None = None

    def at(self, times: Any) -> Waves:
        """Give the waves at UTC times."""
        speed, from_deg, fetch, depth = self._over(times)
        along = np.zeros(speed.shape)
        if self.currents is not None:
            place = np.full(speed.shape, self.longitude), np.full(speed.shape, self.latitude)
            east, north = self.currents.velocity(as_utc(times), *place)
            way = vector(1.0, from_deg + 180.0)
            along = east * way[0] + north * way[1]
        return waves(speed, fetch, depth, along)

    def half_height_m(self, times: Any) -> Floats:
        """Give how far troughs are below the still water; 0 where no wave is known.

        Of waves that a current blocks, as they were before it.
        """
        raised = self.at(times)
        height = np.fmax(raised.height_m, raised.still_m)
        return np.asarray(np.nan_to_num(height) / 2, np.float64)

    def reaches_out(self, times: Any) -> Mask:
        """Say at which UTC times the waves may be higher: to windward the grid ends over water."""
        if self.beyond_m is not None:
            return np.zeros(as_utc(times).shape, bool)
        speed, from_deg = self.wind.at(as_utc(times))
        return np.asarray(self.fetches.toward(from_deg)[2] & (speed > 0), bool)

    def _over(self, times: Any) -> tuple[Floats, Floats, Floats, Floats]:
        """Wind, where it comes from, its fetch and the water over it."""
        moments = as_utc(times)
        speed, from_deg = self.wind.at(moments)
        fetch, depth, _ = self.fetches.toward(from_deg, beyond_m=self.beyond_m or 0.0)
        if self.heights is not None:
            depth = depth + np.nan_to_num(self.heights.height_m(moments))
        return speed, from_deg, fetch, depth


def sea_at(
    grid: xr.DataArray,
    *,
    wind: Wind,
    currents: Currents | None = None,
    heights: Heights | None = None,
    place: tuple[float, float],
    beyond_m: float | None = None,
) -> Sea:
    """Look at the fetch round a place (longitude, latitude), for the waves there."""
    return Sea(fetches_round(grid, *place), wind, currents, heights, *place, beyond_m)


def place_in_band(grid: xr.DataArray, band_m: tuple[float, float]) -> tuple[float, float] | None:
    """Give the middle of the cell in a band of depth that is nearest to the grid's middle.

    Of any water, where no cell is in the band; None of a grid that is land all over.
    """
    values = grid.values
    for within in ((values >= band_m[0]) & (values <= band_m[1]), values > 0):
        row, column = np.nonzero(within)
        if row.size:
            off = np.hypot(row - values.shape[0] / 2, column - values.shape[1] / 2)
            near = int(np.argmin(off))
            x, y = grid["x"].values[column[near]], grid["y"].values[row[near]]
            longitude, latitude = to_degrees(crs_of(grid)).transform(x, y)
            return float(longitude), float(latitude)
    return None


def likely_heights(height_m: float) -> tuple[float, float]:
    """Give the height between which waves are in eight of ten cases.

    >>> [round(height, 2) for height in likely_heights(0.36)]
    [0.22, 0.5]
    """
    half = 1.2816 * HEIGHT_DOUBT * height_m
    return height_m - half, height_m + half


@dataclass(frozen=True, slots=True)
class Fetches:
    """Open water round a place, by where the wind comes from, every third degree.

    distance_m: to land, to blank cells or to the grid's edge; 0 from a place without water.
    depth_m: mean charted depth on the way; NaN of no way.
    open_water: whether the water may go on where it ends: at the grid's edge, at blank cells beside
        deep water, or because the place itself is blank.
    """

    distance_m: Floats
    depth_m: Floats
    open_water: Mask

    def toward(self, wind_from_deg: Any, *, beyond_m: float = 0.0) -> tuple[Floats, Floats, Mask]:
        """Give the fetch, its mean charted depth, and whether it reaches out of the grid.

        The mean of nine rays 3 degrees apart about the wind (degrees true; NaN has no fetch).
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

    Cells without a depth end the water; holes of a survey, up to three cells wide, do not.  So does
    ground that the tide, `height_m` over the datum, does not cover.
    """
    rows, columns = grid.shape
    # the place, and 100 m toward each bearing: north of a grid need not be up
    x, y = ahead(longitude, latitude, BEARINGS, 100.0)
    row, column = CellFinder.of(grid).row_column([longitude, *x], [latitude, *y])
    down, across = (row[1:] - row[0]) / 100, (column[1:] - column[0]) / 100
    reach = np.hypot(rows, columns) / np.hypot(down, across)
    corner = np.hypot(max(row[0], rows - row[0]), max(column[0], columns - column[0]))
    # past the furthest corner every ray is off the grid
    looks = int(min(LOOKS, np.ceil(LOOKS * corner / np.hypot(rows, columns)) + 2))
    far = reach[:, None] * (np.arange(1, looks + 1) / LOOKS)
    i = np.floor(row[0] + down[:, None] * far).astype(int)
    j = np.floor(column[0] + across[:, None] * far).astype(int)
    inside = (i >= 0) & (i < rows) & (j >= 0) & (j < columns)
    depth = np.full(far.shape, np.nan)
    depth[inside] = grid.values[i[inside], j[inside]]
    blank = inside & np.isnan(depth)
    gap = math.ceil(GAP_CELLS * LOOKS / np.hypot(rows, columns))
    wide = blank & _in_long_runs(blank | ~inside, gap)
    end = ~inside | wide | (depth + height_m <= 0)
    steps = np.where(end.any(axis=1), np.argmax(end, axis=1), looks)
    at, first = np.arange(len(BEARINGS)), np.minimum(steps, looks - 1)
    last = np.maximum(steps, 1) - 1
    known = (np.arange(looks) < steps[:, None]) & ~blank
    count = known.sum(axis=1)
    mean = np.where(known, depth, 0.0).sum(axis=1) / np.where(count, count, np.nan)
    steep = (steps == 0) | (depth[at, last] + height_m > STEEP_M)
    unsounded = wide[at, first] & steep
    return Fetches(reach * steps / LOOKS, mean, unsounded | ((steps > 0) & ~inside[at, first]))


def _in_long_runs(blank: Mask, length: int) -> Mask:
    """Mark, along each row, cells after which `length` more are blank."""
    count = np.cumsum(~blank, axis=1, dtype=np.int32)
    ahead = np.concatenate([count[:, length:], np.repeat(count[:, -1:], length, axis=1)], axis=1)
    return np.asarray(ahead[:, : blank.shape[1]] == count)
