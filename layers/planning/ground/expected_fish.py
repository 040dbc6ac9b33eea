"""Expected fish over the ground as the worth of a drift, at the tide and speed of the hour."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.planning.drift._setting import DayWater
from layers.scoring import Response
from layers.scoring.ground import response_over
from layers.water import Heights
from layers.water.heights.stage import stage
from layers.water.motion import set_and_drift
from layers.water.times import as_utc

EXPECTED_FISH: Final = "fish a rod-hour"
GROUND_FACTORS: Final = ("depth_m", "edge_m", "slope_deg")
HEIGHT_STEP_M: Final = 0.1


def tells_ground(response: Response | None) -> bool:
    """Whether a response distinguishes pieces of bottom, also where nobody fished."""
    if response is None or not response.elsewhere:
        return False
    return any(name in GROUND_FACTORS for name in response.factors)


@dataclass(frozen=True, slots=True)
class ExpectedFish:
    """Worth of an hour over each cell, as `WorthAt`, by a response that `tells_ground`.

    place: where the water's set is taken, for the wind along it.
    """

    response: Response
    grid: xr.DataArray
    edges: gpd.GeoDataFrame | None
    water: DayWater
    heights: Heights | None
    place: tuple[float, float]
    _known: dict[Any, xr.DataArray] = field(default_factory=dict, repr=False)

    def __call__(self, time: np.datetime64) -> xr.DataArray:
        """Fish a rod-hour at a UTC moment; 0 where nothing like it was fished or it is unknown."""
        height, given = self._at(time)
        about = (height, *sorted(given.items()))
        if about not in self._known:
            rate = response_over(
                self.response, self._fished(height), edges=self.edges, height_m=height, given=given
            )["rate"]
            self._known[about] = rate.copy(data=np.nan_to_num(rate.values)).rename("worth")
        return self._known[about]

    def _at(self, time: np.datetime64) -> tuple[float, dict[str, Any]]:
        """Height of the tide, rounded, and what the ground does not say."""
        moment = np.array([time])
        height, given = 0.0, dict[str, Any]()
        if self.heights is not None:
            level = float(self.heights.height_m(moment)[0])
            height = round(level / HEIGHT_STEP_M) * HEIGHT_STEP_M
            if "state" in self.response.factors:
                given["state"] = str(stage(self.heights, moment)["state"].iloc[0])
        place = np.array([self.place[0]]), np.array([self.place[1]])
        east, north = self.water.currents.velocity(moment, *place)
        toward, speed = (float(part[0]) for part in set_and_drift(east, north))
        if "sog_mps" in self.response.factors:
            held = self.water.held_mps or (0.0, np.inf)
            given["sog_mps"] = self._seen("sog_mps", float(np.clip(speed, *held)))
        if "wind_along_mps" in self.response.factors and self.water.wind is not None:
            blowing, from_deg = (float(part[0]) for part in self.water.wind.at(as_utc(moment)))
            along = blowing * np.cos(np.radians(from_deg + 180.0 - toward))
            given["wind_along_mps"] = self._seen("wind_along_mps", along)
        return height, given

    def _seen(self, factor: str, value: float) -> float:
        """Bring a value into what was fished: the day's water is what it is everywhere alike."""
        term = next(term for term in self.response.terms if term.factor == factor)
        return float(np.clip(round(value, 1), *term.seen)) if term.knots else value

    def _fished(self, height_m: float) -> xr.DataArray:
        """Leave out depths that were never fished: nothing is known about them anyway."""
        term = next((term for term in self.response.terms if term.factor == "depth_m"), None)
        if term is None:
            return self.grid
        least, greatest = term.seen
        depth = self.grid.values + height_m
        return self.grid.copy(
            data=np.where((depth >= least) & (depth <= greatest), self.grid.values, np.nan)
        )
