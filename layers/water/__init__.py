"""Tide, current and wind, and which way the boat will go.

Stations and their harmonic prediction (`stations`), S-104/S-111 (`currents.s100`), learning a
current (`learned.learning`) are imported from their own modules: their libraries take up to half a
second to load, and most commands do without.
"""

from layers.water._motion import Trim as Trim
from layers.water._motion import boat_velocity as boat_velocity
from layers.water._motion import set_and_drift as set_and_drift
from layers.water._motion import trim as trim
from layers.water._motion import wind_and_water as wind_and_water
from layers.water._sources import needs_tide as needs_tide
from layers.water._sources import parse_current as parse_current
from layers.water._sources import read_currents as read_currents
from layers.water._sources import read_heights as read_heights
from layers.water.currents._events import EVENTS as EVENTS
from layers.water.currents._events import current_events as current_events
from layers.water.currents.currents import Currents as Currents
from layers.water.currents.currents import CurrentTable as CurrentTable
from layers.water.currents.currents import FixedCurrent as FixedCurrent
from layers.water.currents.currents import read_current_table as read_current_table
from layers.water.day._day_of_water import DAY as DAY
from layers.water.day._day_of_water import WINDOWS as WINDOWS
from layers.water.day._day_of_water import DriftTarget as DriftTarget
from layers.water.day._day_of_water import day_of_water as day_of_water
from layers.water.day._day_of_water import day_windows as day_windows
from layers.water.day._day_of_water import rows_every as rows_every
from layers.water.day._moon import MoonTimes as MoonTimes
from layers.water.day._moon import moon_times as moon_times
from layers.water.day._sun import SunTimes as SunTimes
from layers.water.day._sun import sun_times as sun_times
from layers.water.day.limits import LEFT_OUT as LEFT_OUT
from layers.water.day.limits import BoatLimits as BoatLimits
from layers.water.day.limits import OpenHours as OpenHours
from layers.water.day.limits import Span as Span
from layers.water.day.limits import open_spans as open_spans
from layers.water.heights._heights import Heights as Heights
from layers.water.heights._heights import HighLowTable as HighLowTable
from layers.water.heights._heights import read_high_low_table as read_high_low_table
from layers.water.heights._stage import TURNS as TURNS
from layers.water.heights._stage import stage as stage
from layers.water.heights._stage import turns as turns
from layers.water.learned._drift_motions import MOTIONS as MOTIONS
from layers.water.learned._drift_motions import drift_motions as drift_motions
from layers.water.learned._learned_file import write_learned as write_learned
from layers.water.learned.learned import LearnedCurrent as LearnedCurrent
from layers.water.times import as_utc as as_utc
from layers.water.times import day_bounds as day_bounds
from layers.water.times import to_local as to_local
from layers.water.times import zone_of as zone_of
from layers.water.wind._wind import FixedWind as FixedWind
from layers.water.wind._wind import Wind as Wind
from layers.water.wind._wind import WindTable as WindTable
from layers.water.wind._wind_words import parse_direction as parse_direction
from layers.water.wind._wind_words import parse_wind as parse_wind
from layers.water.wind._wind_words import read_wind as read_wind
from layers.water.wind._wind_words import wind_by_hour as wind_by_hour
from layers.water.wind._wind_words import wind_notes as wind_notes
from layers.water.wind.leeway import CRAFT as CRAFT
from layers.water.wind.leeway import Leeway as Leeway
from layers.water.wind.leeway import leeway_of as leeway_of
