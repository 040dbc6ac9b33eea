"""Open depth grids and charts of any kind, say what a file is, and write grids."""

from seabed.loaders.charts import read_hazards as read_hazards
from seabed.loaders.opening import Surface as Surface
from seabed.loaders.opening import open_grid as open_grid
from seabed.loaders.opening import open_surface as open_surface
from seabed.loaders.report import FileReport as FileReport
from seabed.loaders.report import Problem as Problem
from seabed.loaders.report import describe as describe
from seabed.loaders.stored import StoredGrid as StoredGrid
from seabed.loaders.stored import open_stored as open_stored
from seabed.loaders.voids import fill_voids as fill_voids
