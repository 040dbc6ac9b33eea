"""Open depth grids of any kind, and say what a file is."""

from seabed.loaders.opening import open_grid, open_surface
from seabed.loaders.report import FileReport, Problem, describe
from seabed.loaders.surface import Surface
from seabed.loaders.voids import fill_voids

__all__ = [
    "FileReport",
    "Problem",
    "Surface",
    "describe",
    "fill_voids",
    "open_grid",
    "open_surface",
]
