"""What an area is: the sections of its file, values in SI."""

from __future__ import annotations

import math
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
    headings,
    key,
    length,
    length_key,
    local_files,
    number,
    or_auto,
    speed_key,
    speed_range,
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

    depth: str = key("ft", choice("m", "ft", "fm"), "Depths: m, ft or fm (fathoms).")
    distance: str = key("nm", choice("m", "km", "nm", "mi"), "Distances: m, km, nm or mi.")
    speed: str = key("kn", choice("kn", "mph", "km/h", "m/s"), "Speeds: kn, mph, km/h or m/s.")
    fish: str = key("in", choice("in", "cm"), "Lengths of fish: in or cm.")


@dataclass(frozen=True, slots=True)
class GridSource:
    """Where the depths come from."""

    files: tuple[Path | str, ...] = key(
        [], files, 'Depth grids, beside this file: ["sound.tif"]. Several are one mosaic.'
    )
    crs: str = key(
        "", text, 'Coordinate reference system if the file names none, like "EPSG:32625".'
    )
    sign: str = key(
        "auto",
        choice("auto", "elevation", "depth"),
        "auto; or elevation (numbers rise upward), or depth (numbers rise downward).",
    )
    unit: str = key("auto", choice("auto", "m", "ft", "fm"), "auto, m, ft or fm.")
    vertical_datum: str = key(
        "", text, 'What depths are measured from, like "MLLW"; empty: as the file.'
    )
    offset_m: float = length_key(
        "0 m",
        "Added to every depth, to bring the grid to the tide's datum.",
        like="0.4 m",
        least_m=-1000.0,
    )
    variable: str = key("", text, "Band or variable of the files, where they hold several.")
    box: tuple[float, float, float, float] | None = key(
        "", box, 'Only this part: west,south,east,north in degrees, like "-34,46,-33,47".'
    )


@dataclass(frozen=True, slots=True)
class Charts:
    """Official charts, for what stands in the way and for their contours."""

    files: tuple[Path, ...] = key(
        [], local_files, 'Cells of official vector charts (S-57), beside this file: ["cell.000"].'
    )


@dataclass(frozen=True, slots=True)
class Depths:
    """The depths that matter."""

    band_m: tuple[float, float] | None = key(
        "",
        depth_band,
        "The band of depth to look in; without one all depths count alike.",
        example="20-30 ft",
    )
    contours_m: tuple[float, ...] | None = key(
        "auto",
        or_auto(depth_list),
        "Contours: first:last:step, or a list: 10,15,20 ft; auto: a dozen over the grid's depths.",
        example="10:60:5 ft",
    )

    @property
    def sought_m(self) -> tuple[float, float]:
        """The band, or every depth where there is none."""
        return (-math.inf, math.inf) if self.band_m is None else self.band_m


@dataclass(frozen=True, slots=True)
class StructureSettings:
    """How small a feature of the bottom still counts."""

    edge_scale_m: float | None = key(
        "auto",
        or_auto(length("20 m", above=True)),
        "Edges: wiggles narrower than this are smoothed away; auto: 20 m, or two cells if more.",
        example="20 m",
    )
    edge_min_length_m: float | None = key(
        "auto",
        or_auto(length("80 m")),
        "Edges shorter than this are left out; auto: four times the scale.",
        example="80 m",
    )
    edge_min_drop_m: float = length_key("1 m", "Edges that drop less than this are left out.")
    hump_min_height_m: float = length_key(
        "1 m", "Humps and holes lower than this are left out.", above=True
    )
    significance: float | None = key(
        "auto",
        or_auto(number(0)),
        "How clear of the grid's noise humps, holes and contours must be, in standard deviations; "
        "auto: 4.5. 0 takes every sounding as it is, and drops from break to break.",
        example="4.5",
    )
    noise_m: float | None = key(
        "auto",
        or_auto(length("0.2 m")),
        "Standard deviation of the grid's noise; auto: measured.",
        example="0.2 m",
    )


@dataclass(frozen=True, slots=True)
class WaterSource:
    """Tide and current."""

    heights: Path | None = key(
        "", file, "Tide heights: a table of high and low water (CSV), or a station file."
    )
    currents: Path | None = key(
        "",
        file,
        "Currents: a table of slacks and greatest floods and ebbs (CSV), a station file, or a "
        "current learned from your drifts (JSON).",
    )
    flood_toward_deg: float | None = key(
        None, degrees, "Where the flood runs to, degrees true.", example="40"
    )
    ebb_toward_deg: float | None = key(
        None, degrees, "Where the ebb runs to, degrees true.", example="220"
    )


@dataclass(frozen=True, slots=True)
class WindNow:
    """Wind, where a command is given none."""

    speed_mps: float = speed_key(
        "0 kn",
        "Wind speed where a command is given none; 0 kn is a calm.",
        like="8 kn",
        most="100 kn",
    )
    from_deg: float = key(0, degrees, "Where the wind comes from, degrees true.")
    gust_mps: float | None = speed_key(
        None, "Speed of the gusts; left out: as the wind.", like="14 kn", most="100 kn"
    )


@dataclass(frozen=True, slots=True)
class Boat:
    """The boat."""

    craft: str = key(
        "skiff, V-hull",
        text,
        "How the wind moves it: skiff, V-hull; skiff, outboard; skiff, aluminium; sport boat; "
        "sport fisher; kayak with a person.",
    )
    rods: int = key(2, count(1, 20), "Rods that fish on a drift.")
    running_speed_mps: float = speed_key("20 kn", "Speed between spots.")
    motor_limit_mps: float = speed_key(
        "2 kn", "The most that the electric motor drives the boat through the water."
    )
    wind_limit_mps: float = speed_key(
        "20 kn",
        "No drift is planned in more wind than this (open boat of 5-6 m: common practice).",
        most="100 kn",
        above=True,
    )
    gust_limit_mps: float = speed_key(
        "25 kn", "No drift is planned in stronger gusts than this.", most="100 kn", above=True
    )
    current_limit_mps: float = speed_key(
        "4 kn", "No drift is planned in more current than this.", most="25 kn", above=True
    )
    darkness_limit: str = key(
        "civil twilight",
        choice("sunset", "civil twilight", "night"),
        "How dark it may get on a drift: sunset (from sunrise to sunset), civil twilight (while "
        "the horizon is seen), or night (no limit).",
    )
    draft_m: float | None = length_key(
        None,
        "Depth of the keel below the waterline, for soundings told from the keel.",
        like="0.4 m",
    )
    transducer_m: float | None = length_key(
        None,
        "Depth of the sounder's transducer below the waterline; else as its log says.",
        like="0.3 m",
    )


@dataclass(frozen=True, slots=True)
class Planning:
    """What a plan keeps to."""

    launch: Position | None = key(
        "",
        place,
        "Where the boat starts from and comes back to, like \"46°11.400'N 033°24.600'W\".",
    )
    least_water_m: float = length_key(
        "5 ft", "Least water under the boat on a drift, at that hour's tide."
    )
    hazard_clearance_m: float = length_key(
        "30 m", "How far a drift keeps from rocks, wrecks, cables and fairways of the charts."
    )
    correct_every_s: float = key(
        "5 min",
        duration_or_never("5 min", 60.0, 3600.0),
        "How often the skipper looks how far the boat is off its line, and corrects the motor's "
        'push; "never": it stays as the sheet says.',
    )
    shortest_drift_s: float = key(
        "10 min", duration_up_to(1800.0), "A drift shorter than this is not planned."
    )


@dataclass(frozen=True, slots=True)
class TrackSettings:
    """Thresholds of cleaning and cutting tracks; see ``layers.tracks.CutSettings``."""

    drift_speed_mps: tuple[float, float] = key(
        "0.1-2.5 kn",
        speed_range,
        "Slower or faster than this over the ground a track is no drift; a plan keeps to "
        "the drift speed that it is given.",
    )
    hold_radius_m: float = length_key(
        "15 m", "A boat that stays within this of one place holds.", above=True
    )
    shortest_slow_s: float = key(
        "90 s",
        duration,
        "A slow stretch shorter than this is no drift, unless an outing has several nearly so.",
        older="shortest_drift",
    )
    shortest_hold_s: float = key("120 s", duration, "A stay shorter than this is no hold.")
    shortest_run_s: float = key(
        "8 s", duration, "A burst of speed shorter than this ends no drift."
    )
    drift_toward_deg: float | None = key(
        None,
        degrees,
        "Where drifts go, degrees true: slow legs back from it are returns under motor. "
        "Without it, speed decides.",
        example="200",
    )
    longest_gap_s: float = key("120 s", duration, "Longer than this without a fix is a gap.")
    outing_break_s: float = key(
        "4 h", duration, "Longer than this without a fix, another outing begins."
    )
    impossible_speed_mps: float = speed_key(
        "40 m/s", "A fix only to be reached faster than this is set aside."
    )
    position_slack_m: float = length_key(
        "30 m", "How far apart two fixes of a boat lying still may be.", above=True
    )


@dataclass(frozen=True, slots=True)
class Lines:
    """When drifts count as the same line."""

    corridor_m: float = length_key(
        "40 m",
        "Drifts that run this near each other on average, the same way, are one line.",
        above=True,
    )


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks for the plotter."""

    name_length: int = key(10, count(4, 60), "The most letters a mark's name may have.")


@dataclass(frozen=True, slots=True)
class Maps:
    """Maps, which load nothing from outside unless a base map is named."""

    basemap: str = key(
        "",
        tile_address,
        "Address of an online base map, {z}/{x}/{y} in it; its server then learns where you fish.",
    )
    basemap_credit: str = key("", text, "What the base map's makers want said on the map.")


@dataclass(frozen=True, slots=True)
class LogbookFile:
    """The season's logbook."""

    file: Path | None = key("", file, 'Trips are added to it: "logbook.gpkg"; empty: to none.')


@dataclass(frozen=True, slots=True)
class Catches:
    """Your own catch logs."""

    columns: dict[str, str] = key(
        [],
        headings,
        'What headings of your logs mean that are not known: ["Fang: species", "Wer: rod"].',
    )


@dataclass(frozen=True, slots=True)
class SpeciesRule:
    """The local rule for a species, as the skipper looked it up."""

    min_length_m: float | None = length_key(None, "Shorter ones go back.", like="14 in")
    daily_bag: int | None = key(
        None, count(0, 1000), "The most one person may keep a day.", example="4"
    )
    checked: date | None = key(
        None, day, "The day the rule was last looked up.", example="2031-05-01"
    )


@dataclass(frozen=True, slots=True)
class Area(NotebookTable):
    """A piece of water.

    Attributes
    ----------
    name, timezone, date_order : str
    units, grid, charts, depths, structure, water, wind, boat, plan, tracks, lines, marks, map,
    logbook, catches
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
    plan: Planning = field(default_factory=Planning)
    tracks: TrackSettings = field(default_factory=TrackSettings)
    lines: Lines = field(default_factory=Lines)
    marks: Marks = field(default_factory=Marks)
    map: Maps = field(default_factory=Maps)
    logbook: LogbookFile = field(default_factory=LogbookFile)
    catches: Catches = field(default_factory=Catches)
    species: dict[str, SpeciesRule] = field(default_factory=dict)
    file: Path | None = None
