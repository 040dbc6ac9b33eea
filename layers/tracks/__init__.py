"""Tracks: read, clean, cut into runs, drifts and holds."""

from layers.tracks.clean_report import CleanReport
from layers.tracks.cleaning import clean
from layers.tracks.conditions import (
    CONDITION_COLUMNS,
    FISH_COLUMNS,
    with_conditions,
    with_fish,
)
from layers.tracks.corrections import (
    Correction,
    correct,
    corrections_beside,
    read_corrections,
)
from layers.tracks.cutting import KINDS, cut
from layers.tracks.depth import check_on_grid, depth_under
from layers.tracks.drifts import DRIFT_COLUMNS, drifts_of
from layers.tracks.picture import speed_picture
from layers.tracks.pieces import PIECE_COLUMNS
from layers.tracks.reading import read_fixes, read_waypoints
from layers.tracks.settings import CutSettings
from layers.tracks.table import FIX_COLUMNS
from layers.tracks.waypoints import WAYPOINT_COLUMNS

__all__ = [
    "CONDITION_COLUMNS",
    "DRIFT_COLUMNS",
    "FISH_COLUMNS",
    "FIX_COLUMNS",
    "KINDS",
    "PIECE_COLUMNS",
    "WAYPOINT_COLUMNS",
    "CleanReport",
    "Correction",
    "CutSettings",
    "check_on_grid",
    "clean",
    "correct",
    "corrections_beside",
    "cut",
    "depth_under",
    "drifts_of",
    "read_corrections",
    "read_fixes",
    "read_waypoints",
    "speed_picture",
    "with_conditions",
    "with_fish",
]
