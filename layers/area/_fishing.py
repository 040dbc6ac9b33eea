"""Sections of the area file about the boat, how it fishes, and what is kept of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from layers.area._forms import Position, place, tile_address
from layers.area.keys import (
    choice,
    count,
    day,
    degrees,
    duration,
    duration_or_never,
    duration_up_to,
    file,
    headings,
    key,
    length_key,
    number,
    readings,
    speed_key,
    speed_range,
    symbols,
    text,
    weights,
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
        "2 kn", "Top speed through the water under the electric motor."
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
    wave_limit_m: float = length_key(
        "3 ft", "No drift is planned in higher waves than this (significant height).", above=True
    )
    onshore_limit_mps: float = speed_key(
        "15 kn",
        "No launch or landing in more wind straight onto its shore than this; needs "
        "{plan.launch_faces}.",
        most="100 kn",
        above=True,
    )
    darkness_limit: str = key(
        "civil twilight",
        choice("sunset", "civil twilight", "night"),
        "How dark it may get on a drift: sunset (only between sunrise and sunset), civil twilight "
        "(while the horizon shows), or night (no limit).",
    )
    motor_readings: tuple[tuple[float, float], ...] = key(
        [],
        readings,
        "Current that the motor draws at a speed through still water, one or two readings.",
        example='["1 kn 8 A", "2 kn 40 A"]',
    )
    battery_ah: float | None = key(
        None, number(1, 5000), "Capacity of its battery, ampere-hours.", example="100"
    )
    fuel_litres_an_hour: float | None = key(
        None,
        number(0.1, 500),
        "Litres an hour that the engine burns at {boat.running_speed}.",
        example="18",
    )
    draft_m: float | None = length_key(
        None,
        "Depth of the keel below the waterline, for soundings measured from the keel.",
        like="0.4 m",
    )
    transducer_m: float | None = length_key(
        None,
        "Depth of the sounder's transducer below the waterline; left out: as its log says.",
        like="0.3 m",
    )


@dataclass(frozen=True, slots=True)
class Gear:
    """Line and lead."""

    line: str = key("braid", choice("braid", "mono", "fluorocarbon"), "Material of the line.")
    diameter_m: float = length_key("0.25 mm", "Thickness of the line.", above=True)
    bait_cm2: float = key(
        2.0, number(0, 500), "Area of bait and blades across the water, square centimetres."
    )
    angle: float = key(30.0, number(5, 60), "Maximum angle of the line off straight down, degrees.")
    leads_kg: tuple[float, ...] = key(
        ["1 oz", "1.5 oz", "2 oz", "3 oz", "4 oz"], weights, "The leads aboard."
    )


@dataclass(frozen=True, slots=True)
class Planning:
    """Limits of a plan."""

    launch: Position | None = key(
        "",
        place,
        "Where the boat starts and returns.",
        example="\"46°11.400'N 033°24.600'W\"",
    )
    launch_least_height_m: float | None = length_key(
        None,
        "Least height of tide, over its datum, at which the launch is usable.",
        like="2 ft",
        least_m=-20.0,
    )
    launch_faces_deg: float | None = key(
        None, degrees, "Direction from the launch out to sea, degrees true.", example="200"
    )
    least_water_m: float = length_key(
        "5 ft",
        "Least water under the boat on a drift, at that hour's tide; half the height of the waves "
        "is added.",
    )
    hazard_clearance_m: float = length_key(
        "30 m", "How far a drift keeps from rocks, wrecks, cables and fairways of the charts."
    )
    correct_every_s: float = key(
        "5 min",
        duration_or_never("5 min", 60.0, 3600.0),
        "How often the skipper looks how far the boat is off its line, and corrects the motor's "
        "push; never: the push stays as the sheet says.",
    )
    shortest_drift_s: float = key("10 min", duration_up_to(1800.0), "Shortest drift in a plan.")
    settle_s: float = key(
        "60 s",
        duration_up_to(1800.0),
        "Time to settle the boat on a mark before the lines go down (common practice).",
    )
    lines_down_s: float = key(
        "30 s",
        duration_up_to(1800.0),
        "Time to get the lines down to the bottom (common practice).",
    )
    lines_up_s: float = key(
        "30 s", duration_up_to(1800.0), "Time to get the lines up after a drift (common practice)."
    )


@dataclass(frozen=True, slots=True)
class TrackSettings:
    """Thresholds of cleaning and cutting tracks; see ``layers.tracks.CutSettings``."""

    drift_speed_mps: tuple[float, float] = key(
        "0.1-2.5 kn",
        speed_range,
        "A track slower or faster than this over the ground is no drift. Plans have a drift speed "
        "of their own.",
    )
    hold_radius_m: float = length_key(
        "15 m", "A boat that stays this close to one place holds.", above=True
    )
    shortest_slow_s: float = key(
        "90 s",
        duration,
        "A slow stretch shorter than this is no drift, unless an outing has several such.",
        older="shortest_drift",
    )
    shortest_hold_s: float = key("120 s", duration, "A stay shorter than this is no hold.")
    shortest_run_s: float = key(
        "8 s", duration, "A burst of speed shorter than this ends no drift."
    )
    drift_toward_deg: float | None = key(
        None,
        degrees,
        "Direction of drifts, degrees true: slow legs back are returns under motor. Left out: "
        "speed decides.",
        example="200",
    )
    longest_gap_s: float = key("120 s", duration, "Longer than this without a fix is a gap.")
    outing_break_s: float = key(
        "4 h", duration, "After longer than this without a fix another outing begins."
    )
    impossible_speed_mps: float = speed_key(
        "40 m/s", "A fix that the boat could only reach faster than this is set aside."
    )
    position_slack_m: float = length_key(
        "30 m", "Largest distance between two fixes of a boat that does not move.", above=True
    )


@dataclass(frozen=True, slots=True)
class Lines:
    """When drifts count as one line."""

    corridor_m: float = length_key(
        "40 m",
        "Drifts that run this near each other on average, the same way, are one line.",
        above=True,
    )


@dataclass(frozen=True, slots=True)
class Marks:
    """Marks for the plotter."""

    name_length: int = key(10, count(4, 60), "Maximum letters in a mark's name.")
    symbols: dict[str, str] = key(
        [],
        symbols,
        "What your plotter calls the symbols of marks.",
        example='["drift start: green dot", "hump: peak"]',
    )


@dataclass(frozen=True, slots=True)
class Maps:
    """Maps, which load nothing from outside unless you name a base map."""

    basemap: str = key(
        "",
        tile_address,
        "Address of an online base map, with {z}/{x}/{y}; its server then learns where you fish.",
    )
    basemap_credit: str = key("", text, "Credit that the base map's makers ask for on the map.")


@dataclass(frozen=True, slots=True)
class LogbookFile:
    """The season's logbook."""

    file: Path | None = key(
        "", file, "File that trips are added to; empty: none.", example='"logbook.gpkg"'
    )


@dataclass(frozen=True, slots=True)
class Catches:
    """Your own catch logs."""

    columns: dict[str, str] = key(
        [],
        headings,
        "Meaning of your own headings.",
        example='["Fang: species", "Wer: rod"]',
    )
    length_unit: str = key(
        "",
        choice("", "cm", "in"),
        "Unit of lengths in a log that names none: cm or in.",
    )


@dataclass(frozen=True, slots=True)
class SpeciesRule:
    """The local rule for a species, as you looked it up."""

    min_length_m: float | None = length_key(None, "Shorter fish go back.", like="14 in")
    daily_bag: int | None = key(
        None, count(0, 1000), "Fish that one person may keep a day.", example="4"
    )
    checked: date | None = key(
        None, day, "Day on which you last looked the rule up.", example="2031-05-01"
    )
