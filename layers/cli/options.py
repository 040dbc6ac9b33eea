"""Options that mean the same thing in every command."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

__all__ = [
    "DRIFT_SPEED",
    "AreaFile",
    "Band",
    "BeyondLimits",
    "CatchFiles",
    "ChartFiles",
    "Contours",
    "Day",
    "DriftSpeed",
    "EffortOptions",
    "FormatOptions",
    "GridArguments",
    "GridFiles",
    "GridOptions",
    "HeightsFile",
    "Json",
    "LogFile",
    "NameLength",
    "OutFolder",
    "PageOptions",
    "Rods",
    "Timezone",
    "TrackFiles",
    "Units",
    "WindWords",
    "words_of",
]

DRIFT_SPEED = "0.5-1.0 mph"
"""Speed over the ground wanted where none is said.  Common practice, no source."""

_GRID = "What a grid does not say itself"
_PAGES = "Maps and marks"
_EFFORT = "Large grids"


def words_of(*words: str) -> Callable[[str], list[str]]:
    """Give what the shell completes a word of a few to."""

    def begun(incomplete: str) -> list[str]:
        return [word for word in words if word.startswith(incomplete)]

    return begun


AreaFile = Annotated[
    Path | None,
    typer.Option("--area", metavar="FILE", help="The area file; write one with: seabed area."),
]
OutFolder = Annotated[
    Path, typer.Option("--out", metavar="DIR", help="Folder for the results; made if missing.")
]
Units = Annotated[
    str | None,
    typer.Option(
        "--units",
        metavar="ft|m|fm",
        help="Units shown: feet, metres or fathoms, and what goes along.  [area file, else ft]",
        autocompletion=words_of("ft", "m", "fm"),
    ),
]
Contours = Annotated[
    str | None,
    typer.Option(
        "--contours",
        metavar="LIST",
        help='Depths of contours, "10,15,20 ft" or first:last:step.  [area file, else 10:60:5 ft]',
    ),
]
Band = Annotated[
    str | None,
    typer.Option(
        "--band",
        metavar="RANGE",
        help='Band of depth to look in, like "20-30 ft".  [area file, else 17-25 ft]',
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for machines.")]
NameLength = Annotated[
    int | None,
    typer.Option(
        "--name-length",
        metavar="N",
        help="Most letters in a mark's name.  [area file, else 10]",
        rich_help_panel=_PAGES,
    ),
]
Rods = Annotated[
    int | None,
    typer.Option(
        "--rods", metavar="N", help="Rods that fished on each drift.  [area file, else 2]"
    ),
]
Timezone = Annotated[
    str | None,
    typer.Option(
        "--timezone",
        metavar="ZONE",
        help='Zone of local times, like "Etc/GMT+2".  [area file, else UTC]',
    ),
]
Day = Annotated[
    str, typer.Option("--date", metavar="DAY", help="Like 2031-06-14; today if not said.")
]
DriftSpeed = Annotated[
    str,
    typer.Option("--drift-speed", metavar="RANGE", help="Speed over the ground wanted of a drift."),
]
WindWords = Annotated[
    list[str] | None,
    typer.Option(
        "--wind",
        metavar="WORDS",
        help='"SW 8 kn", "SW 12 gusting 20 kn"; by hour, one option each: "6:00 SW 8 kn"; or a CSV '
        "file.  [area file, else calm]",
    ),
]
BeyondLimits = Annotated[
    bool,
    typer.Option(
        "--beyond-limits",
        help="Use hours beyond the limits of wind, gust, current and darkness under [boat] too.",
    ),
]
GridArguments = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="GRID",
        help="Depth grids of the water: files or web addresses. Several are one mosaic.  "
        "[area file]",
    ),
]
GridFiles = Annotated[
    list[str] | None,
    typer.Option(
        "--grid",
        metavar="GRID",
        help="Depth grid of the water, file or web address; more than once for a mosaic.  "
        "[area file]",
    ),
]
TrackFiles = Annotated[
    list[Path],
    typer.Argument(metavar="TRACK", help="Tracks: GPX, NMEA 0183 or CSV."),
]
CatchFiles = Annotated[
    list[Path] | None,
    typer.Option("--catches", metavar="FILE", help="Catch log (CSV); more than once for several."),
]
ChartFiles = Annotated[
    list[Path] | None,
    typer.Option(
        "--charts",
        metavar="FILE",
        help="Official chart cell (S-57 .000); more than once for several.  [area file]",
    ),
]
HeightsFile = Annotated[
    Path | None,
    typer.Option(
        "--heights",
        metavar="FILE",
        help="Tide heights: high/low table (CSV), station (JSON), S-104.  [area file]",
    ),
]
LogFile = Annotated[
    Path | None, typer.Option("--log", metavar="FILE", help="The logbook.  [area file]")
]


@dataclass(frozen=True, slots=True)
class FormatOptions:
    """What a depth grid does not say itself; None leaves the area's word."""

    crs: Annotated[
        str | None,
        typer.Option(
            "--crs",
            metavar="CODE",
            help='Coordinates of a grid that names none, like "EPSG:32625".',
            rich_help_panel=_GRID,
        ),
    ] = None
    sign: Annotated[
        str | None,
        typer.Option(
            "--sign",
            metavar="auto|elevation|depth",
            help="Whether its numbers rise upward (elevation) or downward (depth).",
            autocompletion=words_of("auto", "elevation", "depth"),
            rich_help_panel=_GRID,
        ),
    ] = None
    grid_unit: Annotated[
        str | None,
        typer.Option(
            "--grid-unit",
            metavar="auto|m|ft|fm",
            help="Unit of its numbers.",
            autocompletion=words_of("auto", "m", "ft", "fm"),
            rich_help_panel=_GRID,
        ),
    ] = None
    variable: Annotated[
        str | None,
        typer.Option(
            "--variable",
            metavar="NAME",
            help="Band or variable, where the file holds several.",
            rich_help_panel=_GRID,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class GridOptions(FormatOptions):
    """The same, and what is to be made of the depths."""

    vertical_datum: Annotated[
        str | None,
        typer.Option(
            "--vertical-datum",
            metavar="NAME",
            help='What its depths are measured from, like "MLLW".',
            rich_help_panel=_GRID,
        ),
    ] = None
    offset: Annotated[
        str | None,
        typer.Option(
            "--offset",
            metavar="LENGTH",
            help="Added to every depth, to bring it to the tide's datum.  [area file, else 0 m]",
            rich_help_panel=_GRID,
        ),
    ] = None
    box: Annotated[
        str | None,
        typer.Option(
            "--box",
            metavar="W,S,E,N",
            help="Only this part of it, degrees WGS 84.",
            rich_help_panel=_GRID,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class PageOptions:
    """What maps and marks are to be like; None leaves the area's word."""

    name_length: NameLength = None
    basemap: Annotated[
        str | None,
        typer.Option(
            "--basemap",
            metavar="URL",
            help="Online base map, {z}/{x}/{y} in it; shown when ticked, its server then learns "
            "where you fish.",
            rich_help_panel=_PAGES,
        ),
    ] = None
    basemap_credit: Annotated[
        str | None,
        typer.Option(
            "--basemap-credit",
            metavar="TEXT",
            help="What its makers want said on the map.",
            rich_help_panel=_PAGES,
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class EffortOptions:
    """How a large grid is worked through; None leaves the choice."""

    chunk: Annotated[
        int | None,
        typer.Option(
            "--chunk",
            metavar="CELLS",
            min=16,
            help="Work in chunks of so many cells a side.  [2048, where there are over 40 million]",
            rich_help_panel=_EFFORT,
        ),
    ] = None
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs",
            metavar="N",
            min=1,
            help="Processes for work in chunks.  [as many as cores, at most 4]",
            rich_help_panel=_EFFORT,
        ),
    ] = None
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Work in chunks on this dask cluster.",
            rich_help_panel=_EFFORT,
        ),
    ] = None

    @property
    def asked(self) -> bool:
        """Whether something was said, so that even a small grid is worked through in chunks."""
        return any(word is not None for word in (self.chunk, self.jobs, self.scheduler))
