"""What ``check`` finds out about a file of any kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from layers.area import Area
from layers.jobs.check._area_files import Fault, check_area, check_folder
from layers.jobs.check._checked import Checked, span_words
from layers.jobs.check._kinds import kind_of, why_of
from layers.jobs.check._water_tables import check_currents, check_heights, check_wind, no_tide
from layers.jobs.parts.settings import reading_of
from layers.jobs.parts.words import counted
from layers.present.positions import degrees_minutes
from seabed.errors import SeabedError
from seabed.tables.spreadsheets import is_table_name
from seabed.units import format_quantity

if TYPE_CHECKING:
    from seabed.loaders.report import FileReport

_HEAD_COLUMNS: Final = (
    "If it is a catch log, a track or a table of the tide: head its columns, like time, species, "
    "length."
)
_OF_FISH: Final = ("species", "rod", "person", "bait", "lead")
MOST_NAMED: Final = 4
"""Marks of fish that are named."""
_OF_ONE_FILE: Final = ("crs", "sign", "unit", "variable", "vertical_datum")
RESULTS: Final = {"lines", "edges", "features"}
"""Layers that ``marks`` reads."""


def check_file(name: str, area: Area) -> Checked:
    """Find out what a file is; the answer says what can't be read at all."""
    readers: dict[str, Callable[[], Checked]] = {
        "area file": lambda: check_area(name, check_file),
        "folder": lambda: check_folder(name),
        "GPX": lambda: _gpx(name, area),
        "track log": lambda: _track_log(name, area),
        "sounder's log": lambda: _sounder_log(name, area),
        "GeoPackage": lambda: _geopackage(name, area),
        "catch log": lambda: _catches(name, area),
        "photo": lambda: _photo(name, area),
        "table of tide heights": lambda: check_heights(name, area),
        "table of currents": lambda: check_currents(name, area),
        "table of wind": lambda: check_wind(name, area),
        "station": lambda: _station(name),
        "learned current": lambda: _learned(name, area),
        "chart": lambda: _chart(name, area),
        "depth grid": lambda: _grid(name, area),
        "KML": lambda: _kml(name),
        "text": lambda: _text(name),
    }
    kind, why = "file", {}
    try:
        kind = kind_of(name)
        why = {"known by": reason} if (reason := why_of(name, kind)) else {}
        checked = readers[kind]()
        return replace(checked, facts=why | checked.facts)
    except SeabedError as error:
        place = f"{error.where}: " if error.where else ""
        if kind == "depth grid" and is_table_name(name):
            kind, error = "table", _no_table(error)
        faults = [(f"{place}{error.what}", error.do or "")]
        meant = kind if kind in {"file", "folder"} else f"{kind}, or meant to be"
        return Checked(name, meant, why, faults, usable=False)


def _no_table(error: SeabedError) -> SeabedError:
    """Say of a table that is not known by its columns that it may also be a damaged grid."""
    if "not a grid of a kind" not in error.what:
        return SeabedError(error.what, where=error.where, do=f"{error.do} {_HEAD_COLUMNS}")
    return SeabedError("its columns do not say what kind of table it is", do=_HEAD_COLUMNS)


def _text(name: str) -> Checked:
    what = "this is text, not a table or a log that can be read"
    return Checked(name, "text", {}, [(what, _HEAD_COLUMNS)], usable=False)


def _kml(name: str) -> Checked:
    what = "this is KML, which is not read"
    return Checked(name, "KML", {}, [(what, "Export the tracks and marks as GPX.")], usable=False)


def _gpx(name: str, area: Area) -> Checked:
    from layers.catches.marked_fish import read_marked_fish
    from layers.tracks import read_fixes
    from layers.tracks.reading import read_waypoints

    waypoints = read_waypoints(name)
    facts: dict[str, str] = {}
    wrong: list[tuple[str, str]] = []
    try:
        fixes = read_fixes(name)
    except SeabedError as error:
        if not len(waypoints):
            raise
        facts["tracks"] = f"none ({error.what})"
        fixes = None
    usable = True
    if fixes is not None:
        facts |= _track_facts(fixes, area)
        wrong, usable = _track_faults(fixes, area)
    if len(waypoints):
        rows = [fish["row"] for fish in read_marked_fish(name, default_unit=area.units.fish)]
        words = f"{len(waypoints)}, of which {{seabed trip}} counts {len(rows)} as fish"
        marks = [str(waypoints["name"].iloc[row - 1]) for row in rows[:MOST_NAMED]]
        facts["waypoints"] = ": ".join(filter(None, [words, ", ".join(filter(None, marks))]))
    kind = "GPX" if fixes is None else "GPX track"
    return Checked(name, kind, facts, wrong, usable=usable)


def _track_log(name: str, area: Area) -> Checked:
    from layers.tracks import read_fixes

    fixes = read_fixes(name, timezone=area.timezone, date_order=area.date_order)
    wrong, usable = _track_faults(fixes, area)
    return Checked(name, "track log", _track_facts(fixes, area), wrong, usable=usable)


def _sounder_log(name: str, area: Area) -> Checked:
    from seabed.soundings import flagged, read_soundings

    log = read_soundings(name, timezone=area.timezone, date_order=area.date_order)
    table, report = flagged(log.soundings)
    longitude, latitude = table["longitude"].to_numpy(), table["latitude"].to_numpy()
    good = table[table["flag"] == ""]
    unit = area.units.depth
    deep = good["measured_m"]
    facts = {
        "soundings": f"{len(table)} in {table['line'].nunique()} lines",
        "good": _share((table["flag"] == "").to_numpy()),
        "depths": f"{format_quantity(deep.min(), unit, digits=1)} to "
        f"{format_quantity(deep.max(), unit, digits=1)}"
        if len(good)
        else "",
        "noise": f"{format_quantity(report.noise.metres, unit, digits=2)} and "
        f"{100 * report.noise.share:.1f} % of the depth",
        "time span": span_words(table["time"], area.timezone),
        "south-west": degrees_minutes(_least(latitude), _least(longitude)),
        "north-east": degrees_minutes(-_least(-latitude), -_least(-longitude)),
        "use it with": "{seabed soundings}, or {seabed trip} for its track",
    }
    wrong = [(note, "") for note in log.notes]
    set_aside = [f"{count} {flag}" for flag, count in report.counts.items() if flag and count]
    if set_aside:
        wrong.append((f"{', '.join(set_aside)}", "They are set aside, not deleted."))
    return Checked(name, "sounder's log", facts, wrong, usable=len(good) > 0)


def _track_faults(fixes: pd.DataFrame, area: Area) -> tuple[list[tuple[str, str]], bool]:
    """Say what cleaning finds, whether anything is left, and what cutting leaves open."""
    from layers.jobs.parts.cutting import cut_settings
    from layers.tracks import clean, cut

    notes = [(str(note), "") for note in fixes.attrs.get("notes", [])]
    settings = cut_settings(area)
    try:
        cleaned, report = clean(fixes, settings)
        doubts = cut(cleaned, settings).attrs["doubts"]
    except SeabedError as error:
        return [*notes, (error.what, error.do or "")], False
    return [*notes, *((fault, "") for fault in [*report.sentences()[1:], *doubts])], True


def _geopackage(name: str, area: Area) -> Checked:
    from layers.jobs.parts.earlier import layers_of

    try:
        names = layers_of(Path(name))
    except SeabedError:
        names = []  # damaged: the logbook has a better message
    if {"plan", "timetable"} & set(names):
        facts = {"layers": ", ".join(names), "use it with": "any GIS; its marks are plan.gpx"}
        return Checked(name, "plan", facts)
    if set(names) & RESULTS and "logbook_info" not in names:
        facts = {"layers": ", ".join(names), "use it with": "{seabed marks}, or any GIS"}
        return Checked(name, "results of seabed", facts)
    return _logbook(name, area)


def _logbook(name: str, area: Area) -> Checked:
    from layers.logbook import Logbook

    trips = Logbook(name).trips()
    facts = {
        "trips": str(len(trips)),
        "time span": span_words(pd.concat([trips["start"], trips["end"]]), area.timezone),
        "fish": f"{trips['fish'].sum()}, {trips['kept'].sum()} kept",
    }
    return Checked(name, "logbook", facts)


def _photo(name: str, area: Area) -> Checked:
    from layers.catches.photos import read_photos

    photo = read_photos([name], timezone=area.timezone).iloc[0]
    cure = "Give the photo as the camera made it: some programs strip its data."
    if photo["problem"]:
        return Checked(
            name, "photo, or meant to be", wrong=[(photo["problem"], cure)], usable=False
        )
    known = pd.notna(photo["latitude"])
    when = photo["clock_utc"] if pd.notna(photo["clock_utc"]) else photo["gps_time"]
    facts = {
        "camera": photo["camera"],
        "taken": f"{pd.to_datetime(when, utc=True).tz_convert(area.timezone):%Y-%m-%d %H:%M:%S} "
        f"({area.timezone}) by its clock"
        if pd.notna(when)
        else "",
        "place": degrees_minutes(photo["latitude"], photo["longitude"]) if known else "",
        "use it with": "{photos}",
    }
    if pd.isna(when):
        return Checked(name, "photo", facts, [("it shows no time", cure)], usable=False)
    return Checked(name, "photo", facts)


def _station(name: str) -> Checked:
    from layers.water.stations.importers import import_station

    station = import_station(name)
    kind = "station" if station.heights is not None else "station of currents"
    known = np.isfinite(station.latitude) and np.isfinite(station.longitude)
    facts = {
        "name": station.name,
        "position": degrees_minutes(station.latitude, station.longitude) if known else "",
        "tells": " and ".join(
            word
            for word, source in (("heights", station.heights), ("currents", station.currents))
            if source is not None
        ),
        "source": station.source,
        "licence": station.licence,
    }
    return Checked(name, kind, facts, [(note, "") for note in station.notes])


def _learned(name: str, area: Area) -> Checked:
    from layers.water import LearnedCurrent, read_currents

    learned = read_currents(name, heights=no_tide())
    assert isinstance(learned, LearnedCurrent)  # its content showed its kind
    facts = {
        "learned from": f"{learned.drifts} drifts of {counted(learned.outings, 'outing')}",
        "time span": span_words(pd.Series(learned.span), area.timezone),
        "around": degrees_minutes(learned.centre[1], learned.centre[0]),
        "use it with": "{water.currents}",
    }
    return Checked(name, "learned current", facts)


def _track_facts(fixes: pd.DataFrame, area: Area) -> dict[str, str]:
    longitude, latitude = fixes["longitude"].to_numpy(), fixes["latitude"].to_numpy()
    depth = fixes["depth_m"].to_numpy()
    return {
        "points": f"{len(fixes)} in {counted(fixes['track'].nunique(), 'track')}",
        "time span": span_words(fixes["time"], area.timezone),
        "south-west": degrees_minutes(_least(latitude), _least(longitude)),
        "north-east": degrees_minutes(-_least(-latitude), -_least(-longitude)),
        "depth logged": _share(np.isfinite(depth)),
    } | ({"soundings": "{seabed soundings} reads them too"} if np.isfinite(depth).any() else {})


def _catches(name: str, area: Area) -> Checked:
    from layers.catches import read_catches

    unit = area.catches.length_unit
    caught = read_catches(
        [name], timezone=area.timezone, default_unit=unit or area.units.fish,
        date_order=area.date_order, columns=area.catches.columns,
    )  # fmt: skip
    wrong = [(note, "") for note in caught.attrs["notes"]]
    if caught.attrs["bare_lengths"] and not unit:
        wrong = [one for one in wrong if "lengths without a unit" not in one[0]]
        wrong.append(
            ("its lengths have no unit, so it can't be used yet", "Set {length_unit} to cm or in.")
        )
    kept = int(caught["kept"].fillna(False).astype(bool).sum())
    facts = {
        "fish": f"{len(caught)}, {kept} kept",
        "species": ", ".join(sorted({str(word) for word in caught["species"] if word})),
        "time span": span_words(caught["time"], area.timezone),
        "with position": _share(np.isfinite(caught["longitude"].to_numpy(float))),
    }
    known = any(caught[column].astype(str).str.strip().ne("").any() for column in _OF_FISH)
    known |= bool(caught["length_m"].notna().any() or caught["kept"].notna().any())
    if len(caught) and not known and caught["note"].ne("").any():
        what = "only its times are understood, and each row would count as a fish"
        wrong.insert(
            0, (what, "If it is a catch log, head its columns like species, length, kept.")
        )
        return Checked(name, "catch log", facts, wrong, usable=False)
    return Checked(name, "catch log", facts, wrong)


def _grid(name: str, area: Area) -> Checked:
    from layers.jobs.parts.structure import DEEPEST_M, LEAST_CELLS
    from seabed.loaders import describe

    reading = reading_of(area)
    report = describe(name, **{key: reading[key] for key in _OF_ONE_FILE})
    unit = area.units.depth
    facts = {
        "format": report.format,
        "variable": report.variable,
        "cells": f"{report.columns} x {report.rows}",
        "CRS": " ".join(word for word in (report.crs_code, report.crs) if word) or "none",
        "cell size": _cell_words(report),
        "depth": f"{format_quantity(report.depth_min_m, unit)} to "
        f"{format_quantity(report.depth_max_m, unit)}",
        "numbers are": f"{report.sign}, {report.unit}",
        "datum": report.vertical_datum,
        "cells with depth": f"{report.valid_share:.1%}, land {report.land_share:.1%}, "
        f"void {report.void_share:.1%}",
        "uncertainty": "in the file" if report.uncertainty else "",
        "others in it": ", ".join(report.others) if len(report.others) > 1 else "",
        "guessed": " ".join(report.guesses),
    }
    box = report.bounds
    if box is not None:
        facts["south-west"] = degrees_minutes(box.south, box.west)
        facts["north-east"] = degrees_minutes(box.north, box.east)
    wrong = [(problem.what, problem.do) for problem in report.problems]
    wrong += _coarse(report)
    too_deep = report.depth_max_m > DEEPEST_M
    too_small = min(report.rows, report.columns) < LEAST_CELLS
    if too_small:
        cells = f"{report.columns} x {report.rows} cells are too few to show the bottom"
        wrong.append((cells, f"Give a grid of {LEAST_CELLS} cells or more each way."))
    usable = report.usable and not too_deep and not too_small
    detail = {key: value for key, value in report.as_dict().items() if key not in ("file", "kind")}
    return Checked(name, report.kind, facts, wrong, usable, detail | {"usable": usable})


def _cell_words(report: FileReport) -> str:
    if np.isnan(report.cell_easting_m):
        across, down = report.cell_step
        return f"{across:.5g} x {down:.5g} in the units of its coordinates, which are not known"
    return f"{report.cell_easting_m:.3g} x {report.cell_northing_m:.3g} m"


def _coarse(report: FileReport) -> list[Fault]:
    """Warn of cells that hide what is narrower than the usual scale of edges."""
    from seabed.loaders.report import COARSE_M
    from seabed.structure.edges import USUAL_M

    cell_m = max(report.cell_easting_m, report.cell_northing_m)
    if not USUAL_M / 2 < cell_m <= COARSE_M:
        return []
    return [
        (
            f"cells of {cell_m:.3g} m show no edge narrower than {2 * cell_m:.3g} m",
            "scout looks for edges at that scale. A finer grid shows more.",
        )
    ]


def _chart(name: str, area: Area) -> Checked:
    from seabed.loaders.charts import describe_chart

    report = describe_chart(name)
    unit = area.units.depth
    facts = {
        "format": report.format,
        "hazards": ", ".join(f"{count} {kind}" for kind, count in report.hazards.items()),
        "depth contours": str(report.contours),
        "soundings": f"{report.soundings}, {format_quantity(report.depth_min_m, unit)} to "
        f"{format_quantity(report.depth_max_m, unit)}",
        "others in it": ", ".join(f"{n} {word}" for word, n in report.other_classes.items()),
    }
    wrong = []
    if report.hazards.get("unknown"):
        cure = "Look at them on the official chart; they are kept as hazards of kind unknown."
        wrong.append(("some objects are of an unknown class", cure))
    detail = {key: value for key, value in report.as_dict().items() if key not in ("file", "kind")}
    return Checked(name, report.kind, facts, wrong, True, detail)


def _least(values: Any) -> float:
    known = values[np.isfinite(values)]
    return float(known.min()) if known.size else float("nan")


def _share(known: Any) -> str:
    return f"{np.mean(known):.0%}" if len(known) and known.any() else "none"
