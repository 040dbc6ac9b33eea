"""The area file: what a piece of water is, and what the skipper wants of it."""

from layers.area._fishing import Boat as Boat
from layers.area._fishing import Gear as Gear
from layers.area._fishing import Lines as Lines
from layers.area._fishing import LogbookFile as LogbookFile
from layers.area._fishing import Maps as Maps
from layers.area._fishing import Marks as Marks
from layers.area._fishing import Planning as Planning
from layers.area._fishing import SpeciesRule as SpeciesRule
from layers.area._fishing import TrackSettings as TrackSettings
from layers.area._forms import is_current as is_current
from layers.area._ground import Charts as Charts
from layers.area._ground import Depths as Depths
from layers.area._ground import GridSource as GridSource
from layers.area._ground import StructureSettings as StructureSettings
from layers.area._ground import Units as Units
from layers.area._ground import WaterSource as WaterSource
from layers.area._ground import WindNow as WindNow
from layers.area._template import template_text as template_text
from layers.area._template import write_template as write_template
from layers.area.loading import default_area as default_area
from layers.area.loading import load_area as load_area
from layers.area.model import Area as Area
