"""What light, sea and gear are like on each line of a plan, and on its day."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np

from layers.area import Area
from layers.jobs.parts.facts import (
    air_facts,
    charge_of_passes,
    launch_facts,
    light_of,
    mean_height_m,
    power_facts,
    sea_facts,
)
from layers.jobs.parts.seen import lead_facts, lead_for, seen_facts, tackle_of
from layers.jobs.plan._inputs import Hours
from layers.planning import Plan, Setting
from layers.planning.day.line import AFLOAT
from layers.present.day_words import light_words
from layers.water.boat.launch import LaunchHours
from layers.water.currents.currents import vector
from layers.water.day.moon import light_on
from layers.water.line.lead import least_lead_kg
from layers.water.sea.sea import sea_at
from layers.water.sea.waves import SEA_WORDS
from layers.water.times import as_utc, moment
from seabed.array_types import Floats
from seabed.grid import degree_bounds


def put_afloat(area: Area, plan: Plan, setting: Setting) -> None:
    """Put the columns of `AFLOAT` beside the lines of a plan."""
    lines = plan.lines
    rows = [_of_line(area, row, plan.passes, setting) for row in lines.itertuples()]
    for row, lead_kg in zip(rows, _least_leads_kg(area, lines, setting), strict=True):
        row |= {"lead_kg": float(lead_kg), "lead": lead_for(float(lead_kg), area)}
    for column in AFLOAT:
        lines[column.name] = [row[column.name] for row in rows]


def _of_line(area: Area, row: Any, passes: gpd.GeoDataFrame, setting: Setting) -> dict[str, Any]:
    longitude, latitude = (float(part.mean()) for part in np.array(row.geometry.coords).T[:2])
    times = np.arange(moment(row.slot_start), moment(row.slot_end), np.timedelta64(5, "m"))
    charge = charge_of_passes(area, passes[passes["plan_id"] == row.plan_id])
    return {
        "light": light_on(times, longitude=longitude, latitude=latitude),
        **_sea_of_line(times, (longitude, latitude), setting),
        "energy_ah": np.nan if charge is None else charge.mean_ah,
    }


def _least_leads_kg(area: Area, lines: gpd.GeoDataFrame, setting: Setting) -> Floats:
    """Give the least lead of each line, at its begin and its end, whichever asks for more."""
    if not len(lines):
        return np.empty(0)
    ends = lines[["slot_start", "slot_end"]].to_numpy().ravel()
    places = np.concatenate([np.array(line.coords)[[0, -1], :2] for line in lines.geometry])
    boat = vector(*lines[["sog_mps", "bearing_deg"]].to_numpy(float).repeat(2, axis=0).T)
    least = least_lead_kg(
        lines["depth_mean_m"].to_numpy(float).repeat(2),
        setting.water.currents.velocity(as_utc(ends), *places.T), boat,
        angle_deg=area.tackle.angle, tackle=tackle_of(area),
    )  # fmt: skip
    return np.asarray(least.reshape(-1, 2).max(axis=1), np.float64)


def _sea_of_line(times: Any, place: tuple[float, float], setting: Setting) -> dict[str, Any]:
    """Give the highest waves of a line's time, and the worst word of it."""
    water, safe = setting.water, setting.safe
    nothing = {"wave_m": np.nan, "wave_period_s": np.nan, "sea": ""}
    if water.sea is None or water.wind is None:
        return nothing
    raised = sea_at(
        safe.grid, wind=water.wind, currents=water.currents, heights=safe.heights, place=place,
        beyond_m=water.sea.beyond_m,
    ).at(times)  # fmt: skip
    words = [word for word in SEA_WORDS if (raised.words == word).any()]
    if not np.isfinite(raised.height_m).any():
        return nothing | {"sea": words[0] if words else ""}
    most = int(np.nanargmax(raised.height_m))
    return {
        "wave_m": float(raised.height_m[most]),
        "wave_period_s": float(raised.period_s[most]),
        "sea": words[0] if words else "",
    }


def facts_of_day(
    area: Area, when: Hours, setting: Setting, launch: LaunchHours | None, plan: Plan
) -> tuple[str, ...]:
    """Say what the water, the light and the sea do in the hours of a plan."""
    light = light_of(when.day, area, degree_bounds(setting.safe.grid).middle)
    return (
        *seen_facts(area, setting.water.currents),
        *power_facts(area, plan.passes, plan.runs),
        *air_facts(area, setting.water.wind, when.times),
        *lead_facts(area, mean_height_m(setting.safe.heights, when.times)),
        *sea_facts(area, setting.water.sea, when.start, when.end),
        *launch_facts(area, launch),
        *(f"{words}." for words in light_words(**light, timezone=area.timezone)),
    )
