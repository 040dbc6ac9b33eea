"""What a door shows of the fields of a request; those that mean the same in all are here."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field, fields
from typing import Any, Final

__all__ = [
    "DRIFT_SPEED",
    "AnswerFields",
    "FormatFields",
    "GridFields",
    "Option",
    "PageFields",
    "Request",
    "option",
    "options_of",
]


@dataclass(frozen=True, slots=True)
class Option:
    """What a door shows of a field.

    metavar: what to write in its place: ``"RANGE"``.
    help: one line. Other settings and commands stand in braces.
    overrules: the key of the area file that it overrules, ``"depths.band"``; ``""`` for none.
    name: what the door calls it, where that is not the field's name.
    section: the heading that it stands under.
    words: to choose from.
    argument: whether it is what the job works on: the command takes it without naming it.
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


def option(default: Any = MISSING, **about: Any) -> Any:
    """Make a dataclass field of an option; `about` as in `Option`."""
    return field(default=default, metadata={"option": Option(**about)})


@dataclass(frozen=True, kw_only=True)
class Request:
    """What is asked of a job: plain values, so that it can be kept and sent."""


def options_of(request: type) -> dict[str, Option]:
    """Give the options of a request, or of its class, by field."""
    return {one.name: one.metadata.get("option") or SHARED[one.name] for one in fields(request)}


_PAGES: Final = "Maps and marks"
_GRID: Final = "What a grid does not say itself"
_OPEN: Final = "What files leave open"
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
        "FILE", "Tide heights: high/low table (CSV), station (JSON), S-104.", "water.heights"
    ),
    "currents": Option(
        "FILE|WORDS",
        'Currents: table (CSV), station or learned (JSON), S-111; "0.8 kn toward 40"; by hours '
        'from high water "HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, ...".',
        "water.currents",
    ),
    "flood_toward": Option(
        "DEGREES", "Where the flood runs to, degrees true.", "water.flood_toward"
    ),
    "catches": Option("FILE", "Catch log (CSV); more than once for several."),
    "date": Option("DAY", "Like 2031-06-14, 14 June 2031, tomorrow or sat; by default today."),
    "drift_speed": Option("RANGE", "Speed over the ground wanted of a drift."),
    "wind": Option(
        "WORDS",
        '"SW 8 kn", "SW 12 gusting 20 kn"; by hour, one option each: "6:00 SW 8 kn"; or a CSV '
        "file.  [area file, else calm]",
    ),
    "pressure": Option(
        "HPA", 'Pressure of the air, like "998 hPa": a low lifts the water.', "water.pressure"
    ),
    "seen": Option(
        "WORDS|TRACK",
        'The current as it was seen today, which corrects the table: "7:40 0.5 kn toward 340"; a '
        'line at hold, "7:40 30 deg toward 160, 1.5 oz, 25 ft"; or a track of this morning.',
    ),
    "beyond_limits": Option(
        help="Use hours beyond the limits of wind, gust, current and darkness under [boat] too."
    ),
    "contours": Option(
        "LIST", 'Depths of contours, "10,15,20 ft" or first:last:step.', "depths.contours"
    ),
    "band": Option("RANGE", 'Band of depth to look in, like "20-30 ft".', "depths.band"),
    "rods": Option("N", "Rods that fished on each drift.", "boat.rods"),
    "timezone": Option(
        "ZONE", 'Zone of local times, like "Atlantic/Azores".', "area.timezone", section=_OPEN
    ),
    "date_order": Option(
        "dmy|mdy",
        "Order of dates like 3/4/2031 in files: day or month first.",
        "area.date_order",
        section=_OPEN,
        words=("dmy", "mdy"),
    ),
    "heights_unit": Option(
        "m|ft",
        "Unit of tide heights in a table that names none.",
        "water.heights_unit",
        section=_OPEN,
        words=("m", "ft"),
    ),
    "currents_unit": Option(
        "kn|m/s",
        "Unit of speeds in a table of currents that names none.",
        "water.currents_unit",
        section=_OPEN,
        words=("kn", "m/s"),
    ),
    "length_unit": Option(
        "cm|in",
        "Unit of lengths in a catch log that names none.",
        "catches.length_unit",
        section=_OPEN,
        words=("cm", "in"),
    ),
    "keep_answers": Option(
        help="Write what you answer here (zone, order of dates, units) into the area file, in the "
        "place of what it says; what it does not say it keeps anyway.",
        section=_OPEN,
    ),
    "units": Option(
        "ft|m|fm",
        "Units shown: feet, metres or fathoms, with units to match.",
        "units.depth",
        words=("ft", "m", "fm"),
    ),
    "name_length": Option(
        "N", "Most letters in a mark's name.", "marks.name_length", section=_PAGES
    ),
    "replace": Option(help="Overwrite files that are not results of an earlier run."),
    "basemap": Option(
        "URL",
        "Online base map, {z}/{x}/{y} in it; shown when ticked, its server then learns where you "
        "fish.",
        "map.basemap",
        section=_PAGES,
    ),
    "basemap_credit": Option(
        "TEXT", "What its makers want said on the map.", "map.basemap_credit", section=_PAGES
    ),
    "crs": Option(
        "CODE",
        'Coordinates of a grid that names none, like "EPSG:32625".',
        "grid.crs",
        section=_GRID,
    ),
    "sign": Option(
        "auto|elevation|depth",
        "Whether its numbers rise upward (elevation) or downward (depth).",
        "grid.sign",
        section=_GRID,
        words=("auto", "elevation", "depth"),
    ),
    "grid_unit": Option(
        "auto|m|ft|fm",
        "Unit of its numbers.",
        "grid.unit",
        section=_GRID,
        words=("auto", "m", "ft", "fm"),
    ),
    "variable": Option(
        "NAME", "Band or variable, where the file holds several.", "grid.variable", section=_GRID
    ),
    "vertical_datum": Option(
        "NAME",
        'What its depths are measured from, like "MLLW".',
        "grid.vertical_datum",
        section=_GRID,
    ),
    "offset": Option(
        "LENGTH",
        "Added to every depth, to bring it to the tide's datum.",
        "grid.offset",
        section=_GRID,
    ),
    "box": Option("W,S,E,N", "Only this part of it, degrees WGS 84.", "grid.box", section=_GRID),
    "chunk": Option(
        "CELLS",
        "Work in chunks of so many cells a side.  [2048, where there are over 40 million]",
        section=_EFFORT,
        least=16,
    ),
    "jobs": Option(
        "N",
        "Processes for work in chunks.  [as many as cores, at most 4]",
        section=_EFFORT,
        least=1,
    ),
    "scheduler": Option("ADDRESS", "Work in chunks on this dask cluster.", section=_EFFORT),
}
"""Options that mean the same in every job, by the field's name."""


@dataclass(frozen=True, kw_only=True)
class AnswerFields(Request):
    """What files leave open; None leaves it to the area file."""

    timezone: str | None = None
    date_order: str | None = None
    heights_unit: str | None = None
    currents_unit: str | None = None
    keep_answers: bool = False


@dataclass(frozen=True, kw_only=True)
class FormatFields(Request):
    """What a depth grid does not say itself; None leaves it to the area file."""

    crs: str | None = None
    sign: str | None = None
    grid_unit: str | None = None
    variable: str | None = None


@dataclass(frozen=True, kw_only=True)
class GridFields(FormatFields):
    """The same, and what is made of the depths."""

    vertical_datum: str | None = None
    offset: str | None = None
    box: str | None = None


@dataclass(frozen=True, kw_only=True)
class PageFields(Request):
    """What maps and marks are like; None leaves it to the area file."""

    name_length: int | None = None
    basemap: str | None = None
    basemap_credit: str | None = None
