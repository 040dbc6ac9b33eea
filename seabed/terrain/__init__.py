"""Array in, array out: slope, aspect, curvature, position index, ruggedness, landforms."""

from seabed.terrain.curvature import curvature
from seabed.terrain.geomorphons import Landform, geomorphons
from seabed.terrain.position import position_index
from seabed.terrain.ruggedness import vector_ruggedness
from seabed.terrain.slope import aspect, slope
from seabed.terrain.smoothing import smoothed

__all__ = [
    "Landform",
    "aspect",
    "curvature",
    "geomorphons",
    "position_index",
    "slope",
    "smoothed",
    "vector_ruggedness",
]
