"""Tracks: read, clean, cut into runs, drifts and holds."""

from layers.tracks.clean_report import CleanReport as CleanReport
from layers.tracks.cleaning import clean as clean
from layers.tracks.conditions import CONDITIONS as CONDITIONS
from layers.tracks.conditions import with_conditions as with_conditions
from layers.tracks.cutting import cut as cut
from layers.tracks.depth import depth_under as depth_under
from layers.tracks.drifts import DRIFTS as DRIFTS
from layers.tracks.drifts import drifts_of as drifts_of
from layers.tracks.pieces import PIECES as PIECES
from layers.tracks.reading import read_fixes as read_fixes
from layers.tracks.settings import CutSettings as CutSettings
from layers.tracks.table import FIXES as FIXES
