"""What ``check`` finds out about tables of tide heights, currents and wind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from layers.area import Area
from layers.jobs.check._checked import Checked, span_words
from seabed.units import SPEED, format_quantity

if TYPE_CHECKING:
    from layers.water import HighLowTable

FEWEST_TURNS: Final = 2


def check_heights(name: str, area: Area) -> Checked:
    from layers.jobs.check._tide_faults import tide_faults
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
    """Give tide heights that know nothing, for currents that are only looked at."""
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
