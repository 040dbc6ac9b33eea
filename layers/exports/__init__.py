"""What is carried away: GPX for the plotter, tables and layers for everything else."""

from layers.exports.csv import write_table_csv
from layers.exports.gpx import Marks, marks_of, write_marks
from layers.exports.names import ShortNames
from layers.exports.positions import degrees_minutes
from layers.exports.vector import Tables, write_geojson, write_geopackage

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
