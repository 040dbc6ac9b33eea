"""The sheet of a plan, filled from its tables."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from pyproj import Geod

from layers.area import Area
from layers.cli.plan_inputs import Hours
from layers.cli.plan_words import clock, push_words
from layers.exports.sheet import NO_HAZARDS, Sheet, SheetLine
from layers.planning import DayWater
from layers.water import Heights, turns, wind_and_water
from layers.water.times import moment
from seabed.grid import sample
from seabed.units import LENGTH, convert, format_quantity

__all__ = ["sheet_of"]

_GEOD = Geod(ellps="WGS84")


def sheet_of(
    area: Area,
    when: Hours,
    water: DayWater,
    heights: Heights | None,
    lines: gpd.GeoDataFrame,
    grid: xr.DataArray,
    *,
    timetable: pd.DataFrame | None = None,
    what_if_days: pd.DataFrame | None = None,
    hazards: gpd.GeoDataFrame | None = None,
    hazard_words: str = NO_HAZARDS,
) -> Sheet:
    """Put a plan into the words and pictures of its sheet."""
    blowing, from_deg = water.wind.at(np.array([when.start])) if water.wind else ([0.0], [0.0])
    told = [
        f"Wind {format_quantity(float(blowing[0]), area.units.speed)} "
        f"from {float(from_deg[0]):03.0f}° at the start."
    ]
    if heights is not None:
        told += [
            f"{'High' if row.high else 'Low'} water {clock(row.time, area)}, "
            f"{format_quantity(row.height_m, area.units.depth, digits=1)}."
            for row in turns(heights, when.start, when.end).itertuples()
        ]
    rows = [_line(area, water, heights, row, grid) for row in lines.itertuples()]
    title = f"{area.name or 'Drift plan'}, {when.day:%A} {when.day}"
    return Sheet(
        title, " ".join(told), area.units.depth, rows,
        what_if=[] if what_if_days is None
        else list(zip(what_if_days["scenario"], what_if_days["words"], strict=True)),
        hazard_words=hazard_words,
    )  # fmt: skip


def _line(
    area: Area, water: DayWater, heights: Heights | None, row: Any, grid: xr.DataArray
) -> SheetLine:
    units = area.units
    longitude, latitude = np.array(row.geometry.coords).T
    begin = moment(row.slot_start)
    tide = 0.0 if heights is None else float(heights.height_m(np.array([begin]))[0])
    gone = np.concatenate([[0.0], np.cumsum(_GEOD.line_lengths(longitude, latitude))])
    depth = (sample(grid, longitude, latitude) + tide) / LENGTH[units.depth]
    wind = ""
    if water.wind is not None:
        wind = wind_and_water(row.bearing_deg, float(water.wind.at(np.array([begin]))[1][0]))
    push = push_words(row, units.speed)
    if push != "none":
        push = f"{push.replace(' to ', f' {units.speed} toward ')}°. "
    return SheetLine(
        name=row.plan_id,
        when=f"{clock(row.slot_start, area)} to {clock(row.slot_end, area)}",
        start=(longitude[0], latitude[0]),
        end=(longitude[-1], latitude[-1]),
        facts=[
            f"Toward {row.bearing_deg:03.0f}° true, "
            f"{format_quantity(row.distance_m, units.distance, digits=2)}",
            f"{row.drift_s / 60:.0f} min at "
            f"{format_quantity(row.sog_mps, units.speed, digits=1)}; "
            f"{row.passes} pass{'' if row.passes == 1 else 'es'}",
            f"Water {convert(row.depth_min_m, units.depth):.0f} to "
            f"{format_quantity(row.depth_max_m, units.depth)}",
            f"{push if push != 'none' else ''}{row.trim}",
            wind or "No wind",
            f"In the band {row.fan_in_band:.0%}, with doubt about water and wind",
        ],
        profile=[(float(a), float(b)) for a, b in zip(gone, depth, strict=True) if np.isfinite(b)],
        latest=clock(row.latest_start, area),
    )
