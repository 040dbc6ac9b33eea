"""What light, sea and gear are like on each line of a plan, and on its day."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np

from layers.area import Area
from layers.jobs.parts.facts import launch_facts, light_of, sea_facts
from layers.jobs.parts.limits import wave_unit
from layers.jobs.plan._inputs import Hours
from layers.planning import Setting
from layers.present import light_words
from layers.water.boat.launch import LaunchHours
from layers.water.day.afloat import AFLOAT, light_on
from layers.water.sea.sea import sea_at
from layers.water.sea.waves import SEA_WORDS
from layers.water.times import moment
from seabed.grid import degree_bounds
from seabed.units import format_quantity


def put_afloat(lines: gpd.GeoDataFrame, setting: Setting) -> None:
    """Put the columns of `AFLOAT` beside the lines of a plan."""
    rows = [_of_line(row, setting) for row in lines.itertuples()]
    for column in AFLOAT:
        lines[column.name] = [row[column.name] for row in rows]


def _of_line(row: Any, setting: Setting) -> dict[str, Any]:
    longitude, latitude = (float(part.mean()) for part in np.array(row.geometry.coords).T[:2])
    times = np.arange(moment(row.slot_start), moment(row.slot_end), np.timedelta64(5, "m"))
    return {
        "light": light_on(times, longitude=longitude, latitude=latitude),
        **_sea_of_line(times, (longitude, latitude), setting),
    }


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
    area: Area, when: Hours, setting: Setting, launch: LaunchHours | None
) -> tuple[str, ...]:
    """Say what the water, the light and the sea do in the hours of a plan."""
    light = light_of(when.day, area, degree_bounds(setting.safe.grid).middle)
    return (
        *sea_facts(area, setting.water.sea, when.start, when.end),
        *launch_facts(area, launch),
        *(f"{words}." for words in light_words(**light, timezone=area.timezone)),
    )


def afloat_words(row: Any, area: Area) -> str:
    """Say in a line what a line of a plan has of light, sea and gear; ``""`` for nothing."""
    parts = [row.light]
    if row.wave_m > 0:
        waves = f"waves {format_quantity(row.wave_m, wave_unit(area), digits=1)}"
        parts.append(" ".join(filter(None, [f"{waves}, {row.wave_period_s:.1f} s", row.sea])))
    elif row.sea:
        parts.append(f"waves {row.sea}")
    return "; ".join(filter(None, parts))
