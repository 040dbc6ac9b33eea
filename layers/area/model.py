"""What an area is: the sections of its file, values in SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from layers.area._places import Position, place
from layers.area._tiles import tile_address
from layers.area.keys import (
    box,
    choice,
    count,
    day,
    degrees,
    depth_band,
    depth_list,
    duration,
    duration_or_never,
    duration_up_to,
    file,
    files,
    key,
    length,
    local_files,
    number,
    or_auto,
    speed,
    speed_range,
    text,
    timezone,
)
from seabed.notebook import NotebookTable

__all__ = [
    "Area",
    "Boat",
    "Charts",
    "Depths",
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
class Units:
    """Units shown to people."""

    depth: str = key("depth", "ft", choice("m", "ft", "fm"), "Depths: m, ft or fm (fathoms).")
    distance: str = key(
        "distance", "nm", choice("m", "km", "nm", "mi"), "Distances: m, km, nm or mi."
    )
    speed: str = key(
        "speed", "kn", choice("kn", "mph", "km/h", "m/s"), "Speeds: kn, mph, km/h or m/s."
    )
    fish: str = key("fish", "in", choice("in", "cm"), "Lengths of fish: in or cm.")


@dataclass(frozen=True, slots=True)
class GridSource:
    """Where the depths come from."""

    files: tuple[Path | str, ...] = key(
        "files", [], files, 'Depth grids, beside this file: ["sound.tif"]. Several are one mosaic.'
    )
    crs: str = key(
        "crs", "", text, 'Coordinate reference system if the file names none, like "EPSG:32625".'
    )
    sign: str = key(
        "sign",
        "auto",
        choice("auto", "elevation", "depth"),
        "auto; or elevation (numbers rise upward), or depth (numbers rise downward).",
    )
    unit: str = key("unit", "auto", choice("auto", "m", "ft", "fm"), "auto, m, ft or fm.")
    vertical_datum: str = key(
        "vertical_datum",
        "",
        text,
        'What depths are measured from, like "MLLW"; empty: as the file.',
    )
    offset_m: float = key(
        "offset",
        "0 m",
        length("0.4 m", least_m=-1000.0),
        "Added to every depth, to bring the grid to the tide's datum.",
    )
    variable: str = key(
        "variable", "", text, "Band or variable of the files, where they hold several."
    )
    box: tuple[float, float, float, float] | None = key(
        "box", "", box, 'Only this part: west,south,east,north in degrees, like "-34,46,-33,47".'
    )


@dataclass(frozen=True, slots=True)
class Charts:
    """Official charts, for what stands in the way and for their contours."""

    files: tuple[Path, ...] = key(
        "files",
        [],
        local_files,
        'Cells of official vector charts (S-57), beside this file: ["cell.000"].',
    )


@dataclass(frozen=True, slots=True)
class Depths:
    """The depths that matter."""

    band_m: tuple[float, float] = key(
        "band", "17-25 ft", depth_band, "The band of depth to look in."
    )
    contours_m: tuple[float, ...] = key(
        "contours", "10:60:5 ft", depth_list, "Contours: first:last:step, or a list: 10,15,20 ft."
    )


@dataclass(frozen=True, slots=True)
class StructureSettings:
    """How small a feature of the bottom still counts."""

    edge_scale_m: float | None = key(
        "edge_scale",
        "auto",
        or_auto(length("20 m", above=True)),
        "Edges: wiggles narrower than this are smoothed away; auto: 20 m, or two cells if more.",
        example="20 m",
    )
    edge_min_length_m: float | None = key(
        "edge_min_length",
        "auto",
        or_auto(length("80 m")),
        "Edges shorter than this are left out; auto: four times the scale.",
        example="80 m",
    )
    edge_min_drop_m: float = key(
        "edge_min_drop", "1 m", length("1 m"), "Edges that drop less than this are left out."
    )
    hump_min_height_m: float = key(
        "hump_min_height",
        "1 m",
        length("1 m", above=True),
        "Humps and holes lower than this are left out.",
    )
    significance: float | None = key(
        "significance",
        "auto",
        or_auto(number(0)),
        "How clear of the grid's noise humps, holes and contours must be, in standard deviations; "
        "auto: 4.5. 0 takes every sounding as it is, and drops from break to break.",
        example="4.5",
    )
    noise_m: float | None = key(
        "noise",
        "auto",
        or_auto(length("0.2 m")),
        "Standard deviation of the grid's noise; auto: measured.",
        example="0.2 m",
    )


@dataclass(frozen=True, slots=True)
class WaterSource:
    """Tide and current."""

    heights: Path | None = key(
        "heights", "", file, "Tide heights: a table of high and low water (CSV), or a station file."
    )
    currents: Path | None = key(
        "currents",
        "",
        file,
        "Currents: a table of slacks and greatest floods and ebbs (CSV), a station file, or a "
        "current learned from your drifts (JSON).",
    )
    flood_toward_deg: float | None = key(
        "flood_toward", None, degrees, "Where the flood runs to, degrees true.", example="40"
    )
    ebb_toward_deg: float | None = key(
        "ebb_toward", None, degrees, "Where the ebb runs to, degrees true.", example="220"
    )


@dataclass(frozen=True, slots=True)
class WindNow:
    """Wind, where a command is given none."""

    speed_mps: float = key(
        "speed",
        "0 kn",
        speed("8 kn", most="100 kn"),
        "Wind speed where a command is given none; 0 kn is a calm.",
    )
    from_deg: float = key("from", 0, degrees, "Where the wind comes from, degrees true.")
    gust_mps: float | None = key(
        "gust",
        None,
        speed("14 kn", most="100 kn"),
        "Speed of the gusts; left out: as the wind.",
        example='"14 kn"',
    )


@dataclass(frozen=True, slots=True)
class Boat:
    """The boat."""

    craft: str = key(
        "craft",
        "skiff, V-hull",
        text,
        "How the wind moves it: skiff, V-hull; skiff, outboard; skiff, aluminium; sport boat; "
        "sport fisher; kayak with a person.",
    )
    rods: int = key("rods", 2, count(1, 20), "Rods that fish on a drift.")
    running_speed_mps: float = key("running_speed", "20 kn", speed("20 kn"), "Speed between spots.")
    motor_limit_mps: float = key(
        "motor_limit",
        "2 kn",
        speed("2 kn"),
        "The most that the electric motor drives the boat through the water.",
    )
    wind_limit_mps: float = key(
        "wind_limit",
        "20 kn",
        speed("20 kn", most="100 kn", above=True),
        "No drift is planned in more wind than this (open boat of 5-6 m: common practice).",
    )
    gust_limit_mps: float = key(
        "gust_limit",
        "25 kn",
        speed("25 kn", most="100 kn", above=True),
        "No drift is planned in stronger gusts than this.",
    )
    current_limit_mps: float = key(
        "current_limit",
        "4 kn",
        speed("4 kn", most="25 kn", above=True),
        "No drift is planned in more current than this.",
    )
    darkness_limit: str = key(
        "darkness_limit",
        "civil twilight",
        choice("sunset", "civil twilight", "night"),
        "How dark it may get on a drift: sunset (from sunrise to sunset), civil twilight (while "
        "the horizon is seen), or night (no limit).",
    )
    draft_m: float | None = key(
        "draft",
        None,
        length("0.4 m"),
        "Depth of the keel below the waterline, for soundings told from the keel.",
        example='"0.4 m"',
    )
    transducer_m: float | None = key(
        "transducer",
        None,
        length("0.3 m"),
        "Depth of the sounder's transducer below the waterline; else as its log says.",
        example='"0.3 m"',
    )


@dataclass(frozen=True, slots=True)
class Planning:
    """What a plan keeps to."""

    launch: Position | None = key(
        "launch",
        "",
        place,
        "Where the boat starts from and comes back to, like \"46°11.400'N 033°24.600'W\".",
    )
    least_water_m: float = key(
        "least_water",
        "5 ft",
        length("5 ft"),
        "Least water under the boat on a drift, at that hour's tide.",
    )
    hazard_clearance_m: float = key(
        "hazard_clearance",
        "30 m",
        length("30 m"),
        "How far a drift keeps from rocks, wrecks, cables and fairways of the charts.",
    )
    correct_every_s: float = key(
        "correct_every",
        "5 min",
        duration_or_never("5 min", 60.0, 3600.0),
        "How often the skipper looks how far the boat is off its line, and corrects the motor's "
        'push; "never": it stays as the sheet says.',
    )
    shortest_drift_s: float = key(
        "shortest_drift",
        "10 min",
        duration_up_to(1800.0),
        "A drift shorter than this is not planned.",
    )


@dataclass(frozen=True, slots=True)
class TrackSettings:
    """Thresholds of cleaning and cutting tracks; see ``layers.tracks.CutSettings``."""

    drift_speed_mps: tuple[float, float] = key(
        "drift_speed",
        "0.1-2.5 kn",
        speed_range,
        "Slower or faster than this over the ground a track is no drift; a plan keeps to "
        "the drift speed that it is given.",
    )
    hold_radius_m: float = key(
        "hold_radius",
        "15 m",
        length("15 m", above=True),
        "A boat that stays within this of one place holds.",
    )
    shortest_slow_s: float = key(
        "shortest_slow",
        "90 s",
        duration,
        "A slow stretch shorter than this is no drift, unless an outing has several nearly so.",
        older="shortest_drift",
    )
    shortest_hold_s: float = key(
        "shortest_hold", "120 s", duration, "A stay shorter than this is no hold."
    )
    shortest_run_s: float = key(
        "shortest_run", "8 s", duration, "A burst of speed shorter than this ends no drift."
    )
    drift_toward_deg: float | None = key(
        "drift_toward",
        None,
        degrees,
        "Where drifts go, degrees true: slow legs back from it are returns under motor. "
        "Without it, speed decides.",
        example="200",
    )
    longest_gap_s: float = key(
        "longest_gap", "120 s", duration, "Longer than this without a fix is a gap."
    )
    outing_break_s: float = key(
        "outing_break", "4 h", duration, "Longer than this without a fix, another outing begins."
    )
    impossible_speed_mps: float = key(
        "impossible_speed",
        "40 m/s",
        speed("40 m/s"),
        "A fix only to be reached faster than this is set aside.",
    )
    position_slack_m: float = key(
        "position_slack",
        "30 m",
        length("30 m", above=True),
        "How far apart two fixes of a boat lying still may be.",
    )


@dataclass(frozen=True, slots=True)
class Lines:
    """When drifts count as the same line."""

    corridor_m: float = key(
        "corridor",
        "40 m",
        length("40 m", above=True),
        "Drifts that keep within this of each other, the same way, are one line.",
    )


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks for the plotter."""

    name_length: int = key(
        "name_length", 10, count(4, 60), "The most letters a mark's name may have."
    )


@dataclass(frozen=True, slots=True)
class Maps:
    """Maps, which load nothing from outside unless a base map is named."""

    basemap: str = key(
        "basemap",
        "",
        tile_address,
        "Address of an online base map, {z}/{x}/{y} in it; its server then learns where you fish.",
    )
    basemap_credit: str = key(
        "basemap_credit", "", text, "What the base map's makers want said on the map."
    )


@dataclass(frozen=True, slots=True)
class LogbookFile:
    """The season's logbook."""

    file: Path | None = key(
        "file", "", file, 'Trips are added to it: "logbook.gpkg"; empty: to none.'
    )


@dataclass(frozen=True, slots=True)
class SpeciesRule:
    """The local rule for a species, as the skipper looked it up."""

    min_length_m: float | None = key(
        "min_length", None, length("14 in"), "Shorter ones go back.", example='"14 in"'
    )
    daily_bag: int | None = key(
        "daily_bag", None, count(0, 1000), "The most one person may keep a day.", example="4"
    )
    checked: date | None = key(
        "checked", None, day, "The day the rule was last looked up.", example="2031-05-01"
    )


@dataclass(frozen=True, slots=True)
class Area(NotebookTable):
    """A piece of water.

    Attributes
    ----------
    name, timezone : str
    units, grid, charts, depths, structure, water, wind, boat, plan, tracks, lines, marks, map,
    logbook
        Sections of the file, values in SI.
    species : dict of str to SpeciesRule
        By the species' name as written.
    file : Path or None
        The area file; None for the defaults.
    """

    name: str = key("name", "", text, "What the water is called on maps and sheets.")
    timezone: str = key(
        "timezone",
        "UTC",
        timezone,
        'Zone of local times, like "Atlantic/Azores" or "Etc/GMT+2" (two hours west).',
    )
    units: Units = field(default_factory=Units)
    grid: GridSource = field(default_factory=GridSource)
    charts: Charts = field(default_factory=Charts)
    depths: Depths = field(default_factory=Depths)
    structure: StructureSettings = field(default_factory=StructureSettings)
    water: WaterSource = field(default_factory=WaterSource)
    wind: WindNow = field(default_factory=WindNow)
    boat: Boat = field(default_factory=Boat)
    plan: Planning = field(default_factory=Planning)
    tracks: TrackSettings = field(default_factory=TrackSettings)
    lines: Lines = field(default_factory=Lines)
    marks: Marks = field(default_factory=Marks)
    map: Maps = field(default_factory=Maps)
    logbook: LogbookFile = field(default_factory=LogbookFile)
    species: dict[str, SpeciesRule] = field(default_factory=dict)
    file: Path | None = None
