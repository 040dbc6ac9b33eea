"""What ``plan`` computes and writes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from pyproj import Geod

from layers.area import Area
from layers.cli.progress import Step
from layers.cli.scouting import find_structure, open_area_grid
from layers.cli.settings import currents_of, day_of, heights_of, wind_of
from layers.exports import write_geopackage, write_marks, write_table_csv
from layers.exports.sheet import Sheet, SheetLine, write_sheet
from layers.planning import (
    DayWater,
    DriftLimits,
    SafeWater,
    Setting,
    Structure,
    plan_day,
    structure_worth,
)
from layers.water import (
    day_bounds,
    leeway_of,
    to_local,
    turns,
    wind_and_water,
    zone_of,
)
from seabed.errors import WaterError
from seabed.grid import metric_crs, sample
from seabed.units import LENGTH, convert, format_quantity

__all__ = ["PLAN_STEPS", "Hours", "hours_of", "plan_files", "plan_rows", "water_of", "work_out"]

PLAN_STEPS: Final = 8
_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True)
class Hours:
    """When to fish, UTC."""

    day: date
    start: np.datetime64
    end: np.datetime64


def hours_of(area: Area, day: str, begin: str, end: str) -> Hours:
    """Read the day and its clock times in the area's zone.

    Raises
    ------
    WaterError
        If one can't be read, or the end is not after the begin.
    """
    when = day_of(day, area.timezone)
    first, last = _clock(area, when, begin, "--from"), _clock(area, when, end, "--to")
    if last <= first:
        raise WaterError(
            f"{end} is not after {begin}", where="--to", do="Give a later time, up to 24:00."
        )
    return Hours(when, first, last)


def water_of(
    area: Area,
    when: Hours,
    wind: list[str] | None,
    *,
    held_mps: tuple[float, float] | None,
) -> DayWater:
    """Gather what moves on the day; `held_mps` as in `DayWater`.

    Raises
    ------
    WaterError
        If the area names no currents, or the wind can't be read.
    """
    currents = currents_of(area)
    if currents is None:
        raise WaterError(
            "no current is named, so no drift can be planned",
            file=area.file,
            do="Name a table of slacks, floods and ebbs under [water] currents in the area file.",
        )
    midnight = day_bounds(when.day, area.timezone)[0]
    return DayWater(
        currents,
        leeway_of(area.boat.craft),
        wind_of(area, wind, midnight),
        held_mps=held_mps,
        motor_limit_mps=area.boat.motor_limit_mps,
    )


def work_out(
    out: Path,
    area: Area,
    when: Hours,
    water: DayWater,
    grids: Sequence[str | Path],
    step: Step = lambda doing: None,
) -> tuple[gpd.GeoDataFrame, dict[str, Path]]:
    """Plan the day and write sheet, marks and table into a folder."""
    step("reading depths")
    grid = open_area_grid(area, grids)
    _check_known(water, when, grid)
    structure = find_structure(grid, area, step)
    step("trying drifts")
    worth = structure_worth(grid, area.depths.band_m, [structure.edges, structure.features])
    safe = SafeWater.of(grid, heights_of(area))
    setting = Setting(
        safe, water, area.depths.band_m, DriftLimits(running_mps=area.boat.running_speed_mps)
    )
    lines = plan_day(
        setting,
        worth,
        when.start,
        when.end,
        structure=Structure([structure.edges, structure.features], metric_crs(grid)),
    )
    step("writing sheet and marks")
    files = plan_files(out)
    write_table_csv(files["plan"], lines)
    write_geopackage(files["layers"], {"plan": lines})
    write_marks(
        files["marks"],
        lines.rename(columns={"plan_id": "line"}),
        name_length=area.marks.name_length,
        depth_unit=area.units.depth,
        title=f"{area.name} {when.day}".strip(),
    )
    write_sheet(files["sheet"], _sheet(area, when, water, lines, grid))
    return lines, files


def plan_files(out: Path) -> dict[str, Path]:
    """Files that `work_out` makes in a folder, by name."""
    return {name: out / file for name, file in _FILES.items()}


def plan_rows(lines: gpd.GeoDataFrame, area: Area) -> tuple[list[str], list[list[str]]]:
    """Headers and rows of the plan on screen, in the area's units and zone."""
    depth, speed = area.units.depth, area.units.speed
    headers = [
        "line", "from", "min", "passes", "toward", speed, f"water {depth}", "in band", "fan",
        "push", "worth",
    ]  # fmt: skip
    rows = [
        [
            row.plan_id,
            f"{to_local(row.slot_start, area.timezone)[0]:%H:%M}",
            f"{row.drift_s / 60:.0f}",
            str(row.passes),
            f"{row.bearing_deg:03.0f}",
            f"{convert(row.sog_mps, speed):.1f}",
            f"{convert(row.depth_min_m, depth):.0f}-{convert(row.depth_max_m, depth):.0f}",
            f"{row.share_in_band:.0%}",
            f"{row.fan_in_band:.0%}",
            _push(row, speed),
            f"{row.worth:.2f}",
        ]
        for row in lines.itertuples()
    ]
    return headers, rows


def _check_known(water: DayWater, when: Hours, grid: xr.DataArray) -> None:
    """Refuse hours in which the current is nowhere known in the middle of the grid."""
    west, south, east, north = grid.rio.transform_bounds("EPSG:4326")
    times = when.start + np.arange(0, (when.end - when.start), np.timedelta64(10, "m"))
    place = np.full(len(times), (west + east) / 2), np.full(len(times), (south + north) / 2)
    if np.isnan(water.currents.velocity(times, *place)[0]).all():
        raise WaterError(
            f"the current is not known through {when.day}",
            do="Name a source under [water] currents that covers the day, or give another --date.",
        )


_FILES: Final = {
    "sheet": "sheet.html",
    "marks": "plan.gpx",
    "plan": "plan.csv",
    "layers": "plan.gpkg",
}


def _clock(area: Area, day: date, word: str, option: str) -> np.datetime64:
    try:
        hours, minutes = (int(part) for part in word.split(":"))
    except ValueError:
        hours = minutes = -1
    if not (0 <= hours <= 24 and 0 <= minutes < 60 and hours * 60 + minutes <= 1440):
        raise WaterError(f"can't read the time {word!r}", where=option, do="Write it like 7:30.")
    if hours == 24:
        return day_bounds(day, area.timezone)[1]
    local = pd.Timestamp(datetime(day.year, day.month, day.day, hours, minutes))
    zoned = local.tz_localize(zone_of(area.timezone), nonexistent="shift_forward", ambiguous=True)
    return np.datetime64(zoned.tz_convert("UTC").tz_localize(None), "ns")


def _push(row: Any, speed_unit: str) -> str:
    if not row.push_mps > 0.01:
        return "none"
    return f"{convert(row.push_mps, speed_unit):.1f} to {row.push_deg:03.0f}"


def _sheet(
    area: Area, when: Hours, water: DayWater, lines: gpd.GeoDataFrame, grid: xr.DataArray
) -> Sheet:
    heights = heights_of(area)
    blowing, from_deg = water.wind.at(np.array([when.start])) if water.wind else ([0.0], [0.0])
    told = [
        f"Wind {format_quantity(float(blowing[0]), area.units.speed)} "
        f"from {float(from_deg[0]):03.0f}° at the start."
    ]
    if heights is not None:
        extremes = turns(heights, when.start, when.end)
        told += [
            f"{'High' if row.high else 'Low'} water "
            f"{to_local(row.time, area.timezone)[0]:%H:%M}, "
            f"{format_quantity(row.height_m, area.units.depth, digits=1)}."
            for row in extremes.itertuples()
        ]
    rows = [_sheet_line(area, water, heights, row, grid) for row in lines.itertuples()]
    title = f"{area.name or 'Drift plan'}, {when.day:%A} {when.day}"
    return Sheet(title, " ".join(told), area.units.depth, rows)


def _sheet_line(
    area: Area, water: DayWater, heights: Any, row: Any, grid: xr.DataArray
) -> SheetLine:
    units = area.units
    longitude, latitude = np.array(row.geometry.coords).T
    begin = np.datetime64(row.slot_start.tz_convert("UTC").tz_localize(None), "ns")
    tide = 0.0 if heights is None else float(heights.height_m(np.array([begin]))[0])
    gone = np.concatenate([[0.0], np.cumsum(_GEOD.line_lengths(longitude, latitude))])
    depth = (sample(grid, longitude, latitude) + tide) / LENGTH[units.depth]
    set_deg = row.bearing_deg
    wind = ""
    if water.wind is not None:
        wind = wind_and_water(set_deg, float(water.wind.at(np.array([begin]))[1][0]))
    hours = [f"{to_local(at, area.timezone)[0]:%H:%M}" for at in (row.slot_start, row.slot_end)]
    push = _push(row, units.speed)
    if push != "none":
        push = f"{push.replace(' to ', f' {units.speed} toward ')}°"
    return SheetLine(
        name=row.plan_id,
        when=" to ".join(hours),
        start=(longitude[0], latitude[0]),
        end=(longitude[-1], latitude[-1]),
        facts=[
            ("Toward", f"{row.bearing_deg:03.0f}° true, "
             f"{format_quantity(row.distance_m, units.distance, digits=2)}"),
            ("Each pass", f"{row.drift_s / 60:.0f} min at "
             f"{format_quantity(row.sog_mps, units.speed, digits=1)}; "
             f"{row.passes} pass{'' if row.passes == 1 else 'es'}"),
            ("Water", f"{convert(row.depth_min_m, units.depth):.0f} to "
             f"{format_quantity(row.depth_max_m, units.depth)}"),
            ("Motor", push),
            ("Wind", wind or "none"),
            ("In the band", f"{row.fan_in_band:.0%}, with doubt about water and wind"),
        ],
        profile=[
            (float(a), float(b)) for a, b in zip(gone, depth, strict=True) if np.isfinite(b)
        ],
    )  # fmt: skip
