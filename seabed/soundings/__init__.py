"""Own soundings: a sounder's log read, reduced to datum, cleaned, compared where lines cross."""

from seabed.soundings.gridding import grid_soundings
from seabed.soundings.merging import PROVENANCE, MergedGrid, finer, merge_onto
from seabed.soundings.owngrid import OwnGrid
from seabed.soundings.proposals import PROPOSAL_COLUMNS, lines_to_sound
from seabed.soundings.roughness import Roughness
from seabed.soundings.schema import SOUNDING_COLUMNS, as_points, empty_soundings, sounding_table
from seabed.soundings.storing import write_merged, write_own

__all__ = [
    "PROPOSAL_COLUMNS",
    "PROVENANCE",
    "SOUNDING_COLUMNS",
    "MergedGrid",
    "OwnGrid",
    "Roughness",
    "as_points",
    "empty_soundings",
    "finer",
    "grid_soundings",
    "lines_to_sound",
    "merge_onto",
    "sounding_table",
    "write_merged",
    "write_own",
]
