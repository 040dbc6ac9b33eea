"""The water, wind and limits that an area names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import pandas as pd

from layers.area import Area
from layers.water import (
    BoatLimits,
    Currents,
    FixedWind,
    Heights,
    LearnedCurrent,
    Wind,
    WindTable,
    parse_wind,
    read_currents,
    read_heights,
)
from layers.water.heights.derived import PressedHeights
from layers.water.sources import needs_tide
from seabed.errors import AreaError, WaterError
from seabed.tables.spreadsheets import is_table_name

WAYS_TO_A_CURRENT: Final = (
    "Give {water.currents}, one of: a table of slacks, floods and ebbs, "
    '"current_table.csv"; a fixed set and drift, "0.8 kn toward 40"; hours from '
    'high water, "HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, HW+1 0.4 kn toward 160, HW+4 0.9 '
    'kn toward 160", which take tide heights; or a current learned from your own drifts, '
    '"current/learned_current.json", by {seabed learn}.'
)
"""Every way to name a current, each with an example."""


def heights_of(
    area: Area, place: tuple[float | None, float | None] = (None, None)
) -> Heights | None:
    """Read the area's tide heights at a place; None if it names none."""
    if area.water.heights is None:
        return None
    heights = read_heights(
        area.water.heights,
        timezone=area.timezone,
        date_order=area.date_order,
        unit=area.water.heights_unit,
        longitude=place[0],
        latitude=place[1],
    )
    return pressed(area, heights)


def pressed(area: Area, heights: Heights) -> Heights:
    """Move heights by the pressure of the air, where the area names one."""
    hpa = area.water.pressure_hpa
    return heights if hpa is None else PressedHeights(heights, hpa)


def currents_of(area: Area, heights: Heights | None = None) -> Currents | None:
    """Read the area's currents, tied to `heights` or its own tide; None if it names none."""
    path = area.water.currents
    if path is None:
        return None
    if heights is None and needs_tide(path):
        heights = heights_of(area)
    heights = getattr(heights, "tide", heights)  # a learned current is tied to the tide alone
    currents = _read_currents(area, path, heights)
    return _filled(area, currents)


def _read_currents(area: Area, path: Path | str, heights: Heights | None) -> Currents:
    return read_currents(
        path,
        timezone=area.timezone,
        date_order=area.date_order,
        unit=area.water.currents_unit,
        flood_toward=area.water.flood_toward_deg,
        ebb_toward=area.water.ebb_toward_deg,
        heights=heights,
    )


def station_currents_of(area: Area) -> Currents | None:
    """Read the currents of the area's station, to compare a learned one with; None for none."""
    path = area.water.station_currents
    return None if path is None else _read_currents(area, path, None)


def _filled(area: Area, currents: Currents) -> Currents:
    """Fill the stages that a learned current has not seen by its station, where that is named."""
    from layers.water.learned.against_table import FilledCurrent, against_table

    table = station_currents_of(area) if isinstance(currents, LearnedCurrent) else None
    if table is None or not isinstance(currents, LearnedCurrent):
        return currents
    against = against_table(currents, table)
    return currents if against is None else FilledCurrent(currents, table, against)


def wind_of(area: Area, words: Sequence[str] | None, day_start: Any = None) -> Wind:
    """Read the wind of a request; the area's own if it has none.

    words: ``"SW 8 kn"``, ``"SW 12 gusting 20 kn"``; by hour, ``"6:00 SW 8 kn"`` each; or the name
        of a CSV file.
    day_start: the midnight from which hours count; without it WaterError for a wind by the hour.
    """
    if not words:
        return _to_10_m(_own_wind(area), area)
    wind = parse_wind(
        list(words), day_start, timezone=area.timezone, default_unit=area.units.speed,
        date_order=area.date_order,
    )  # fmt: skip
    return wind if is_table_name(words[0].strip()) else _to_10_m(wind, area)


def _to_10_m(wind: Wind, area: Area) -> Wind:
    """Bring a typed wind from the height of its meter to 10 m, which leeway and waves ask for."""
    from layers.water.wind.log_law import at_10_m

    height = area.wind.measured_at_m
    if height == 10.0 or not isinstance(wind, FixedWind | WindTable):
        return wind
    gust = None if wind.gust_mps is None else at_10_m(height, wind.gust_mps)
    if isinstance(wind, FixedWind):
        speed = float(at_10_m(height, wind.speed_mps))
        return replace(
            wind, speed_mps=speed, gust_mps=float("nan") if gust is None else float(gust)
        )
    return replace(wind, speed_mps=at_10_m(height, wind.speed_mps), gust_mps=gust)


def _own_wind(area: Area) -> Wind:
    wind = area.wind
    if wind.gust_mps is None:
        return FixedWind(wind.speed_mps, wind.from_deg)
    if wind.gust_mps < wind.speed_mps:
        raise AreaError(
            "the gusts are below the mean wind",
            file=area.file,
            where="[wind] gust",
            do="Give gusts of the wind's speed or more, or leave the key out.",
        )
    return FixedWind(wind.speed_mps, wind.from_deg, wind.gust_mps)


def ends_inside(
    area: Area, heights: Heights | None, currents: Currents | None, start: Any, end: Any
) -> tuple[str, ...]:
    """Name tables of water that begin or end within these hours; WaterError for one with none."""
    warnings = []
    for what, source, path in (
        ("tide heights", heights, area.water.heights), ("currents", currents, area.water.currents),
    ):  # fmt: skip
        times = getattr(source, "times", None)
        if times is None or not len(times):
            continue
        first, last = (
            f"{pd.Timestamp(time, tz='UTC').tz_convert(area.timezone):%Y-%m-%d %H:%M}"
            for time in (times[0], times[-1])
        )
        words = f"table of {what} runs from {first} to {last}"
        if times[-1] < start or times[0] > end:
            raise WaterError(f"the {words}", file=path, do="Change {date}, or name another table.")
        if times[-1] < end or times[0] > start:
            warnings.append(f"The {words}; outside of that it is unknown.")
    return tuple(warnings)


def tables_hold(area: Area, start: Any, end: Any) -> None:
    """Raise WaterError, before any work, for a table of water that holds none of the hours."""
    heights, currents = area.water.heights, area.water.currents
    ends_inside(
        area,
        heights_of(area) if heights is not None and is_table_name(heights) else None,
        currents_of(area) if currents is not None and is_table_name(currents) else None,
        start,
        end,
    )


def boat_limits(area: Area) -> BoatLimits:
    """Give what the area's boat may be out in."""
    boat = area.boat
    return BoatLimits(
        boat.wind_limit_mps, boat.gust_limit_mps, boat.current_limit_mps, boat.darkness_limit,
        boat.wave_limit_m,
    )  # fmt: skip


def calm_words(area: Area, words: Sequence[str] | None) -> str:
    """Say what wind is assumed: a calm if none is named, the middle of a range; else ``""``."""
    if words:
        from layers.water.wind.wind_words import wind_notes

        return " ".join(wind_notes(words))
    if area.wind.speed_mps > 0:
        return ""
    return "No wind is given, so a calm is assumed. Give {wind}, or the usual one: {wind.speed}."
