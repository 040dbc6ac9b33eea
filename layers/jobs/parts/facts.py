"""What water, light, sea and motor do on a day, in sentences for screen, sheet, map and desk."""

from __future__ import annotations

from dataclasses import astuple, replace
from datetime import date
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.area import Area
from layers.jobs.parts.settings import reading_of
from layers.jobs.parts.words import clock, short_unit
from layers.water import Currents, Heights, Wind
from layers.water.boat.energy import Charge, charge_of, motor_curve
from layers.water.boat.launch import LOW, ONSHORE, LaunchHours, LaunchNeeds, launch_hours
from layers.water.day.moon import moon_times
from layers.water.day.sun import sun_times
from layers.water.heights.derived import METRES_A_HPA, USUAL_HPA
from layers.water.sea.sea import Sea, likely_heights, place_in_band, sea_at
from layers.water.sea.waves import BREAKING, LEAST_SEA_M, SHORT
from layers.water.wind.log_law import AT_BOAT_M, wind_at
from seabed.errors import AreaError, SeabedError, WaterError
from seabed.grid import Bounds
from seabed.loaders import describe, open_surface
from seabed.units import LENGTH, format_quantity, rounded

Place = tuple[float | None, float | None]
"""Longitude and latitude, degrees; None where they are not known."""


def place_of(area: Area) -> Place:
    """Middle of the area's first grid."""
    files = [file for file in area.grid.files if Path(file).is_file()]
    bounds = describe(files[0]).bounds if files else None
    if bounds is None:
        return None, None
    return (bounds.west + bounds.east) / 2, (bounds.south + bounds.north) / 2


def light_of(when: date, area: Area, place: Place) -> dict[str, Any]:
    """Give the sun and the moon of a day at a place, by name; None where no place is known."""
    longitude, latitude = place
    if longitude is None or latitude is None:
        return {"sun": None, "moon": None}
    at = {"longitude": longitude, "latitude": latitude}
    return {
        "sun": sun_times(when, area.timezone, **at),
        "moon": moon_times(when, area.timezone, **at),
    }


def mean_height_m(heights: Heights | None, times: Any) -> float:
    """Give the mean height of the tide over times; 0 where none is known."""
    if heights is None or not len(times):
        return 0.0
    height = np.asarray(heights.height_m(times), float)
    return float(np.nanmean(height)) if np.isfinite(height).any() else 0.0


TEN_MINUTES: Final = np.timedelta64(600, "s")
MOST_CELLS: Final = 4_000_000
"""A larger grid is read only around its middle, for the waves."""


def grid_for_sea(area: Area) -> xr.DataArray | None:
    """Read the area's depths for the fetch, of a large grid those around its middle; or None."""
    try:
        about = describe(area.grid.files[0])
        cells = about.rows * about.columns
        if cells <= MOST_CELLS or about.bounds is None or area.grid.box is not None:
            return _depths(area)
        share = (MOST_CELLS / cells) ** 0.5 / 2
        (x, y), box = about.bounds.middle, about.bounds
        wide, high = (box.east - box.west) * share, (box.north - box.south) * share
        part = Bounds(x - wide, y - high, x + wide, y + high)
        return _depths(replace(area, grid=replace(area.grid, box=astuple(part))))
    except (SeabedError, IndexError):
        return None


def _depths(area: Area) -> xr.DataArray:
    return open_surface(list(area.grid.files), **reading_of(area), with_uncertainty=False).depth


def sea_of(
    area: Area,
    grid: xr.DataArray | None,
    *,
    wind: Wind | None,
    currents: Currents | None,
    heights: Heights | None,
) -> Sea | None:
    """Look at the sea over the ground that is fished; None without a grid, water or wind."""
    place = None if grid is None or wind is None else place_in_band(grid, area.depths.sought_m)
    if grid is None or wind is None or place is None:
        return None
    return sea_at(
        grid, wind=wind, currents=currents, heights=heights, place=place,
        beyond_m=area.water.open_fetch_m,
    )  # fmt: skip


def sea_facts(area: Area, sea: Sea | None, start: Any, end: Any) -> list[str]:
    """Say how high the waves are from one UTC time to another, the worst first."""
    if sea is None:
        return []
    times, raised, height = _raised(sea, start, end)
    if not np.isfinite(height).any():
        calm = set(raised.words) <= {"", "ripples"}
        return [] if calm else ["Waves: more wind than their formula knows, so no height is given."]
    most = int(np.nanargmax(height))
    low, high = (
        rounded(metres / LENGTH[short_unit(area)], 1) for metres in likely_heights(height[most])
    )
    highest = format_quantity(height[most], short_unit(area), digits=1)
    when = f"{raised.period_s[most]:.1f} s at {clock(times[most], area)}"
    words = f"{highest} ({low} to {high}), {when}"
    if not sea.reaches_out(times).any():
        return [f"Waves up to {words}."]
    none = highest.startswith("0.0 ")
    begin = "Waves are not known" if none else f"Waves may be higher than {words}"
    return [
        f"{begin}: to windward the grid ends, or is blank, over water. Say how far it goes on with "
        "{water.open_fetch}."
    ]


def sea_dangers(area: Area, sea: Sea | None, start: Any, end: Any) -> list[str]:
    """Say from when to when the sea breaks, or is short and steep, the worst first."""
    if sea is None:
        return []
    times, raised, height = _raised(sea, start, end)
    sentences = []
    for kind in (BREAKING, SHORT):
        at = np.flatnonzero((raised.words == kind) & (height >= LEAST_SEA_M))
        for run in np.split(at, np.flatnonzero(np.diff(at) > 1) + 1) if at.size else ():
            high = format_quantity(float(height[run].max()), short_unit(area), digits=1)
            span = f"{clock(times[run[0]], area)} to {clock(times[run[-1]], area)}"
            sentences.append(f"{span}: {kind} waves of up to {high}.")
    return sentences


def _raised(sea: Sea, start: Any, end: Any) -> tuple[Any, Any, Any]:
    """Give times ten minutes apart, the waves of them, and the greater of their two heights."""
    times = np.arange(start, end + TEN_MINUTES, TEN_MINUTES)
    raised = sea.at(times)
    return times, raised, np.fmax(raised.height_m, raised.still_m)


def air_facts(area: Area, wind: Wind | None, times: Any) -> list[str]:
    """Say what a wind at 10 m is at the boat, and what the pressure does to the water."""
    sentences = []
    speed = 0.0 if wind is None else float(np.nanmax(np.append(wind.at(times)[0], 0.0)))
    below = float(wind_at(AT_BOAT_M, speed))
    if speed > 0 and np.isfinite(below):
        there, high = (format_quantity(one, area.units.speed, digits=0) for one in (below, speed))
        sentences.append(f"A wind of {high} at 10 m, as forecasts give it, is {there} at the boat.")
    if area.water.pressure_hpa is not None:
        shift = METRES_A_HPA * (USUAL_HPA - area.water.pressure_hpa)
        amount = format_quantity(abs(shift), short_unit(area), digits=1)
        sentences.append(
            f"The air at {area.water.pressure_hpa:.0f} hPa {'lifts' if shift > 0 else 'lowers'} "
            f"the water by {amount}."
        )
    return sentences


def launch_of(
    area: Area, start: Any, end: Any, *, heights: Heights | None, wind: Wind | None
) -> LaunchHours | None:
    """Find when the area's launch can be used; None where it asks for nothing."""
    needs = LaunchNeeds(
        area.plan.launch_least_height_m, area.plan.launch_faces_deg, area.boat.onshore_limit_mps
    )
    return launch_hours(start, end, needs, heights=heights, wind=wind) if needs.any else None


def launch_facts(area: Area, hours: LaunchHours | None) -> list[str]:
    """Say when the launch can be used, and what shuts it between."""
    if hours is None:
        return []
    least = area.plan.launch_least_height_m
    need = "" if least is None else format_quantity(least, short_unit(area), digits=1)
    words = {LOW: f"less than its {need} of tide", ONSHORE: "too much wind onto the shore"}
    why = "; ".join(
        f"{words.get(one, one)} {_spans(hours.spans_of(one), area)}"
        for one in dict.fromkeys(hours.why)
        if one
    )
    open_words = _spans(hours.spans, area) or "at no time"
    return [f"The launch can be used {open_words}{f' ({why})' if why else ''}."]


def _spans(spans: Any, area: Area) -> str:
    return " and ".join(f"from {clock(a, area)} to {clock(b, area, last=True)}" for a, b in spans)


def charge_of_passes(area: Area, passes: gpd.GeoDataFrame) -> Charge | None:
    """Add up what the motor takes on passes; None without a reading of it."""
    if not area.boat.motor_readings:
        return None
    try:
        curve = motor_curve(area.boat.motor_readings)
    except WaterError as error:
        raise AreaError(
            error.what, file=area.file, where="[boat] motor_readings", do=error.do
        ) from error
    half = passes["drift_s"].to_numpy(float) / 2
    push = passes[["push_mps", "push_end_mps"]].to_numpy(float)
    return charge_of(curve, push.ravel(), np.repeat(half, 2))


def power_facts(area: Area, passes: gpd.GeoDataFrame, runs: gpd.GeoDataFrame) -> list[str]:
    """Say what a plan takes of battery and fuel; nothing of what the area does not know."""
    sentences = []
    charge = charge_of_passes(area, passes)
    if charge is not None and len(passes):
        sentences.append(f"{_charge_words(charge, area)}.")
    litres = area.boat.fuel_litres_an_hour
    if litres is not None and len(runs):
        hours = float((runs["end"] - runs["start"]).dt.total_seconds().sum()) / 3600
        sentences.append(f"Its runs take {litres * hours:.1f} litres of fuel, in calm water.")
    return sentences


def power_danger(area: Area, passes: gpd.GeoDataFrame) -> str:
    """Say that the battery may not last; ``""`` where it does, or that is not known."""
    charge, holds = charge_of_passes(area, passes), area.boat.battery_ah
    if charge is None or holds is None or not charge.high_ah > holds:
        return ""
    return f"The battery may not last. {_charge_words(charge, area)}."


def _charge_words(charge: Charge, area: Area) -> str:
    if np.isnan(charge.mean_ah):
        return "The use of the battery is not known: the plan pushes beyond your readings"
    holds: Any = area.boat.battery_ah
    words = f"This plan takes {charge.low_ah:.0f}-{charge.high_ah:.0f} Ah of the battery"
    return words if holds is None else f"{words}; yours has {holds:.0f}"
