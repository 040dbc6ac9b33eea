"""Tracks: read, clean, cut into runs, drifts and holds."""

from layers.tracks.clean_report import CleanReport
from layers.tracks.cleaning import clean
from layers.tracks.conditions import (
    CONDITIONS,
    FISH,
    with_conditions,
    with_fish,
)
from layers.tracks.corrections import (
    OF_FISH,
    Correction,
    correct,
    corrections_beside,
    corrections_of,
    parse_corrections,
    read_corrections,
)
from layers.tracks.cutting import KINDS, cut
from layers.tracks.depth import check_on_grid, depth_under
from layers.tracks.drifts import DRIFTS, drifts_of
from layers.tracks.pieces import PIECES
from layers.tracks.reading import read_fixes, read_waypoints
from layers.tracks.settings import CutSettings
from layers.tracks.table import FIXES
from layers.tracks.waypoints import WAYPOINTS

__all__ = [
    "CONDITIONS",
    "DRIFTS",
    "FISH",
    "FIXES",
    "KINDS",
    "OF_FISH",
    "PIECES",
    "WAYPOINTS",
    "CleanReport",
    "Correction",
    "CutSettings",
    "check_on_grid",
    "clean",
    "correct",
    "corrections_beside",
    "corrections_of",
    "cut",
    "depth_under",
    "drifts_of",
    "parse_corrections",
    "read_corrections",
    "read_fixes",
    "read_waypoints",
    "with_conditions",
    "with_fish",
]
