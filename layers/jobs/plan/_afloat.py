"""What light, sea and gear are like on each line of a plan, and on its day."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import geopandas as gpd
import numpy as np

from layers.area import Area
from layers.jobs.parts.facts import light_of
from layers.jobs.plan._inputs import Hours
from layers.planning import Setting
from layers.present import light_words
from layers.water.day.afloat import AFLOAT, light_on
from layers.water.times import moment
from seabed.grid import degree_bounds


def put_afloat(lines: gpd.GeoDataFrame) -> None:
    """Put the columns of `AFLOAT` beside the lines of a plan."""
    rows = [_of_line(row) for row in lines.itertuples()]
    for column in AFLOAT:
        lines[column.name] = [row[column.name] for row in rows]


def _of_line(row: Any) -> dict[str, Any]:
    longitude, latitude = np.array(row.geometry.coords).T[:2]
    times = np.arange(moment(row.slot_start), moment(row.slot_end), np.timedelta64(5, "m"))
    return {
        "light": light_on(times, longitude=float(longitude.mean()), latitude=float(latitude.mean()))
    }


def facts_of_day(area: Area, when: Hours, setting: Setting) -> tuple[str, ...]:
    """Say what the water, the light and the sea do on a day."""
    light = light_of(when.day, area, degree_bounds(setting.safe.grid).middle)
    return tuple(f"{words}." for words in light_words(**light, timezone=area.timezone))


def afloat_words(row: Any, area: Area) -> str:
    """Say in a line what a line of a plan has of light, sea and gear; ``""`` for nothing."""
    units = asdict(area.units)
    return "; ".join(filter(None, [AFLOAT.words(row, "light", units)]))
