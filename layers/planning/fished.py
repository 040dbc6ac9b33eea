"""Worth of ground by what its lines paid, where no model of the whole ground can be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from rasterio.features import rasterize

from layers.planning.hot import SAME_WAY_DEG
from layers.water import Currents, set_and_drift
from seabed.grid import crs_of, metric_crs, transform_of

__all__ = ["FISHED_LINES", "LEFT_WHERE_FISH_WERE", "NEW_GROUND", "FishedGround"]

FISHED_LINES: Final = "fish a rod-hour by lines fished"

LEFT_WHERE_FISH_WERE: Final = 0.8
"""Share of its worth that ground keeps for a later slot where it is worth what it paid on many
drifts: more than of ground that is only guessed at.  Our choice, no source."""

NEW_GROUND: Final = 0.25
"""What the best of ground never fished counts for, as a share of the season's plain rate: skippers
fish what is good first.  Our choice, no source."""


@dataclass(frozen=True, slots=True)
class FishedGround:
    """Worth of an hour over each cell, as `layers.planning.WorthAt`.

    Attributes
    ----------
    structure : DataArray
        `structure_worth`.
    lines : GeoDataFrame
        From `layers.scoring.rank_lines`, with one or more rod-hours.
    currents : Currents
    corridor_m : float
        To either side of a line.
    """

    structure: xr.DataArray
    lines: gpd.GeoDataFrame
    currents: Currents
    corridor_m: float

    def __call__(self, time: np.datetime64) -> xr.DataArray:
        """Fish a rod-hour at a UTC moment.

        Ground by a line counts for the lower limit of the line's rate while the water runs within
        45 degrees of its course; all other ground for its structure score times a quarter of the
        season's plain rate.
        """
        hours = float(self.lines["rod_hours"].sum())
        plain = float(self.lines["fish"].sum()) / hours if hours > 0 else 0.0
        worth = self.structure.values * np.float32(NEW_GROUND * plain)
        running = self.lines[self._same_way(time)]
        if len(running):
            around = running.geometry.to_crs(metric_crs(self.structure)).buffer(self.corridor_m)
            rate = running["rate_all_low"].to_numpy(float)
            shapes = list(zip(around.to_crs(crs_of(self.structure)), rate, strict=True))
            paid = rasterize(
                [shapes[place] for place in np.argsort(rate, kind="stable")],
                out_shape=worth.shape, transform=transform_of(self.structure), dtype="float32",
            )  # fmt: skip
            worth = np.where(paid > 0, paid, worth)
        return self.structure.copy(data=worth)

    def _same_way(self, time: np.datetime64) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        if not len(self.lines):
            return np.zeros(0, bool)
        middle = shapely.line_interpolate_point(
            self.lines.geometry.to_numpy(), 0.5, normalized=True
        )
        toward, _ = set_and_drift(
            *self.currents.velocity(
                np.full(len(middle), time), shapely.get_x(middle), shapely.get_y(middle)
            )
        )
        apart = np.abs((toward - self.lines["course_deg"].to_numpy(float) + 180) % 360 - 180)
        same: np.ndarray[tuple[int], np.dtype[np.bool_]] = apart <= SAME_WAY_DEG
        return same
