"""The depth grid: one ``xarray.DataArray`` and what may be relied on about it (`contract`)."""

from seabed.grid.contract import check_grid, crs_of, make_grid, with_crs
from seabed.grid.extent import (
    Bounds,
    CellSize,
    bounds,
    cell_size,
    degree_bounds,
    transform_of,
    window,
)

__all__ = [
    "Bounds",
    "CellSize",
    "bounds",
    "cell_size",
    "check_grid",
    "crs_of",
    "degree_bounds",
    "make_grid",
    "transform_of",
    "window",
    "with_crs",
]
