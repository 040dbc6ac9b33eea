"""The area file: what a piece of water is, and what the skipper wants of it."""

from layers.area._current_words import is_current
from layers.area._fishing import (
    Boat,
    Gear,
    Lines,
    LogbookFile,
    Maps,
    Marks,
    Planning,
    SpeciesRule,
    TrackSettings,
)
from layers.area._ground import (
    Charts,
    Depths,
    GridSource,
    StructureSettings,
    Units,
    WaterSource,
    WindNow,
)
from layers.area._template import template_text, write_template
from layers.area.loading import default_area, load_area
from layers.area.model import Area

__all__ = [
    "Area",
    "Boat",
    "Charts",
    "Depths",
    "Gear",
    "GridSource",
    "Lines",
    "LogbookFile",
    "Maps",
    "Marks",
    "Planning",
    "SpeciesRule",
    "StructureSettings",
    "TrackSettings",
    "Units",
    "WaterSource",
    "WindNow",
    "default_area",
    "is_current",
    "load_area",
    "template_text",
    "write_template",
]
