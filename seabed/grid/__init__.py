"""The depth grid: one ``xarray.DataArray`` and what may be relied on about it (`contract`)."""

from seabed.grid.contract import check_grid as check_grid
from seabed.grid.contract import crs_of as crs_of
from seabed.grid.contract import make_grid as make_grid
from seabed.grid.extent import Bounds as Bounds
from seabed.grid.extent import CellSize as CellSize
from seabed.grid.extent import bounds as bounds
from seabed.grid.extent import cell_size as cell_size
from seabed.grid.extent import degree_bounds as degree_bounds
from seabed.grid.extent import transform_of as transform_of
