"""What a plan is given: hours, water, hazards, and what the logbook knows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from layers.area import Area
from layers.jobs.parts.area_water import WAYS_TO_A_CURRENT, currents_of, wind_of
from layers.jobs.parts.facts import TEN_MINUTES, place_of
from layers.jobs.parts.seen import correct
from layers.jobs.parts.settings import day_of
from layers.jobs.requests import PlanRequest
from layers.planning import DayWater, Doubt, DriftLimits, SafeWater, Setting
from layers.planning.drift.doubt import SureCurrents
from layers.water import Currents, Heights, leeway_of
from layers.water.seen.corrected import CorrectedCurrents
from layers.water.times import day_bounds, zone_of
from seabed.errors import WaterError
from seabed.grid import degree_bounds
from seabed.tables.clocks import read_time


@dataclass(frozen=True, slots=True)
class Hours:
    """When to fish, UTC."""

    day: date
    start: np.datetime64
    end: np.datetime64

    @property
    def times(self) -> NDArray[np.datetime64]:
        """Every ten minutes of them."""
        return np.arange(self.start, self.end, TEN_MINUTES)


def hours_of(area: Area, day: str, begin: str, end: str) -> Hours:
    """Read the day and its clock times in the area's zone; WaterError if no drift fits."""
    when = day_of(day, area.timezone, area.date_order)
    first, last = _clock(area, when, begin, "begin"), _clock(area, when, end, "end")
    if last <= first:
        raise WaterError(
            f"{end} is not after {begin}", key="end", do="Give a later time, up to 24:00."
        )
    shortest_s = area.plan.shortest_drift_s
    if last - first < np.timedelta64(round(shortest_s), "s"):
        raise WaterError(
            f"{begin} to {end} is too short for a drift of {shortest_s / 60:.0f} min",
            key="end", do="Give a later time, or a smaller {plan.shortest_drift}.",
        )  # fmt: skip
    return Hours(when, first, last)


def water_of(
    area: Area, when: Hours, request: PlanRequest, *, held_mps: tuple[float, float] | None
) -> DayWater:
    """Gather what moves on the day; `held_mps` as in `DayWater`.

    Sightings of the day correct the current, of which a request beyond the limits has no limit.
    """
    currents = currents_of(area)
    if currents is None:
        raise WaterError(
            "no current is named, so no drift can be planned",
            file=area.file,
            do=WAYS_TO_A_CURRENT,
        )
    midnight = day_bounds(when.day, area.timezone)[0]
    blows = wind_of(area, request.wind, midnight)
    better = correct(area, currents, request.seen, when.day, wind=blows, place=place_of(area))
    return DayWater(
        better or currents,
        leeway_of(area.boat.craft),
        blows,
        doubt=_doubt(better),
        held_mps=held_mps,
        motor_limit_mps=area.boat.motor_limit_mps,
        correct_every_s=area.plan.correct_every_s,
        current_limit_mps=float("inf") if request.beyond_limits else area.boat.current_limit_mps,
    )


def _doubt(currents: Currents | None) -> Doubt:
    """Give the doubt of the water: less of a table that sightings have corrected."""
    changes = currents.changes() if isinstance(currents, CorrectedCurrents) else None
    if changes is None:
        return Doubt()
    return Doubt(current_share=changes["share"][1], current_deg=changes["deg"][1])


def setting_of(
    area: Area,
    water: DayWater,
    grid: xr.DataArray,
    hazards: gpd.GeoDataFrame | None,
    heights: Heights | None,
    *,
    trough_m: float = 0.0,
) -> Setting:
    """Put together all that a drift depends on; troughs are added to the least water."""
    safe = SafeWater.of(
        grid, heights, hazards, least_water_m=area.plan.least_water_m + trough_m,
        clearance_m=area.plan.hazard_clearance_m,
    )  # fmt: skip
    limits = DriftLimits(
        shortest_s=area.plan.shortest_drift_s,
        running_mps=area.boat.running_speed_mps,
        set_up_s=area.plan.settle_s + area.plan.lines_down_s,
        lines_up_s=area.plan.lines_up_s,
    )
    return Setting(safe, water, area.depths.sought_m, limits)


def check_known(water: DayWater, when: Hours, grid: xr.DataArray) -> None:
    """Refuse hours in which the current is unknown, or too doubtful, in the middle of the grid."""
    middle = degree_bounds(grid).middle
    times = when.times
    place = np.full(len(times), middle[0]), np.full(len(times), middle[1])
    if np.isnan(water.currents.velocity(times, *place)[0]).all():
        raise WaterError(
            f"the current is not known through {when.day}",
            do="Change {date}, or name a source that covers the day: {water.currents}.",
        )
    if np.isnan(SureCurrents(water.currents).velocity(times, *place)[0]).all():
        raise WaterError(
            "the current that was learned from drifts is too doubtful at all of these hours",
            do="Give other hours, log more drifts at this stage of the tide and learn it again, or "
            "name a table: {water.currents}.",
        )


def _clock(area: Area, day: date, word: str, key: str) -> np.datetime64:
    if word.strip() in {"24:00", "2400", "24"}:
        return day_bounds(day, area.timezone)[1]
    try:
        time = read_time(f"{word}:00" if word.strip().isdigit() and len(word) < 3 else word)
    except ValueError as error:
        raise WaterError(
            f"can't read the time {word!r}", key=key, do="Write it like 7:30, 0730 or 7:30 am."
        ) from error
    local = pd.Timestamp(datetime.combine(day, time))
    zoned = local.tz_localize(zone_of(area.timezone), nonexistent="shift_forward", ambiguous=True)
    return np.datetime64(zoned.tz_convert("UTC").tz_localize(None), "ns")
