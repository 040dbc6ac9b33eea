"""Open depth grids and charts of any kind, say what a file is, and write grids."""

from seabed.loaders.charts import (
    HAZARD_KINDS,
    ChartReport,
    describe_chart,
    is_chart,
    read_chart_contours,
    read_chart_soundings,
    read_hazards,
)
from seabed.loaders.opening import open_grid, open_surface
from seabed.loaders.report import FileReport, Problem, describe
from seabed.loaders.stored import StoredGrid, open_stored
from seabed.loaders.surface import Surface
from seabed.loaders.voids import fill_voids
from seabed.loaders.writing import write_bands

__all__ = [
    "HAZARD_KINDS",
    "ChartReport",
    "FileReport",
    "Problem",
    "StoredGrid",
    "Surface",
    "describe",
    "describe_chart",
    "fill_voids",
    "is_chart",
    "open_grid",
    "open_stored",
    "open_surface",
    "read_chart_contours",
    "read_chart_soundings",
    "read_hazards",
    "write_bands",
]
