"""What an area is: the sections of its file, values in SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from layers.area._fishing import (
    Boat,
    Catches,
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
from layers.area.keys import (
    choice,
    key,
    text,
    timezone,
)
from seabed.notebook import NotebookTable

__all__ = [
    "Area",
    "Boat",
    "Catches",
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
]


@dataclass(frozen=True, slots=True)
class Area(NotebookTable):
    """A piece of water.

    Attributes
    ----------
    name, timezone, date_order : str
    units, grid, charts, depths, structure, water, wind, boat, tackle, plan, tracks, lines, marks,
    map, logbook, catches
        Sections of the file, values in SI.
    species : dict of str to SpeciesRule
        By the species' name as written.
    file : Path or None
        The area file; None for the defaults.
    """

    name: str = key("", text, "What the water is called on maps and sheets.")
    timezone: str = key(
        "UTC",
        timezone,
        'Zone of local times, like "Atlantic/Azores" or "Europe/Lisbon".',
    )
    date_order: str = key(
        "",
        choice("", "dmy", "mdy"),
        "Order of dates like 3/4/2031 in files: dmy (day first) or mdy; empty: as a file shows.",
    )
    units: Units = field(default_factory=Units)
    grid: GridSource = field(default_factory=GridSource)
    charts: Charts = field(default_factory=Charts)
    depths: Depths = field(default_factory=Depths)
    structure: StructureSettings = field(default_factory=StructureSettings)
    water: WaterSource = field(default_factory=WaterSource)
    wind: WindNow = field(default_factory=WindNow)
    boat: Boat = field(default_factory=Boat)
    tackle: Gear = field(default_factory=Gear)
    plan: Planning = field(default_factory=Planning)
    tracks: TrackSettings = field(default_factory=TrackSettings)
    lines: Lines = field(default_factory=Lines)
    marks: Marks = field(default_factory=Marks)
    map: Maps = field(default_factory=Maps)
    logbook: LogbookFile = field(default_factory=LogbookFile)
    catches: Catches = field(default_factory=Catches)
    species: dict[str, SpeciesRule] = field(default_factory=dict)
    file: Path | None = None
