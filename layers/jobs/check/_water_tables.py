"""What ``check`` finds in tables of tide heights, currents and wind, and what looks wrong there."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from layers.area import Area
from layers.jobs.check._checked import Checked, span_words
from seabed.array_types import Floats
from seabed.units import SPEED, format_quantity

if TYPE_CHECKING:
    from layers.water import HighLowTable

Fault = tuple[str, str]

WIDE_M: Final = 6.0
"""A range above this is rare, and usual for feet read as metres.  Common practice, no source."""

HALF_DAILY_H: Final = (5.5, 7.0)
"""Middle of the steps of a half-daily tide; a lunar day has four of 6.21 h."""

DAY: Final = 4
"""Turns of a lunar day."""

HOUR_OFF_H: Final = 0.7
"""And four times what others are off.  On 750 tables of two weeks, of five made tides, a turn an
hour off is seen in 42 to 99 of 100, and two tables that are right are doubted."""

OFF_H: Final = 2.0
"""A turn is off by at least so much where the step before is longer and the next shorter by it."""


def tide_faults(table: HighLowTable, timezone: str, *, unit_known: bool = True) -> list[Fault]:
    """Say what looks wrong: feet under metres, a time hours off, summer time."""
    return [
        *(_wide(table) if unit_known else ()),
        *_off(table, timezone),
        *_summer(table, timezone),
    ]


def _wide(table: HighLowTable) -> Iterator[Fault]:
    steps = np.abs(np.diff(table.heights_m))
    if steps.size and np.median(steps) > WIDE_M:
        yield (
            f"its tides of {np.median(steps):.1f} m are higher than in most of the world",
            "If its numbers are feet, name the unit in the heading: height_ft.",
        )


def _off(table: HighLowTable, timezone: str) -> Iterator[Fault]:
    hours = (table.times - table.times[0]) / np.timedelta64(1, "h")
    steps = np.diff(hours)
    if len(steps) < 4 or not HALF_DAILY_H[0] <= np.median(steps) <= HALF_DAILY_H[1]:
        return
    for row, off in sorted((_far_off(steps) | _hour_off(hours)).items()):
        shown = pd.Timestamp(table.times[row], tz="UTC").tz_convert(timezone)
        about = "an hour" if round(abs(off)) == 1 else f"{abs(off):.0f} hours"
        yield (
            f"the turn at {shown:%Y-%m-%d %H:%M} is about {about} too "
            f"{'late' if off > 0 else 'early'} for its neighbours",
            "Check for exchanged am and pm, or digits.",
        )


def _far_off(steps: Floats) -> dict[int, float]:
    """Find turns between a step that is too long and one too short; and by how much."""
    away = steps - np.median(steps)
    least = OFF_H + 3 * np.median(np.abs(away))
    return {
        row: float(np.sign(before) * min(abs(before), abs(after)))
        for row, (before, after) in enumerate(pairwise(away), 1)
        if before * after < 0 and min(abs(before), abs(after)) > least
    }


def _hour_off(hours: Floats) -> dict[int, float]:
    """Find turns off the middle of those a lunar day before and after, and by how much.

    The turns of those days are then off by half of it, the other way.
    """
    away = hours[DAY:-DAY] - (hours[: -2 * DAY] + hours[2 * DAY :]) / 2
    if not len(away):
        return {}
    least = HOUR_OFF_H + 4 * np.median(np.abs(away))
    off = {}
    for at, by in enumerate(away.tolist()):
        beside = [away[one] for one in (at - DAY, at + DAY) if 0 <= one < len(away)]
        halves = all(-0.8 < one / by < -0.25 for one in beside) if by else False
        around = np.abs(away[max(0, at - DAY) : at + DAY + 1])
        if abs(by) > least and halves and abs(by) >= around.max():
            off[at + DAY] = by
    return off


def _summer(table: HighLowTable, timezone: str) -> Iterator[Fault]:
    """Note that many tables keep standard time, where the zone has summer time in their days."""
    zone = ZoneInfo(timezone)
    first = pd.Timestamp(table.times[0], tz="UTC").tz_convert(zone)
    last = pd.Timestamp(table.times[-1], tz="UTC").tz_convert(zone)
    if table.placed or not any(moment.dst() for moment in (first, last)):
        return
    yield (
        f"its times are read with the summer time of {timezone}",
        "If the table keeps standard time all year, write 'standard time' in a line above its "
        "headings.",
    )


FEWEST_TURNS: Final = 2


def check_heights(name: str, area: Area) -> Checked:
    from layers.water import HighLowTable, read_heights

    unit = area.water.heights_unit
    heights = read_heights(
        name, timezone=area.timezone, date_order=area.date_order, unit=unit or "m"
    )
    if not isinstance(heights, HighLowTable):
        return Checked(name, "table of tide heights", {"source": type(heights).__name__})
    times = heights.times
    facts = {"rows": str(len(times)), "time span": span_words(pd.Series(times), area.timezone)}
    if len(times) < FEWEST_TURNS:
        wrong = [("so few heights do not show the water between them", "Give the whole table.")]
        return Checked(name, "table of tide heights", facts, wrong, usable=False)
    unit_open = heights.bare and not unit
    low, high = (
        f"{metres:g}" if unit_open else format_quantity(metres, area.units.depth, digits=1)
        for metres in (heights.heights_m.min(), heights.heights_m.max())
    )
    facts |= {"heights": f"{low} to {high}", "times are of": area.timezone}
    if heights.placed:
        facts["times are of"] = "the zone that the table names"
    wrong = [(note, "") for note in heights.notes]
    if unit_open:
        wrong.append(
            ("its heights have no unit, so it can't be used yet", "Set {heights_unit} to m or ft.")
        )
    wrong += tide_faults(heights, area.timezone, unit_known=not unit_open)
    return Checked(name, "table of tide heights", facts, wrong)


def no_tide() -> HighLowTable:
    """Give tide heights that are nowhere known, for currents that are only checked."""
    from layers.water import HighLowTable

    none = np.array([])
    return HighLowTable(none.astype("datetime64[ns]"), none, none.astype(bool))


def check_currents(name: str, area: Area) -> Checked:
    from layers.water import CurrentTable, read_currents
    from layers.water.currents.hourly import HourlyCurrents

    flood, unit = area.water.flood_toward_deg, area.water.currents_unit
    currents = read_currents(
        name,
        timezone=area.timezone,
        date_order=area.date_order,
        unit=unit or "kn",
        flood_toward=0.0 if flood is None else flood,
        ebb_toward=area.water.ebb_toward_deg,
        heights=no_tide(),
    )
    if isinstance(currents, HourlyCurrents):
        first, last = currents.rates[0].hours, currents.rates[-1].hours
        greatest = max(one.springs_mps for one in currents.rates)
        facts = {
            "hours from high water": f"{first:+g} to {last:+g}",
            "up to": format_quantity(greatest, area.units.speed, digits=1),
        }
        return Checked(name, "table of currents", facts)
    if not isinstance(currents, CurrentTable):
        return Checked(name, "table of currents", {"source": type(currents).__name__})
    fastest = np.abs(currents.along_mps).max(initial=0.0)
    unit_open = currents.bare and not unit
    facts = {
        "rows": str(len(currents.times)),
        "time span": span_words(pd.Series(currents.times), area.timezone),
        "up to": f"{fastest / SPEED['kn']:g}"
        if unit_open
        else format_quantity(fastest, area.units.speed, digits=1),
    }
    cure = "Set {water.flood_toward}. Name that file with {area}."
    wrong = [] if flood is not None else [("which way the flood runs is not in the file", cure)]
    if unit_open:
        wrong.append(
            (
                "its speeds have no unit, so it can't be used yet",
                "Set {currents_unit} to kn or m/s.",
            )
        )
    return Checked(name, "table of currents", facts, wrong)


def check_wind(name: str, area: Area) -> Checked:
    from layers.water.wind.wind_words import read_wind

    wind = read_wind(name, timezone=area.timezone, date_order=area.date_order)
    least, most = (
        format_quantity(mps, area.units.speed) for mps in (min(wind.speed_mps), max(wind.speed_mps))
    )
    facts = {
        "rows": str(len(wind.times)),
        "time span": span_words(pd.Series(wind.times), area.timezone),
        "speeds": f"{least} to {most}",
        "use it with": "{wind}",
    }
    return Checked(name, "table of wind", facts)
