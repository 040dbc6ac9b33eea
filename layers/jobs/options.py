"""How a command or page describes the fields of a request; shared fields are here."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field, fields
from typing import Any, Final

from layers.present.sheet.paper import PAPERS


@dataclass(frozen=True, slots=True)
class Option:
    """How a command or page describes a field.

    metavar: the placeholder, ``"RANGE"``; the choices themselves if empty.
    help: one line. Other settings and commands are in braces.
    overrules: the key of the area file that it overrides, ``"depths.band"``; ``""`` for none.
    name: its name for the user, if not the field's.
    section: its heading.
    words: the choices; those of the key that it overrides if empty.
    argument: whether it is what the job works on, given without a name.
    least, most: bounds of a whole number.
    """

    metavar: str = ""
    help: str = ""
    overrules: str = ""
    name: str = ""
    section: str = ""
    words: tuple[str, ...] = ()
    argument: bool = False
    least: int | None = None
    most: int | None = None


def option(default: Any, /, metavar: str = "", help: str = "", **about: Any) -> Any:
    """Make a dataclass field of an option; `about` as in `Option`."""
    return field(default=default, metadata={"option": Option(metavar, help, **about)})


def argument(metavar: str, help: str, default: Any = MISSING, **about: Any) -> Any:
    """Make a dataclass field of what a job works on, which is given without a name."""
    return option(default, metavar, help, argument=True, **about)


@dataclass(frozen=True, kw_only=True)
class Request:
    """A job's settings as plain values, to keep and send."""


def options_of(request: type) -> dict[str, Option]:
    """Give the options of a request, or of its class, by field."""
    return {one.name: one.metadata.get("option") or SHARED[one.name] for one in fields(request)}


_PAGES: Final = "Maps and marks"
_GRID: Final = "If the grid file does not say"
_OPEN: Final = "If files do not say"
_EFFORT: Final = "Large grids"

DRIFT_SPEED: Final = "0.4-0.9 kn"
"""Default speed of a planned drift over the ground.  Common practice, no source."""

SHARED: Final[dict[str, Option]] = {
    "area": Option("FILE", "The area file; write one with: {seabed area}."),
    "out": Option("DIR", "Folder for the results; made if missing."),
    "log": Option("FILE", "The logbook.", "logbook.file"),
    "grid": Option(
        "GRID",
        "Depth grid of the water, file or web address; more than once for a mosaic.",
        "grid.files",
    ),
    "charts": Option(
        "FILE", "Official chart cell (S-57 .000); more than once for several.", "charts.files"
    ),
    "heights": Option(
        "FILE", "Tide heights: table of high and low water, station (JSON), S-104.", "water.heights"
    ),
    "currents": Option(
        "FILE|WORDS",
        'Currents: table, station or learned (JSON), S-111; "0.8 kn toward 40"; by hours '
        'from high water "HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, ...".',
        "water.currents",
    ),
    "flood_toward": Option(
        "DEGREES", "Where the flood runs to, degrees true.", "water.flood_toward"
    ),
    "catches": Option("FILE", "Catch log, a table or spreadsheet; more than once for several."),
    "date": Option("DAY", "Like 2031-06-14, 14 June 2031, tomorrow or sat; by default today."),
    "drift_speed": Option("RANGE", "Wanted speed of a drift over the ground."),
    "wind": Option(
        "WORDS",
        '"SW 8 kn", "SW 12 gusting 20 kn"; by hour, an option each: "6:00 SW 8 kn"; or a CSV '
        "file.  [area file, else calm]",
    ),
    "pressure": Option(
        "HPA", 'Air pressure, like "998 hPa": a low raises the water.', "water.pressure"
    ),
    "seen": Option(
        "WORDS|TRACK",
        'The current as you saw it today, to correct the table: "7:40 0.5 kn toward 340"; a '
        'line at hold, "7:40 30 deg toward 160, 1.5 oz, 25 ft"; or a track of this morning.',
    ),
    "beyond_limits": Option(
        help="Also use hours beyond the boat's limits: wind, gusts, waves, current, darkness."
    ),
    "contours": Option(
        "LIST", 'Contour depths: "10,15,20 ft" or first:last:step.', "depths.contours"
    ),
    "band": Option("RANGE", 'Depth band, like "20-30 ft".', "depths.band"),
    "rods": Option("N", "Rods that fished on each drift.", "boat.rods"),
    "timezone": Option(
        "ZONE", 'Time zone of local times, like "Atlantic/Azores".', "area.timezone", section=_OPEN
    ),
    "date_order": Option(
        help="Order of dates like 3/4/2031 in files: day or month first.",
        overrules="area.date_order",
        section=_OPEN,
    ),
    "heights_unit": Option(
        help="Unit of tide heights in a table without one.",
        overrules="water.heights_unit",
        section=_OPEN,
    ),
    "currents_unit": Option(
        help="Unit of speeds in a current table without one.",
        overrules="water.currents_unit",
        section=_OPEN,
    ),
    "length_unit": Option(
        help="Unit of lengths in a catch log without one.",
        overrules="catches.length_unit",
        section=_OPEN,
    ),
    "keep_answers": Option(
        help="Let these answers (zone, order of dates, units) replace those in the area file. "
        "Answers that it lacks are written into it anyway.",
        section=_OPEN,
    ),
    "units": Option(
        help="Depths in feet, metres or fathoms, and other units to match.",
        overrules="units.depth",
        words=("ft", "m", "fm"),
    ),
    "paper": Option(
        help="Paper size; card fits a small pouch, large is large print.", words=tuple(PAPERS)
    ),
    "name_length": Option(
        "N", "Maximum letters in a mark's name.", "marks.name_length", section=_PAGES
    ),
    "replace": Option(help="Overwrite files that are not results of an earlier run."),
    "basemap": Option(
        "URL",
        "Online base map, with {z}/{x}/{y}. The map shows it when ticked; its server then learns "
        "where you fish.",
        "map.basemap",
        section=_PAGES,
    ),
    "basemap_credit": Option(
        "TEXT", "Credit that its makers ask for on the map.", "map.basemap_credit", section=_PAGES
    ),
    "crs": Option("CODE", 'CRS of the grid, like "EPSG:32625".', "grid.crs", section=_GRID),
    "sign": Option(
        help="Whether numbers increase upward (elevation) or downward (depth).",
        overrules="grid.sign",
        section=_GRID,
    ),
    "grid_unit": Option(help="Unit of its numbers.", overrules="grid.unit", section=_GRID),
    "variable": Option(
        "NAME", "Band or variable, if the file has several.", "grid.variable", section=_GRID
    ),
    "vertical_datum": Option(
        "NAME", 'Vertical datum of its depths, like "MLLW".', "grid.vertical_datum", section=_GRID
    ),
    "offset": Option(
        "LENGTH",
        "Added to every depth, to bring the grid to the tide's datum.",
        "grid.offset",
        section=_GRID,
    ),
    "box": Option(
        "W,S,E,N", "Only this part of the grid, degrees WGS 84.", "grid.box", section=_GRID
    ),
    "chunk": Option(
        "CELLS",
        "Work in chunks of this many cells a side.  [2048 above 40 million cells]",
        section=_EFFORT,
        least=16,
    ),
    "jobs": Option(
        "N", "Processes for work in chunks.  [one a core, at most 4]", section=_EFFORT, least=1
    ),
    "scheduler": Option("ADDRESS", "Work in chunks on this dask cluster.", section=_EFFORT),
}
"""Options with the same meaning in every job, by field."""


@dataclass(frozen=True, kw_only=True)
class AnswerFields(Request):
    """What files do not say; None leaves it to the area file."""

    timezone: str | None = None
    date_order: str | None = None
    heights_unit: str | None = None
    currents_unit: str | None = None
    keep_answers: bool = False


@dataclass(frozen=True, kw_only=True)
class FormatFields(Request):
    """What a grid file does not say; None leaves it to the area file."""

    crs: str | None = None
    sign: str | None = None
    grid_unit: str | None = None
    variable: str | None = None


@dataclass(frozen=True, kw_only=True)
class GridFields(FormatFields):
    """The same, and how depths are used."""

    vertical_datum: str | None = None
    offset: str | None = None
    box: str | None = None


@dataclass(frozen=True, kw_only=True)
class PageFields(Request):
    """What maps and marks are like; None leaves it to the area file."""

    name_length: int | None = None
    basemap: str | None = None
    basemap_credit: str | None = None
