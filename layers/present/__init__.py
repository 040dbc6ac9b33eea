"""What is carried away: GPX for the plotter, tables and layers for everything else."""

from layers.present.csv import write_table_csv
from layers.present.gpx import Marks, marks_of, write_marks
from layers.present.names import ShortNames
from layers.present.positions import degrees_minutes
from layers.present.vector import Tables, write_geojson, write_geopackage

__all__ = [
    "Marks",
    "ShortNames",
    "Tables",
    "degrees_minutes",
    "marks_of",
    "write_geojson",
    "write_geopackage",
    "write_marks",
    "write_table_csv",
]
