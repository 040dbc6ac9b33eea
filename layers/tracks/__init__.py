"""Tracks: read, clean, cut into runs, drifts and holds."""

from layers.tracks.reading import read_fixes, read_waypoints
from layers.tracks.settings import CutSettings
from layers.tracks.table import FIX_COLUMNS

__all__ = ["FIX_COLUMNS", "CutSettings", "read_fixes", "read_waypoints"]
