"""Worth of ground by what its lines paid, where there is no model of the whole ground."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray
from rasterio.features import rasterize
from scipy.ndimage import gaussian_filter
from scipy.special import gammaincinv

from layers.planning.drift._cells import cell_index
from layers.planning.ground._hot_stretches import SAME_WAY_DEG
from layers.water import Currents
from layers.water.motion import set_and_drift
from seabed.array_types import Floats, Mask
from seabed.grid import cell_size, crs_of, transform_of
from seabed.grid.extent import metric_crs
from seabed.grid.places import row_column
from seabed.units import half_turned

FISHED_LINES: Final = "fish a rod-hour by lines fished"

LEFT_WHERE_FISH_WERE: Final = 0.9
"""Share of its worth that ground keeps for a later slot where it is worth what it paid on many
drifts.  Common practice, no source: a good line is drifted again until it stops paying."""

NEW_GROUND: Final = 0.25
"""What the best of ground never fished counts for, as a share of the season's plain rate: skippers
fish what is good first.  Our choice, no source."""

LEAST_ROD_HOURS: Final = 0.25
"""A line fished for less, a quarter of an hour with one rod, says too little to be drifted for.
On invented fish a whole rod-hour leaves out most lines of a first season that paid."""

GUESS_FISH: Final = 2.0
"""How many fish's weight the rate of the whole line has at each place of it.  Our choice."""

CAUTIOUS: Final = 0.1
"""Chance that a place pays less than what it counts for: the lower end of 80 %."""


@dataclass(frozen=True, slots=True)
class FishedGround:
    """Worth of an hour over each cell, as `WorthAt`: structure, with what was fished laid over it.

    lines, samples: from `rank_lines` and `sample_drifts` of the same drifts.
    corridor_m: to either side of a line, and the standard deviation over which fish and effort are
        smoothed.
    known: what was worked out before, by the lines along which the water runs.
    """

    structure: xr.DataArray
    lines: gpd.GeoDataFrame
    samples: pd.DataFrame
    currents: Currents
    corridor_m: float
    known: dict[Any, xr.DataArray] = field(default_factory=dict, repr=False)

    def __call__(self, time: np.datetime64) -> xr.DataArray:
        """Fish a rod-hour at a UTC moment.

        Ground by the drifts of a line counts while the water runs within 45 degrees of the line's
        course.  Its rate is a gamma's: the line's rate with the weight of two fish, and
        the fish and rod-hours about the place, each weighed by a normal curve of its distance; it
        counts for the lower end of 80 %.  Lines of less than a rod-hour do not count.  All
        other ground is worth its structure score times a quarter of the season's plain rate.
        """
        running = tuple(self.lines.loc[self._same_way(time), "line"].astype(str))
        if running not in self.known:
            self.known[running] = self.structure.copy(data=self._over(running))
        return self.known[running]

    def _over(self, running: tuple[str, ...]) -> NDArray[np.float32]:
        """Worth of all ground while the water runs along some lines."""
        hours = float(self.lines["rod_hours"].sum())
        plain = float(self.lines["fish"].sum()) / hours if hours > 0 else 0.0
        worth = self.structure.values * np.float32(NEW_GROUND * plain)
        if not running:
            return worth
        own = self.samples[self.samples["line"].isin(running)]
        guess = self._rates(own)
        near_hours, near_fish = self._smoothed(own["rod_hours"]), self._smoothed(own["fish"])
        by = guess > 0
        rate = gammaincinv(GUESS_FISH + near_fish[by], CAUTIOUS)
        worth[by] = rate / (GUESS_FISH / guess[by] + near_hours[by])
        return worth

    def _rates(self, own: pd.DataFrame) -> NDArray[np.float32]:
        """Rate of the best line about each cell; 0 off them."""
        rate = self.lines.set_index(self.lines["line"].astype(str))["rate_all"]
        points = gpd.GeoSeries.from_xy(own["longitude"], own["latitude"], crs="EPSG:4326")
        metric = metric_crs(self.structure)
        flat = points.to_crs(metric).groupby(own["line"].astype(str).to_numpy())
        around = gpd.GeoSeries(
            {name: shapely.union_all(shapely.buffer(part, self.corridor_m)) for name, part in flat},
            crs=metric,
        ).to_crs(crs_of(self.structure))
        shapes = sorted(zip(around, rate[around.index], strict=True), key=lambda one: one[1])
        rates: NDArray[np.float32] = rasterize(
            shapes, out_shape=self.structure.shape, transform=transform_of(self.structure),
            dtype="float32",
        )  # fmt: skip
        return rates

    def _smoothed(self, amount: pd.Series) -> Floats:
        """Sum an amount of the samples about each cell, weighed by distance; the nearest by 1."""
        own = self.samples.loc[amount.index]
        rows, columns = self.structure.shape
        cell = cell_index(
            (rows, columns),
            *row_column(self.structure, own["longitude"].to_numpy(), own["latitude"].to_numpy()),
        )
        inside = cell >= 0
        total = np.bincount(cell[inside], amount.to_numpy(float)[inside], self.structure.size)
        size = cell_size(self.structure)
        middle = len(size.northing) // 2
        spread = self.corridor_m / size.northing[middle], self.corridor_m / size.easting[middle]
        smooth = gaussian_filter(
            total.reshape(rows, columns), spread, mode="constant", truncate=3.0
        )
        return np.asarray(smooth * (2 * np.pi * spread[0] * spread[1]), np.float64)

    def _same_way(self, time: np.datetime64) -> Mask:
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
        apart = np.abs(half_turned(toward - self.lines["course_deg"].to_numpy(float)))
        enough = self.lines["rod_hours"].to_numpy(float) >= LEAST_ROD_HOURS
        same: Mask = (apart <= SAME_WAY_DEG) & enough
        return same
