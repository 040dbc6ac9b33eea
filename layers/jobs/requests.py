"""Requests of the jobs: plain values, as people write them.  Imports nothing heavy.

Every field is described once, here or in `layers.jobs.options`.  The command line derives its
options from that.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from layers.jobs.options import (
    DRIFT_SPEED,
    AnswerFields,
    FormatFields,
    GridFields,
    PageFields,
    Request,
    argument,
    option,
)


def _grids() -> Any:
    """Describe the grids that a job works on."""
    return argument(
        "GRID",
        "Depth grids of the water: files or web addresses. Several are one mosaic.",
        (),
        overrules="grid.files",
    )


@dataclass(frozen=True, kw_only=True)
class DemoRequest(Request):
    """The main job on an invented sound."""

    out: Path = Path("demo_out")
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class AreaRequest(Request):
    """An area file with a line about every key, and the values that are known."""

    out: Path = option(Path("area.toml"), "FILE", "The file to write.")
    name: str | None = option(None, "TEXT", "Name of the water.", overrules="area.name")
    grid: tuple[str, ...] = ()
    timezone: str | None = None
    date_order: str | None = None
    band: str | None = None
    contours: str | None = None
    templates: bool = option(
        False,
        help="Also write empty tables to fill in (catches, tides, currents, wind, soundings; CSV, "
        "XLSX), into a folder 'templates' beside the area file.",
    )
    replace: bool = option(False, help="Overwrite an existing file.")


@dataclass(frozen=True, kw_only=True)
class CheckRequest(AnswerFields, FormatFields):
    """A check of files before use."""

    files: tuple[str, ...] = argument("FILE", "Files of any kind, or a grid's address.")
    area: Path | None = None
    length_unit: str | None = None
    units: str | None = None


@dataclass(frozen=True, kw_only=True)
class ScoutRequest(GridFields, PageFields):
    """Structure on a depth grid, and where to look first."""

    grid: tuple[str, ...] = _grids()
    area: Path | None = None
    contours: str | None = None
    band: str | None = None
    charts: tuple[Path, ...] = ()
    against: Path | None = option(
        None, "GRID", "An older survey of this ground, to show where the bottom has moved."
    )
    unmatched: bool = option(
        False,
        help="With {against}: compare the surveys as they are, without matching their level, "
        "place and smoothing.",
    )
    out: Path = Path("scouted")
    units: str | None = None
    chunk: int | None = None
    jobs: int | None = None
    scheduler: str | None = None
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class TideRequest(AnswerFields):
    """The day's tide, current, wind and drift; with `learn` the current instead."""

    area: Path | None = None
    date: str | None = None
    heights: Path | None = None
    currents: str | None = None
    station: str | None = option(
        None,
        "SOURCE",
        "Tide or current station: a JSON file, or a web address to download; kept as a "
        "station file in {out}.",
    )
    station_id: str | None = option(None, "ID", "Station to use, if the source has several.")
    flood_toward: float | None = None
    wind: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
    pressure: str | None = None
    line: str | None = option(
        None,
        "WORDS",
        "Your line while the boat holds, to read the current from: "
        '"30 deg toward 160, 1.5 oz, 25 ft"; with a time before it, it corrects the table.',
    )
    drift_speed: str = DRIFT_SPEED
    slack_below: str = option("0.2 kn", "SPEED", "Slack water is slower than this.")
    learn: tuple[Path, ...] = option(
        (), "TRACK", "Learn the current from drifts on your tracks; more than once for several."
    )
    beyond_limits: bool = False
    every: int = option(60, "MINUTES", "Minutes between rows.", least=1, most=180)
    out: Path | None = option(
        None, "DIR", "Folder for the table (CSV), picture (SVG) and calendar (ICS)."
    )
    units: str | None = None
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class PlanRequest(AnswerFields, GridFields):
    """The drift lines of a day; with `again` the next times for one of the logbook."""

    area: Path | None = None
    date: str | None = None
    begin: str = option("7:00", "TIME", "First lines down, like 7:00.", name="from")
    end: str = option("13:00", "TIME", "Last lines up, like 13:00.", name="to")
    heights: Path | None = None
    currents: str | None = None
    flood_toward: float | None = None
    wind: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
    pressure: str | None = None
    drift_speed: str = DRIFT_SPEED
    free: bool = option(False, help="Plan drifts without the motor.")
    why: bool = option(
        False, help="Also print the reasons for each line, every run and pass, and other weather."
    )
    beside: str | None = option(
        None, "LINE", "Add passes beside this line of the plan or the logbook."
    )
    spacing: str = option("20 m", "LENGTH", "Distance between passes beside a line.")
    each_side: int = option(1, "N", "Passes on each side of the line.")
    again: str | None = option(
        None,
        "LINE|DRIFT",
        "Instead of a plan: when the tide next runs as on this line or drift of the logbook.",
    )
    paper: str = "A4"
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
    """Drifts on tracks, the fish on them, and lines ranked."""

    tracks: tuple[Path, ...] = argument(
        "TRACK", "Tracks: GPX, NMEA 0183 or tables, or a folder of them."
    )
    grid: tuple[str, ...] = ()
    catches: tuple[Path, ...] = ()
    length_unit: str | None = None
    photos: tuple[Path, ...] = option(
        (), "FILE|DIR", "Photos of fish, or a folder of them; more than once for several."
    )
    area: Path | None = None
    band: str | None = None
    contours: str | None = None
    rods: int | None = None
    clock_offset: str | None = option(
        None, "TIME", 'How far the catch log\'s clock was ahead: "90 s", "-2 min"; "auto" finds it.'
    )
    track_clock: str | None = option(
        None, "TIME", 'How far the track\'s clock was ahead: "-7 h" if it wrote local time as UTC.'
    )
    photo_offset: str | None = option(
        None, "TIME", "How far the camera's clock was ahead.  [found from its photos]"
    )
    corrections: tuple[Path, ...] = option(
        (),
        "FILE",
        "File of corrections by hand, besides TRACK.corrections.txt; more than once for several.",
    )
    salvage: bool = option(False, help="Use a damaged track up to the damage.")
    wind: tuple[str, ...] = ()
    log: Path | None = None
    replace: bool = option(
        False,
        help="Log the trip even if the logbook loses fish, track or whole trips; overwrite files "
        "that are not results of an earlier run.",
    )
    out: Path = Path("trips")
    units: str | None = None


@dataclass(frozen=True, kw_only=True)
class SeasonRequest(PageFields):
    """One action on a logbook; by default, list its trips."""

    log: Path | None = None
    area: Path | None = None
    show: str | None = option(None, "TRIP", "Show one trip, drift by drift.")
    remove: str | None = option(None, "TRIP", "Remove a trip.")
    rank: bool = option(False, help="Rank the lines of all trips; write map and marks.")
    onto: str | None = option(
        None, "GRID", "With {rank}: also map expected fish over the depth grid of other water."
    )
    species: tuple[str, ...] = option(
        (), "NAME", "With {rank}: only fish of this species; more than once for several."
    )
    months: str | None = option(
        None, "RANGE", "With {rank}: only drifts of these months, like 5-9."
    )
    stage: str | None = option(
        None,
        "flood|ebb|stand",
        "With {rank}: only drifts at this stage of the tide.",
        words=("flood", "ebb", "stand"),
    )
    wind_between: str | None = option(
        None, "RANGE", 'With {rank}: only drifts in this wind, like "0-10 kn".'
    )
    export: str | None = option(
        None,
        "csv|geojson|geoparquet",
        "Export every table in this form.",
        words=("csv", "geojson", "geoparquet"),
    )
    merge: Path | None = option(None, "FILE", "Add another logbook's trips.")
    prefer_other: bool = option(False, help="With {merge}: keep the other's trip if both differ.")
    share: Path | None = option(None, "FILE", "Write a copy that gives no spot away.")
    coarse: str | None = option(
        None, "LENGTH", "With {share}: size of the squares that replace positions.  [default: 2 km]"
    )
    update: bool = option(False, help="Bring an older logbook up to date, after a backup.")
    restore: str | None = option(None, "BACKUP", 'Restore a backup: "last", or its name.')
    repair: bool = option(False, help="Repair a damaged logbook: keep the trips that are whole.")
    out: Path = Path("season")
    units: str | None = None
    replace: bool = False


DEPTHS_FROM: Final = ("transducer", "surface", "keel")


@dataclass(frozen=True, kw_only=True)
class SoundingsRequest(AnswerFields, GridFields):
    """Own soundings merged onto an open grid."""

    logs: tuple[Path, ...] = argument(
        "LOG", "Sounder's logs: NMEA 0183, GPX or tables with depths."
    )
    area: Path | None = None
    grid: tuple[str, ...] = ()
    out: Path = Path("soundings")
    heights: Path | None = None
    no_tide: bool = option(False, help="Remove no tide, and use only the shape of the bottom.")
    transducer: str | None = option(
        None,
        "LENGTH",
        'Depth of the transducer below the waterline, like "0.4 m"; else as the log says.',
        overrules="boat.transducer",
    )
    draft: str | None = option(
        None,
        "LENGTH",
        'Depth of the keel below the waterline, like "0.5 m".',
        overrules="boat.draft",
    )
    depths_from: str | None = option(
        None,
        "|".join(DEPTHS_FROM),
        "Where depths count from.  [as the kind of log]",
        words=DEPTHS_FROM,
    )
    lag: str = option("auto", "TIME", 'How late the sounder is: "1.2 s"; auto finds it.')
    cell: str | None = option(
        None, "LENGTH", "Approximate size of cells.  [by the density of soundings]"
    )
    reach: str | None = option(
        None, "LENGTH", "Blank further than this from soundings.  [by the roughness of the bottom]"
    )
    tide_error: str | None = option(
        None, "LENGTH", "Standard deviation of the tide.  [default: 0.2 m]"
    )
    next_lines: str = option(
        "2 nm", "LENGTH", "Total length of lines to sound next; 0 m for none.", name="next"
    )
    band: str | None = None
    date: str | None = option(None, "DAY", "UTC day of a log without dates: 2031-06-14.")
    salvage: bool = option(False, help="Use a damaged GPX file up to the damage.")
    units: str | None = None
    replace: bool = False


@dataclass(frozen=True, kw_only=True)
class MarksRequest(Request):
    """Marks of lines, edges, humps and holes from earlier results."""

    results: tuple[Path, ...] = argument("FILE", "GeoPackages that scout or trip wrote.")
    line: tuple[str, ...] = option(
        (), "NAME", "Only this line or place (R1); more than once for several."
    )
    best: int | None = option(None, "N", "Only the N best lines or places.")
    out: Path = option(Path("marks.gpx"), "FILE", "The GPX file to write.")
    area: Path | None = None
    units: str | None = None
    name_length: int | None = None
    symbols: tuple[str, ...] = option(
        (),
        "KIND: NAME",
        'Your plotter\'s symbol for a kind of mark, "drift start: green dot"; more '
        "than once for several.",
        overrules="marks.symbols",
    )
    replace: bool = False


PICTURE_KINDS: Final = ("mbtiles", "gpkg", "kmz", "pdf")


@dataclass(frozen=True, kw_only=True)
class PictureRequest(GridFields):
    """The bottom as tiles and as a page, for programs that show one's position on it."""

    grid: tuple[str, ...] = _grids()
    area: Path | None = None
    structure: tuple[Path, ...] = option(
        (), "FILE", "GeoPackages of {seabed scout}: edges, humps and holes.  [searched]"
    )
    charts: tuple[Path, ...] = ()
    contours: str | None = None
    band: str | None = None
    kind: tuple[str, ...] = option(
        (), help="Only this kind of file; more than once for several.  [all]", words=PICTURE_KINDS
    )
    zoom: str | None = option(
        None, "RANGE", 'Zoom levels of the tiles, like "10-16".  [to one pixel a cell]'
    )
    paper: str = "A4"
    credit: str | None = option(None, "TEXT", "Credit that the makers of the depths ask for.")
    estimate: bool = option(False, help="Only show zooms and sizes; write nothing.")
    out: Path = Path("picture")
    units: str | None = None
    replace: bool = False


def request_of(job: str) -> type[Request]:
    """Give the request of a job: `TripRequest` of ``"trip"``."""
    request: type[Request] = globals()[f"{job.capitalize()}Request"]
    return request
