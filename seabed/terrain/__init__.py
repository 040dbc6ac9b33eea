"""Array in, array out: slope, aspect, position index, smoothing."""

from seabed.terrain.position import position_index
from seabed.terrain.slope import aspect, slope
from seabed.terrain.smoothing import smoothed

__all__ = ["aspect", "position_index", "slope", "smoothed"]
