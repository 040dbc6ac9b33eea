"""The map: one HTML file that works with no signal."""

from layers.maps.basemap import Basemap
from layers.maps.content import MapContent
from layers.maps.page import write_map
from layers.maps.water import MapWater, water_of_day

__all__ = ["Basemap", "MapContent", "MapWater", "water_of_day", "write_map"]
