"""Options that mean the same thing in every command."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = [
    "DRIFT_SPEED",
    "AreaFile",
    "Band",
    "Basemap",
    "BasemapCredit",
    "Box",
    "CatchFiles",
    "ChartFiles",
    "Chunk",
    "Crs",
    "Day",
    "Depths",
    "DriftSpeed",
    "GridFiles",
    "Jobs",
    "Json",
    "LogFile",
    "NameLength",
    "Offset",
    "OutFolder",
    "Rods",
    "Scheduler",
    "Sign",
    "TrackFiles",
    "Unit",
    "Units",
    "Variable",
    "VerticalDatum",
    "WindWords",
]

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
        help="Units shown: feet, metres or fathoms, and what goes along.",
    ),
]
Depths = Annotated[
    str | None,
    typer.Option("--depths", metavar="LIST", help='Contours: "10,15,20 ft" or "10:60:5 ft".'),
]
Band = Annotated[
    str | None, typer.Option("--band", metavar="RANGE", help='Depth band: "17-25 ft".')
]
Basemap = Annotated[
    str | None,
    typer.Option(
        "--basemap",
        metavar="URL",
        help="Online base map, {z}/{x}/{y} in it; shown when ticked, its server then learns where "
        "you fish.",
    ),
]
BasemapCredit = Annotated[
    str | None,
    typer.Option("--basemap-credit", metavar="TEXT", help="What its makers want said on the map."),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for machines.")]
NameLength = Annotated[
    int | None,
    typer.Option("--name-length", metavar="N", help="Most letters in a mark's name [10]."),
]
Rods = Annotated[
    int | None, typer.Option("--rods", metavar="N", help="Rods that fished on each drift.")
]
Timezone = Annotated[
    str | None,
    typer.Option("--timezone", metavar="ZONE", help='Zone of local times: "Etc/GMT+2".'),
]
DRIFT_SPEED = "0.5-1.0 mph"
"""Speed over the ground wanted where none is said.  Common practice, no source."""

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
        help='"SW 8 kn"; by hour, one option each: "6:00 SW 8 kn"; or a CSV file.',
    ),
]
GridArguments = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="GRID…", help="Depth grids: files or web addresses.", show_default=False
    ),
]
GridFiles = Annotated[
    list[str] | None,
    typer.Option("--grid", metavar="FILE", help="Depth grid; more than once for several."),
]
TrackFiles = Annotated[
    list[Path],
    typer.Argument(metavar="TRACK…", help="Tracks: GPX, NMEA 0183 or CSV.", show_default=False),
]
CatchFiles = Annotated[
    list[Path] | None,
    typer.Option("--catches", metavar="FILE", help="Catch log; more than once for several."),
]
ChartFiles = Annotated[
    list[Path] | None,
    typer.Option(
        "--charts",
        metavar="FILE",
        help="Official chart cell (S-57 .000); more than once for several.",
    ),
]
Crs = Annotated[
    str | None,
    typer.Option("--crs", metavar="CODE", help='CRS of the grid, if not its own: "EPSG:32625".'),
]
Sign = Annotated[
    str | None,
    typer.Option(
        "--sign", metavar="WORD", help="What the grid's numbers are: auto, elevation, depth."
    ),
]
Unit = Annotated[
    str | None,
    typer.Option("--unit", metavar="UNIT", help="Unit of the grid's numbers: auto, m, ft, fm."),
]
VerticalDatum = Annotated[
    str | None,
    typer.Option(
        "--vertical-datum", metavar="NAME", help='What the grid\'s depths are from: "MLLW".'
    ),
]
Offset = Annotated[
    str | None,
    typer.Option("--offset", metavar="LENGTH", help='Added to every depth: "0.4 m".'),
]
Variable = Annotated[
    str | None, typer.Option("--variable", metavar="NAME", help="Band or variable of the grid.")
]
Chunk = Annotated[
    int | None,
    typer.Option(
        "--chunk", metavar="CELLS", min=16, help="Work in chunks of so many cells a side [2048]."
    ),
]
Jobs = Annotated[
    int | None,
    typer.Option(
        "--jobs", metavar="N", min=1, help="Processes for work in chunks [cores, at most 4]."
    ),
]
Scheduler = Annotated[
    str | None,
    typer.Option("--scheduler", metavar="ADDRESS", help="Work in chunks on this dask cluster."),
]
Box = Annotated[
    str | None,
    typer.Option("--box", metavar="W,S,E,N", help="Only this part of the grid, degrees WGS 84."),
]
LogFile = Annotated[
    Path | None,
    typer.Option("--log", metavar="FILE", help="The logbook; else the area file's own."),
]
