"""Open depth grids of any kind, and say what a file is."""

from seabed.loaders.opening import open_grid
from seabed.loaders.report import FileReport, Problem, describe

__all__ = ["FileReport", "Problem", "describe", "open_grid"]
