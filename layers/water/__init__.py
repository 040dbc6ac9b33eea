"""Tide, current and wind, and which way the boat will go.

Stations and their harmonic prediction (`stations`), S-104/S-111 (`currents.s100`), learning a
current (`learned.learning`) are imported from their own modules: their libraries take up to half a
second to load, and most commands do without.
"""

from layers.water._motion import Trim, boat_velocity, set_and_drift, trim, wind_and_water
from layers.water._sources import needs_tide, parse_current, read_currents, read_heights
from layers.water.currents._events import EVENTS, current_events
from layers.water.currents.currents import Currents, CurrentTable, FixedCurrent, read_current_table
from layers.water.day._day_of_water import (
    DAY,
    WINDOWS,
    DriftTarget,
    day_of_water,
    day_windows,
    rows_every,
)
from layers.water.day._moon import MoonTimes, moon_times
from layers.water.day._sun import SunTimes, sun_times
from layers.water.day.limits import LEFT_OUT, BoatLimits, OpenHours, Span, open_spans
from layers.water.heights._heights import Heights, HighLowTable, read_high_low_table
from layers.water.heights._stage import TURNS, stage, turns
from layers.water.learned._drift_motions import MOTIONS, drift_motions
from layers.water.learned._learned_file import write_learned
from layers.water.learned.learned import LearnedCurrent
from layers.water.times import as_utc, day_bounds, to_local, zone_of
from layers.water.wind._wind import FixedWind, Wind, WindTable
from layers.water.wind._wind_words import (
    parse_direction,
    parse_wind,
    read_wind,
    wind_by_hour,
    wind_notes,
)
from layers.water.wind.leeway import CRAFT, Leeway, leeway_of

__all__ = [
    "CRAFT",
    "DAY",
    "EVENTS",
    "LEFT_OUT",
    "MOTIONS",
    "TURNS",
    "WINDOWS",
    "BoatLimits",
    "CurrentTable",
    "Currents",
    "DriftTarget",
    "FixedCurrent",
    "FixedWind",
    "Heights",
    "HighLowTable",
    "LearnedCurrent",
    "Leeway",
    "MoonTimes",
    "OpenHours",
    "Span",
    "SunTimes",
    "Trim",
    "Wind",
    "WindTable",
    "as_utc",
    "boat_velocity",
    "current_events",
    "day_bounds",
    "day_of_water",
    "day_windows",
    "drift_motions",
    "leeway_of",
    "moon_times",
    "needs_tide",
    "open_spans",
    "parse_current",
    "parse_direction",
    "parse_wind",
    "read_current_table",
    "read_currents",
    "read_heights",
    "read_high_low_table",
    "read_wind",
    "rows_every",
    "set_and_drift",
    "stage",
    "sun_times",
    "to_local",
    "trim",
    "turns",
    "wind_and_water",
    "wind_by_hour",
    "wind_notes",
    "write_learned",
    "zone_of",
]
