from layers.present.calendar_file import write_calendar as write_calendar
from layers.present.csv import write_table_csv as write_table_csv
from layers.present.gpx import GpxContent as GpxContent
from layers.present.gpx import write_marks as write_marks
from layers.present.vector import Tables as Tables
from layers.present.vector import write_geojson as write_geojson
from layers.present.vector import write_geopackage as write_geopackage
