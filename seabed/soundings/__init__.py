"""Own soundings: a sounder's log read, reduced to datum, cleaned, compared where lines cross.

Then gridded and merged onto an open grid; and where to sound next.
"""

from seabed.soundings._mounting import Mounting as Mounting
from seabed.soundings._sounder_logs import SounderLog as SounderLog
from seabed.soundings._sounder_logs import read_soundings as read_soundings
from seabed.soundings.flags.flagging import flagged as flagged
from seabed.soundings.reduction import reduced as reduced
from seabed.soundings.sounding_table import SOUNDINGS as SOUNDINGS
from seabed.soundings.sounding_table import sounding_table as sounding_table
from seabed.soundings.surface._gridding import grid_soundings as grid_soundings
from seabed.soundings.surface.merging import MergedGrid as MergedGrid
from seabed.soundings.surface.merging import merge_onto as merge_onto
from seabed.soundings.surface.owngrid import OwnGrid as OwnGrid
