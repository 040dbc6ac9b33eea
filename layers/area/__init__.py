"""The area file: what a piece of water is, and what the skipper wants of it."""

from layers.area._fishing import Marks as Marks
from layers.area._fishing import SpeciesRule as SpeciesRule
from layers.area._forms import is_current as is_current
from layers.area._ground import Units as Units
from layers.area._template import write_template as write_template
from layers.area.loading import default_area as default_area
from layers.area.loading import load_area as load_area
from layers.area.model import Area as Area
