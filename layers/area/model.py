"""What an area is: the sections of its file, values in SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from layers.area import _fishing, _ground
from layers.area.keys import choice, key, text, timezone
from seabed.notebook import NotebookTable


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
        "Zone of local times: Atlantic/Azores, Europe/Lisbon.",
    )
    date_order: str = key(
        "",
        choice("", "dmy", "mdy"),
        "Order of dates like 3/4/2031 in files: dmy (day first) or mdy; empty: as a file shows.",
    )
    units: _ground.Units = field(default_factory=_ground.Units)
    grid: _ground.GridSource = field(default_factory=_ground.GridSource)
    charts: _ground.Charts = field(default_factory=_ground.Charts)
    depths: _ground.Depths = field(default_factory=_ground.Depths)
    structure: _ground.StructureSettings = field(default_factory=_ground.StructureSettings)
    water: _ground.WaterSource = field(default_factory=_ground.WaterSource)
    wind: _ground.WindNow = field(default_factory=_ground.WindNow)
    boat: _fishing.Boat = field(default_factory=_fishing.Boat)
    tackle: _fishing.Gear = field(default_factory=_fishing.Gear)
    plan: _fishing.Planning = field(default_factory=_fishing.Planning)
    tracks: _fishing.TrackSettings = field(default_factory=_fishing.TrackSettings)
    lines: _fishing.Lines = field(default_factory=_fishing.Lines)
    marks: _fishing.Marks = field(default_factory=_fishing.Marks)
    map: _fishing.Maps = field(default_factory=_fishing.Maps)
    logbook: _fishing.LogbookFile = field(default_factory=_fishing.LogbookFile)
    catches: _fishing.Catches = field(default_factory=_fishing.Catches)
    species: dict[str, _fishing.SpeciesRule] = field(default_factory=dict)
    file: Path | None = None
