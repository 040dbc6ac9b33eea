"""The sea at a place through a day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from layers.water.currents.currents import Currents, vector
from layers.water.heights._heights import Heights
from layers.water.sea.fetch import Fetches, fetches_round
from layers.water.sea.waves import HEIGHT_DOUBT, Waves, waves
from layers.water.times import as_utc
from layers.water.wind._wind import Wind
from seabed.array_types import Floats
from seabed.geodesy import to_degrees
from seabed.grid import crs_of
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


@dataclass(frozen=True, slots=True)
class Sea:
    """Waves that the wind raises at a place.

    Made by `sea_at`.

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

    def reaches_out(self, times: Any) -> NDArray[np.bool_]:
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
