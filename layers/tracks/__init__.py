"""Tracks: read, clean, cut into runs, drifts and holds."""

from layers.tracks.clean_report import CleanReport as CleanReport
from layers.tracks.cleaning import clean as clean
from layers.tracks.conditions import CONDITIONS as CONDITIONS
from layers.tracks.conditions import FISH as FISH
from layers.tracks.conditions import with_conditions as with_conditions
from layers.tracks.conditions import with_fish as with_fish
from layers.tracks.corrections import OF_FISH as OF_FISH
from layers.tracks.corrections import Correction as Correction
from layers.tracks.corrections import correct as correct
from layers.tracks.corrections import corrections_beside as corrections_beside
from layers.tracks.corrections import corrections_of as corrections_of
from layers.tracks.corrections import parse_corrections as parse_corrections
from layers.tracks.corrections import read_corrections as read_corrections
from layers.tracks.cutting import KINDS as KINDS
from layers.tracks.cutting import cut as cut
from layers.tracks.depth import check_on_grid as check_on_grid
from layers.tracks.depth import depth_under as depth_under
from layers.tracks.drifts import DRIFTS as DRIFTS
from layers.tracks.drifts import drifts_of as drifts_of
from layers.tracks.pieces import PIECES as PIECES
from layers.tracks.reading import read_fixes as read_fixes
from layers.tracks.reading import read_waypoints as read_waypoints
from layers.tracks.settings import CutSettings as CutSettings
from layers.tracks.table import FIXES as FIXES
from layers.tracks.waypoints import WAYPOINTS as WAYPOINTS
