"""Own soundings: a sounder's log read, reduced to datum, cleaned, compared where lines cross.

Then gridded and merged onto an open grid; and where to sound next.
"""

from seabed.soundings._mounting import Mounting
from seabed.soundings._sounder_logs import SounderLog, read_soundings
from seabed.soundings.checks._crossovers import (
    CROSSOVERS,
    CrossoverStatistics,
    crossover_statistics,
    crossovers,
)
from seabed.soundings.checks._lag import LagFit, estimate_lag
from seabed.soundings.checks._tide_check import ChartFit, TideFit, fit_to_chart, tide_of_crossovers
from seabed.soundings.checks._tracks import without_lag
from seabed.soundings.flags._flagging import CleaningReport, flagged
from seabed.soundings.proposals._proposing import PROPOSALS, lines_to_sound
from seabed.soundings.reduction import reduced
from seabed.soundings.sounding_table import SOUNDINGS, as_points, empty_soundings, sounding_table
from seabed.soundings.surface._gridding import grid_soundings
from seabed.soundings.surface._merging import (
    PROVENANCE,
    MergedGrid,
    finer,
    merge_onto,
    write_merged,
)
from seabed.soundings.surface._owngrid import OwnGrid, write_own
from seabed.soundings.surface._roughness import Roughness

__all__ = [
    "CROSSOVERS",
    "PROPOSALS",
    "PROVENANCE",
    "SOUNDINGS",
    "ChartFit",
    "CleaningReport",
    "CrossoverStatistics",
    "LagFit",
    "MergedGrid",
    "Mounting",
    "OwnGrid",
    "Roughness",
    "SounderLog",
    "TideFit",
    "as_points",
    "crossover_statistics",
    "crossovers",
    "empty_soundings",
    "estimate_lag",
    "finer",
    "fit_to_chart",
    "flagged",
    "grid_soundings",
    "lines_to_sound",
    "merge_onto",
    "read_soundings",
    "reduced",
    "sounding_table",
    "tide_of_crossovers",
    "without_lag",
    "write_merged",
    "write_own",
]
