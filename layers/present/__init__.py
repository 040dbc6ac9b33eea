"""Tables, pictures, the sheet and the files that are carried away, all by one table of looks."""

from layers.present.calendar_file import calendar_text, write_calendar
from layers.present.csv import write_table_csv
from layers.present.day_words import day_records, day_rows, day_sheet
from layers.present.gpx import Marks, marks_of, write_marks
from layers.present.names import ShortNames
from layers.present.pictures.day import day_picture
from layers.present.pictures.speed import speed_picture
from layers.present.positions import degrees_minutes
from layers.present.vector import Tables, write_geojson, write_geopackage

__all__ = [
    "Marks",
    "ShortNames",
    "Tables",
    "calendar_text",
    "day_picture",
    "day_records",
    "day_rows",
    "day_sheet",
    "degrees_minutes",
    "marks_of",
    "speed_picture",
    "write_calendar",
    "write_geojson",
    "write_geopackage",
    "write_marks",
    "write_table_csv",
]
