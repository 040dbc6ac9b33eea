__version__: str

from seabed.examples import example_grid as example_grid
from seabed.examples import example_soundings as example_soundings
from seabed.grid import make_grid as make_grid
from seabed.grid.arrays import as_grid as as_grid
from seabed.grid.places import sample as sample
from seabed.loaders import open_grid as open_grid
from seabed.loaders import open_stored as open_stored
from seabed.loaders import open_surface as open_surface
from seabed.loaders import read_hazards as read_hazards
from seabed.soundings import grid_soundings as grid_soundings
from seabed.soundings import merge_onto as merge_onto
from seabed.soundings import read_soundings as read_soundings
from seabed.structure import banks_and_channels as banks_and_channels
from seabed.structure import contours as contours
from seabed.structure import depth_band as depth_band
from seabed.structure import edges as edges
from seabed.structure import holes as holes
from seabed.structure import humps as humps
from seabed.structure import rank_structure as rank_structure
from seabed.structure import sand_waves as sand_waves
from seabed.terrain import aspect as aspect
from seabed.terrain import curvature as curvature
from seabed.terrain import geomorphons as geomorphons
from seabed.terrain import position_index as position_index
from seabed.terrain import slope as slope
from seabed.terrain import vector_ruggedness as vector_ruggedness
