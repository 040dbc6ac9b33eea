"""What can be asked of the jobs: plain values, as they are written; nothing heavy is loaded.

Every field is described once, here or in `layers.jobs.options`.  The command line derives its
options from that.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layers.jobs.options import (
    DRIFT_SPEED,
    AnswerFields,
    FormatFields,
    GridFields,
    PageFields,
    Request,
    option,
)
from layers.present.sheet.paper import PAPERS

__all__ = [
    "DEPTHS_FROM",
    "PICTURE_KINDS",
    "AreaRequest",
    "CheckRequest",
    "DemoRequest",
    "MarksRequest",
    "PictureRequest",
    "PlanRequest",
    "ScoutRequest",
    "TideRequest",
    "TripRequest",
]


PAPER_WORDS: Final = "Paper to print on; card is for a small pouch, large is large print."


@dataclass(frozen=True, kw_only=True)
class DemoRequest(Request):
    """The main job on an invented sound."""

    out: Path = Path("demo_out")
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class AreaRequest(Request):
    """An area file with a line about every key, and what is known already."""

    out: Path = option(Path("area.toml"), metavar="FILE", help="The file to write.")
    name: str | None = option(
        None, metavar="TEXT", help="What the water is called.", overrules="area.name"
    )
    grid: tuple[str, ...] = ()
    timezone: str | None = None
    date_order: str | None = None
    band: str | None = None
    contours: str | None = None
    templates: bool = option(
        False,
        help="Write empty tables to fill in too (catches, tides, currents, wind, soundings; CSV, "
        "XLSX), in a folder 'templates' beside the area file.",
    )
    replace: bool = option(False, help="Write over a file that is there.")


@dataclass(frozen=True, kw_only=True)
class CheckRequest(AnswerFields, FormatFields):
    """A look at files before they are used."""

    files: tuple[str, ...] = option(
        metavar="FILE", help="Files of any kind, or a grid's address.", argument=True
    )
    area: Path | None = None
    length_unit: str | None = None
    units: str | None = None


@dataclass(frozen=True, kw_only=True)
class ScoutRequest(GridFields, PageFields):
    """What the bottom of a depth grid holds, and where to look first."""

    grid: tuple[str, ...] = option(
        (),
        metavar="GRID",
        help="Depth grids of the water: files or web addresses. Several are one mosaic.",
        overrules="grid.files",
        argument=True,
    )
    area: Path | None = None
    contours: str | None = None
    band: str | None = None
    charts: tuple[Path, ...] = ()
    against: Path | None = option(
        None,
        metavar="GRID",
        help="An older survey of this ground: shows where the bottom moved since.",
    )
    unmatched: bool = option(
        False,
        help="With {against}: compare the surveys as they are; else level, place and smoothing are "
        "matched by ground that stayed.",
    )
    out: Path = Path("scouted")
    units: str | None = None
    chunk: int | None = None
    jobs: int | None = None
    scheduler: str | None = None
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class TideRequest(AnswerFields):
    """Tide, current, wind and drift through a day; with `learn` the current instead."""

    area: Path | None = None
    date: str | None = None
    heights: Path | None = None
    currents: str | None = None
    station: str | None = option(
        None,
        metavar="SOURCE",
        help="A tide or current station to use: JSON file, or web address to fetch it from; kept "
        "as a station file in {out}.",
    )
    station_id: str | None = option(
        None, metavar="ID", help="Which one, where the source holds several."
    )
    flood_toward: float | None = None
    wind: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
    pressure: str | None = None
    line: str | None = option(
        None,
        metavar="WORDS",
        help="A line of the boat at hold, and the current that it shows: "
        '"30 deg toward 160, 1.5 oz, 25 ft"; with a time before it, it corrects the table.',
    )
    drift_speed: str = DRIFT_SPEED
    slack_below: str = option("0.2 kn", metavar="SPEED", help="Water slower than this is slack.")
    learn: tuple[Path, ...] = option(
        (),
        metavar="TRACK",
        help="Learn the current from the drifts of own tracks; more than once for several.",
    )
    beyond_limits: bool = False
    every: int = option(60, metavar="MINUTES", help="Minutes between rows.", least=1, most=180)
    out: Path | None = option(
        None, metavar="DIR", help="Folder for the table (CSV), picture (SVG) and calendar (ICS)."
    )
    units: str | None = None
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class PlanRequest(AnswerFields, GridFields):
    """The drift lines of a day; with `again` the next times for one of the logbook."""

    area: Path | None = None
    date: str | None = None
    begin: str = option("7:00", metavar="TIME", help="First lines down, like 7:00.", name="from")
    end: str = option("13:00", metavar="TIME", help="Last lines up, like 13:00.", name="to")
    heights: Path | None = None
    currents: str | None = None
    flood_toward: float | None = None
    wind: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
    pressure: str | None = None
    drift_speed: str = DRIFT_SPEED
    free: bool = option(False, help="Drift free: no motor holds the boat to the water.")
    why: bool = option(
        False, help="Print the reasons for each line, every run and pass, and other weather too."
    )
    beside: str | None = option(
        None,
        metavar="LINE",
        help="Lay passes beside this line of the plan, or beside one of the logbook in it.",
    )
    spacing: str = option("20 m", metavar="LENGTH", help="Room between passes beside a line.")
    each_side: int = option(1, metavar="N", help="Passes to either side of the line.")
    again: str | None = option(
        None,
        metavar="LINE|DRIFT",
        help="Instead of a plan: when the tide next runs as it did on this one of the logbook.",
    )
    paper: str = option(
        "A4",
        metavar="|".join(PAPERS),
        help=PAPER_WORDS,
        words=tuple(PAPERS),
    )
    beyond_limits: bool = False
    grid: tuple[str, ...] = ()
    charts: tuple[Path, ...] = ()
    log: Path | None = None
    band: str | None = None
    units: str | None = None
    out: Path = Path("plan")
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class TripRequest(AnswerFields, GridFields, PageFields):
    """What tracks and catches say: drifts, fish on them, and lines ranked."""

    tracks: tuple[Path, ...] = option(
        metavar="TRACK", help="Tracks: GPX, NMEA 0183 or CSV, or a folder of them.", argument=True
    )
    grid: tuple[str, ...] = ()
    catches: tuple[Path, ...] = ()
    length_unit: str | None = None
    photos: tuple[Path, ...] = option(
        (),
        metavar="FILE|DIR",
        help="Photos of fish, or a folder of them; more than once for several.",
    )
    area: Path | None = None
    band: str | None = None
    contours: str | None = None
    rods: int | None = None
    clock_offset: str | None = option(
        None,
        metavar="TIME",
        help='How far the catch log\'s clock was ahead: "90 s", "-2 min"; "auto" finds it.',
    )
    track_clock: str | None = option(
        None,
        metavar="TIME",
        help='How far the track\'s clock was ahead: "-7 h" where it wrote local time as UTC.',
    )
    photo_offset: str | None = option(
        None,
        metavar="TIME",
        help="How far the camera's clock was ahead; else found from its photos.",
    )
    corrections: tuple[Path, ...] = option(
        (),
        metavar="FILE",
        help="Corrections by hand, beside those in TRACK.corrections.txt; more than once for "
        "several.",
    )
    salvage: bool = option(False, help="Of a damaged track use what comes before the damage.")
    wind: tuple[str, ...] = ()
    log: Path | None = None
    replace: bool = option(
        False,
        help="Log it even where the logbook loses fish, track or whole trips by it; and write over "
        "files that are not results of an earlier run.",
    )
    out: Path = Path("trips")
    units: str | None = None


@dataclass(frozen=True, kw_only=True)
class SeasonRequest(PageFields):
    """One thing done with a logbook; its trips listed where nothing is said."""

    log: Path | None = None
    area: Path | None = None
    show: str | None = option(None, metavar="TRIP", help="Show one trip, drift by drift.")
    remove: str | None = option(None, metavar="TRIP", help="Take a trip out.")
    rank: bool = option(False, help="Rank the lines of all trips; write map and marks.")
    onto: str | None = option(
        None,
        metavar="GRID",
        help="With {rank}: expected fish over this depth grid of other water too.",
    )
    species: tuple[str, ...] = option(
        (),
        metavar="NAME",
        help="With {rank}: fish of this species alone; more than once for several.",
    )
    months: str | None = option(
        None, metavar="RANGE", help="With {rank}: drifts of these months alone, like 5-9."
    )
    stage: str | None = option(
        None,
        metavar="WORD",
        help="With {rank}: drifts on the flood, the ebb or at slack alone.",
        words=("flood", "ebb", "slack"),
    )
    wind_between: str | None = option(
        None, metavar="RANGE", help='With {rank}: drifts in this much wind alone, like "0-10 kn".'
    )
    export: str | None = option(
        None,
        metavar="KIND",
        help="Write out every table as csv, geojson or geoparquet.",
        words=("csv", "geojson", "geoparquet"),
    )
    merge: Path | None = option(None, metavar="FILE", help="Add another logbook's trips.")
    prefer_other: bool = option(False, help="With {merge}: take the other's where both differ.")
    share: Path | None = option(None, metavar="FILE", help="Write a copy that gives no spot away.")
    coarse: str | None = option(
        None,
        metavar="LENGTH",
        help="With {share}: how coarse its positions are.  [default: 2 km]",
    )
    update: bool = option(False, help="Bring an older logbook up to date, after a backup.")
    restore: str | None = option(
        None, metavar="BACKUP", help='Bring a backup back: "last", or its name.'
    )
    repair: bool = option(False, help="Keep the whole trips that can be read of a damaged logbook.")
    out: Path = Path("season")
    units: str | None = None
    replace: bool = False


DEPTHS_FROM: Final = ("transducer", "surface", "keel")


@dataclass(frozen=True, kw_only=True)
class SoundingsRequest(AnswerFields, GridFields):
    """Own soundings laid on an open grid."""

    logs: tuple[Path, ...] = option(
        metavar="LOG",
        help="Sounder's logs: NMEA 0183, GPX or CSV with depths.",
        argument=True,
    )
    area: Path | None = None
    grid: tuple[str, ...] = ()
    out: Path = Path("soundings")
    heights: Path | None = None
    no_tide: bool = option(False, help="Take no tide off; only the shape counts then.")
    transducer: str | None = option(
        None,
        metavar="LENGTH",
        help='Transducer below the waterline, like "0.4 m"; else as the log says.',
        overrules="boat.transducer",
    )
    draft: str | None = option(
        None,
        metavar="LENGTH",
        help='Keel below the waterline, like "0.5 m".',
        overrules="boat.draft",
    )
    depths_from: str | None = option(
        None,
        metavar="WORD",
        help="What depths are from: transducer, surface or keel.  [as the kind of log]",
        words=DEPTHS_FROM,
    )
    lag: str = option(
        "auto", metavar="TIME", help='How late the sounder is: "1.2 s"; auto finds it.'
    )
    cell: str | None = option(
        None,
        metavar="LENGTH",
        help="About how large cells of the result are.  [by how dense soundings lie]",
    )
    reach: str | None = option(
        None,
        metavar="LENGTH",
        help="Further from soundings than this it is blank.  [by how rough the bottom is]",
    )
    tide_error: str | None = option(
        None, metavar="LENGTH", help="Standard deviation of the tide.  [default: 0.2 m]"
    )
    next_lines: str = option(
        "2 nm", metavar="LENGTH", help="Length of lines to sound next; 0 m: none.", name="next"
    )
    band: str | None = None
    date: str | None = option(
        None, metavar="DAY", help="UTC day of logs that say none: 2031-06-14."
    )
    salvage: bool = option(False, help="Of a damaged GPX keep what comes before the damage.")
    units: str | None = None
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class MarksRequest(Request):
    """Marks of lines, edges, humps and holes that earlier jobs found."""

    results: tuple[Path, ...] = option(
        metavar="FILE", help="GeoPackages that scout or trip wrote.", argument=True
    )
    line: tuple[str, ...] = option(
        (), metavar="NAME", help="Only this line or place (R1); more than once for several."
    )
    best: int | None = option(None, metavar="N", help="Only the N best lines or places.")
    out: Path = option(Path("marks.gpx"), metavar="FILE", help="The GPX file to write.")
    area: Path | None = None
    units: str | None = None
    name_length: int | None = None
    symbols: tuple[str, ...] = option(
        (),
        metavar="KIND: NAME",
        help='What your plotter calls the symbol of a kind of mark, "drift start: green dot"; more '
        "than once for several.",
        overrules="marks.symbols",
    )
    replace: bool = False


PICTURE_KINDS: Final = ("mbtiles", "gpkg", "kmz", "pdf")


@dataclass(frozen=True, kw_only=True)
class PictureRequest(GridFields):
    """The bottom as tiles and as a page, for programs that show one's own position on it."""

    grid: tuple[str, ...] = option(
        (),
        metavar="GRID",
        help="Depth grids of the water: files or web addresses. Several are one mosaic.",
        overrules="grid.files",
        argument=True,
    )
    area: Path | None = None
    structure: tuple[Path, ...] = option(
        (),
        metavar="FILE",
        help="GeoPackages that {seabed scout} wrote: edges, humps and holes.  [searched for]",
    )
    charts: tuple[Path, ...] = ()
    contours: str | None = None
    band: str | None = None
    kind: tuple[str, ...] = option(
        (),
        metavar="|".join(PICTURE_KINDS),
        help="Only this kind of file; more than once for several.  [all]",
        words=PICTURE_KINDS,
    )
    zoom: str | None = option(
        None,
        metavar="RANGE",
        help='Zooms of the tiles, like "10-16".  [to one pixel a cell]',
    )
    paper: str = option("A4", metavar="|".join(PAPERS), help=PAPER_WORDS, words=tuple(PAPERS))
    credit: str | None = option(
        None, metavar="TEXT", help="Credit line that the makers of the depths ask for."
    )
    estimate: bool = option(False, help="Say zooms and sizes; write nothing.")
    out: Path = Path("picture")
    units: str | None = None
    replace: bool = False
