"""Tide, current and wind, and which way the boat will go.

Stations and their harmonic prediction (`stations`), S-104/S-111 (`currents.s100`), learning a
current (`learned.learning`) are imported from their own modules: their libraries take up to half a
second to load, and most commands do without.
"""

from layers.water.currents.currents import Currents as Currents
from layers.water.currents.currents import CurrentTable as CurrentTable
from layers.water.currents.currents import FixedCurrent as FixedCurrent
from layers.water.day.day_of_water import DAY as DAY
from layers.water.day.day_of_water import WINDOWS as WINDOWS
from layers.water.day.day_of_water import DriftTarget as DriftTarget
from layers.water.day.day_of_water import day_of_water as day_of_water
from layers.water.day.day_of_water import day_windows as day_windows
from layers.water.day.limits import BoatLimits as BoatLimits
from layers.water.day.limits import OpenHours as OpenHours
from layers.water.heights._heights import Heights as Heights
from layers.water.heights._heights import HighLowTable as HighLowTable
from layers.water.learned.learned import LearnedCurrent as LearnedCurrent
from layers.water.sources import read_currents as read_currents
from layers.water.sources import read_heights as read_heights
from layers.water.wind._wind import FixedWind as FixedWind
from layers.water.wind._wind import Wind as Wind
from layers.water.wind._wind import WindTable as WindTable
from layers.water.wind.leeway import CRAFT as CRAFT
from layers.water.wind.leeway import Leeway as Leeway
from layers.water.wind.leeway import leeway_of as leeway_of
from layers.water.wind.wind_words import parse_wind as parse_wind
