"""Own soundings: a sounder's log read, reduced to datum, cleaned, compared where lines cross.

Then gridded and merged onto an open grid; and where to sound next.
"""

from seabed.soundings._mounting import Mounting as Mounting
from seabed.soundings._sounder_logs import SounderLog as SounderLog
from seabed.soundings._sounder_logs import read_soundings as read_soundings
from seabed.soundings.checks._crossovers import CROSSOVERS as CROSSOVERS
from seabed.soundings.checks._crossovers import CrossoverStatistics as CrossoverStatistics
from seabed.soundings.checks._crossovers import crossover_statistics as crossover_statistics
from seabed.soundings.checks._crossovers import crossovers as crossovers
from seabed.soundings.checks._lag import LagFit as LagFit
from seabed.soundings.checks._lag import estimate_lag as estimate_lag
from seabed.soundings.checks._tide_check import ChartFit as ChartFit
from seabed.soundings.checks._tide_check import TideFit as TideFit
from seabed.soundings.checks._tide_check import fit_to_chart as fit_to_chart
from seabed.soundings.checks._tide_check import tide_of_crossovers as tide_of_crossovers
from seabed.soundings.checks._tracks import without_lag as without_lag
from seabed.soundings.flags._flagging import CleaningReport as CleaningReport
from seabed.soundings.flags._flagging import flagged as flagged
from seabed.soundings.proposals._proposing import PROPOSALS as PROPOSALS
from seabed.soundings.proposals._proposing import lines_to_sound as lines_to_sound
from seabed.soundings.reduction import reduced as reduced
from seabed.soundings.sounding_table import SOUNDINGS as SOUNDINGS
from seabed.soundings.sounding_table import as_points as as_points
from seabed.soundings.sounding_table import empty_soundings as empty_soundings
from seabed.soundings.sounding_table import sounding_table as sounding_table
from seabed.soundings.surface._gridding import grid_soundings as grid_soundings
from seabed.soundings.surface._merging import PROVENANCE as PROVENANCE
from seabed.soundings.surface._merging import MergedGrid as MergedGrid
from seabed.soundings.surface._merging import merge_onto as merge_onto
from seabed.soundings.surface._merging import write_merged as write_merged
from seabed.soundings.surface._owngrid import OwnGrid as OwnGrid
from seabed.soundings.surface._owngrid import write_own as write_own
from seabed.soundings.surface._roughness import Roughness as Roughness
from seabed.soundings.surface.lattice import finer as finer
