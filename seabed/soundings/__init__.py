"""Own soundings: a sounder's log read, reduced to datum, cleaned, compared where lines cross."""

from seabed.soundings.gridding import grid_soundings
from seabed.soundings.owngrid import OwnGrid
from seabed.soundings.roughness import Roughness
from seabed.soundings.schema import SOUNDING_COLUMNS, as_points, empty_soundings, sounding_table

__all__ = [
    "SOUNDING_COLUMNS",
    "OwnGrid",
    "Roughness",
    "as_points",
    "empty_soundings",
    "grid_soundings",
    "sounding_table",
]
