"""The water that a map shows by the hour."""

from __future__ import annotations

import pandas as pd

from layers.area import Area
from layers.jobs.parts.settings import currents_of, heights_of
from layers.maps import MapWater, water_of_day
from layers.water import FixedWind, day_bounds, leeway_of


def map_water(
    area: Area, day: pd.Timestamp, *, longitude: float, latitude: float
) -> MapWater | None:
    """Sample the area's tide, current and wind over the local day of `day` (UTC).

    None if the area names neither tide heights nor currents.
    """
    heights, currents = heights_of(area), currents_of(area)
    if heights is None and currents is None:
        return None
    start, end = day_bounds(day.tz_convert(area.timezone).date(), area.timezone)
    return water_of_day(
        start,
        end,
        heights=heights,
        currents=currents,
        longitude=longitude,
        latitude=latitude,
        wind=FixedWind(area.wind.speed_mps, area.wind.from_deg),
        leeway=leeway_of(area.boat.craft),
    )
