"""Array in, array out: slope, aspect, curvature, position index, ruggedness, landforms."""

from seabed.terrain.curvature import curvature as curvature
from seabed.terrain.geomorphons import Landform as Landform
from seabed.terrain.geomorphons import geomorphons as geomorphons
from seabed.terrain.position import position_index as position_index
from seabed.terrain.ruggedness import vector_ruggedness as vector_ruggedness
from seabed.terrain.slope import aspect as aspect
from seabed.terrain.slope import slope as slope
