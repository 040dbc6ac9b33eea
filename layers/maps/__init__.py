"""The map: one HTML file that works with no signal."""

from layers.maps.content import MapContent
from layers.maps.page import write_map

__all__ = ["MapContent", "write_map"]
