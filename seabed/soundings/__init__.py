"""Own soundings: a sounder's log read, reduced to datum, cleaned, compared where lines cross."""

from seabed.soundings.schema import SOUNDING_COLUMNS, as_points, empty_soundings, sounding_table

__all__ = ["SOUNDING_COLUMNS", "as_points", "empty_soundings", "sounding_table"]
