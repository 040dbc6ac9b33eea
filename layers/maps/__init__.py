"""The map: one HTML file that works with no signal."""

from layers.maps.content import Basemap as Basemap
from layers.maps.content import MapContent as MapContent
from layers.maps.page import write_map as write_map
from layers.maps.water import MapWater as MapWater
from layers.maps.water import water_of_day as water_of_day
