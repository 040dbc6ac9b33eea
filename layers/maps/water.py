"""The water of a day, sampled for the page."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from layers.water import Currents, FixedWind, Heights, Leeway, leeway_of
from layers.water.wind.leeway import LIGHT_AIR_MPS
from seabed.array_types import Floats

STEP_S: Final = 120
"""Seconds between samples.  Between them the page interpolates straight: at half a metre a second
of a twelve-hour tide that is wrong by less than 0.1 mm/s."""


@dataclass(frozen=True, slots=True)
class MapWater:
    """Tide, current and wind on the map.

    start: UTC.
    height_m, shape (n,): of the tide over datum, metres, every `STEP_S` seconds from `start`; NaN
    where unknown, None without a source.
    east_mps, north_mps, shape (n,): likewise of the current, m/s, taken as the same everywhere on
    the map.
    """

    start: np.datetime64
    height_m: Floats | None
    east_mps: Floats | None = None
    north_mps: Floats | None = None
    wind: FixedWind = field(default_factory=lambda: FixedWind(0.0, 0.0))
    leeway: Leeway = field(default_factory=lambda: leeway_of("skiff, V-hull"))


def water_of_day(
    start: np.datetime64,
    end: np.datetime64,
    *,
    heights: Heights | None,
    currents: Currents | None = None,
    longitude: float = 0.0,
    latitude: float = 0.0,
    wind: FixedWind | None = None,
    leeway: Leeway | None = None,
) -> MapWater:
    """Sample tide, metres, and current, m/s, from `start` to `end` (UTC); NaN where unknown.

    longitude, latitude: where the current is taken, which counts for the whole map.
    wind, leeway: by default no wind, and a skiff with a V-hull.

    Examples
    --------
    >>> import numpy as np
    >>> from layers import read_heights
    >>> heights = read_heights("tide_table.csv", timezone="Etc/GMT+2")
    >>> start = np.datetime64("2031-06-14T08:00", "ns")
    >>> end = start + np.timedelta64(10, "h")
    >>> type(water_of_day(start, end, heights=heights)).__name__
    'MapWater'
    """
    count = int((end - start) / np.timedelta64(STEP_S, "s")) + 1
    times = start.astype("datetime64[ns]") + np.arange(count) * np.timedelta64(STEP_S, "s")
    east = north = None
    if currents is not None:
        place = np.full(count, longitude), np.full(count, latitude)
        east, north = (np.asarray(part, float) for part in currents.velocity(times, *place))
    return MapWater(
        start,
        None if heights is None else np.asarray(heights.height_m(times), float),
        east,
        north,
        wind or FixedWind(0.0, 0.0),
        leeway or leeway_of("skiff, V-hull"),
    )


def pack_water(water: MapWater) -> dict[str, Any]:
    """Pack for the page: seconds since 1970, metres, metres a second; unknown is None."""
    rows = (water.height_m, water.east_mps, water.north_mps)
    return {
        "start": int(water.start.astype("datetime64[s]").astype(np.int64)),
        "step": STEP_S,
        "count": max((len(row) for row in rows if row is not None), default=2),
        "height_m": _row(water.height_m, 4),
        "east_mps": _row(water.east_mps, 5),
        "north_mps": _row(water.north_mps, 5),
        "wind": [water.wind.speed_mps, water.wind.from_deg],
        "downwind_slope": water.leeway.downwind_slope,
        "downwind_offset_mps": water.leeway.downwind_offset_mps,
        "light_air_mps": LIGHT_AIR_MPS,
    }


def _row(values: Floats | None, digits: int) -> list[float | None] | None:
    if values is None:
        return None
    return [round(v, digits) if np.isfinite(v) else None for v in values.tolist()]
