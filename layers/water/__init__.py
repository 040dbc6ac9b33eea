"""Tide, current and wind, and which way the boat will go."""

from layers.water.currents import (
    Currents,
    CurrentTable,
    FixedCurrent,
    read_current_table,
)
from layers.water.heights import Heights, HighLowTable, read_high_low_table
from layers.water.leeway import CRAFT, Leeway, leeway_of
from layers.water.motion import boat_velocity, set_and_drift
from layers.water.sources import parse_current, read_currents, read_heights
from layers.water.stage import stage, turns
from layers.water.times import as_utc, day_bounds, to_local, zone_of
from layers.water.wind import (
    FixedWind,
    Wind,
    WindTable,
    parse_direction,
    read_wind,
    wind_by_hour,
)

__all__ = [
    "CRAFT",
    "CurrentTable",
    "Currents",
    "FixedCurrent",
    "FixedWind",
    "Heights",
    "HighLowTable",
    "Leeway",
    "Wind",
    "WindTable",
    "as_utc",
    "boat_velocity",
    "day_bounds",
    "leeway_of",
    "parse_current",
    "parse_direction",
    "read_current_table",
    "read_currents",
    "read_heights",
    "read_high_low_table",
    "read_wind",
    "set_and_drift",
    "stage",
    "to_local",
    "turns",
    "wind_by_hour",
    "zone_of",
]
