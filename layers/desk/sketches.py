"""Tracks as their pieces and fish, before the trip is worked out; and corrections of both by hand.

Taken in the worker, as `layers.desk.looks`.  Corrections go into the file beside the track
(`layers.tracks.corrections`), so that the commands make the same of it.
"""

from __future__ import annotations

import json
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.area import Area, load_area
from layers.catches import as_catches
from layers.catches.by_hand import correct_fish
from layers.catches.headers import meanings_with
from layers.catches.reading import TACKLE
from layers.desk.tasks import request_from
from layers.desk.texts import error_words, plain_words
from layers.jobs.parts.area_ground import stamp_of
from layers.jobs.parts.cutting import by_hand_on
from layers.jobs.parts.settings import area_of
from layers.jobs.requests import TripRequest
from layers.jobs.trip import clocks_of, correction_files, cut_trip, find_fish, read_fish
from layers.tracks import drifts_of
from layers.tracks.corrections import Correction, correct, corrections_of, parse_corrections
from layers.tracks.motion import local_lines, noise_of, seconds_of, smoothing_s
from seabed.errors import CatchError, SeabedError
from seabed.files import write_text
from seabed.geodesy import local_metres
from seabed.tables.headings import CATCH_MEANINGS
from seabed.tables.text_table import read_text_table
from seabed.units import convert

_MOST_SHOWN: Final = 4000
_ROWS_SHOWN: Final = 3
_WITH_NEXT: Final = "  # with the next"
"""Ends a line that is undone together with the next."""


def sketch(plain: dict[str, Any]) -> dict[str, Any]:
    """Cut tracks, and put the fish on them.

    Returned: ``zone``, ``speed_unit``, ``fish_unit``; ``track`` (lists ``t`` in seconds since 1970,
        ``x`` and ``y`` in metres, ``v``); ``pieces``, ``fish``, ``by_hand``; ``clock``, what was
        found of the log's; ``wrong``, what keeps fish from being shown, and its ``keys``;
        ``notes``.
    """
    trip, area = _read(plain)
    fixes, _, pieces, notes = _cut(_what_cuts(plain), _changed(trip))
    by_hand = by_hand_on(area, trip.tracks, trip.corrections)
    pieces, unused = correct(pieces, fixes, by_hand)
    drifts = drifts_of(pieces, fixes, rods=area.boat.rods, timezone=area.timezone)
    drawn = _drawn(pieces, fixes, area)
    shown: dict[str, Any] = {"fish": [], "clock": None, "wrong": "", "keys": []}
    try:
        caught = find_fish(
            trip, area, clocks_of(trip), drifts=drifts, fixes=fixes, by_hand=by_hand,
            caught=_caught(json.dumps(plain), _changed(trip, *trip.catches)),
        )  # fmt: skip
        shown["fish"] = _fish(caught.catches, fixes, area)
        unused += caught.unused
        notes = [*notes, *caught.notes]
        if caught.clock.how:  # buttons ask about it, so no note does
            notes = [note for note in notes if "{clock_offset}" not in note]
            zone_s = fixes["time"].iloc[0].tz_convert(area.timezone).utcoffset().total_seconds()
            of_zone = bool(zone_s) and abs(caught.clock.offset_s + zone_s) < 120
            shown["clock"] = {
                "words": caught.clock.words, "fish": caught.clock.fish, "of": caught.clock.of,
                "tied": int((caught.catches["drift_id"] != "").sum()), "of_zone": of_zone,
            }  # fmt: skip
    except SeabedError as error:
        shown |= {"wrong": error_words(error), "keys": list(error.keys)}
    return shown | {
        "zone": area.timezone, "speed_unit": area.units.speed, "fish_unit": area.units.fish,
        "track": drawn, "pieces": _pieces(pieces, drifts, area),
        "by_hand": [_line_of(one) for one in by_hand],
        "notes": [plain_words(note) for note in (*notes, *unused)],
    }  # fmt: skip


def put_right(plain: dict[str, Any], lines: list[str]) -> dict[str, Any]:
    """Add lines to the file of corrections, or none if one can't be read; give the sketch."""
    trip, area = _read(plain)
    fixes, *_ = _cut(_what_cuts(plain), _changed(trip))
    new = parse_corrections("\n".join(lines), "by hand", timezone=area.timezone)
    if len(new) != len(lines):
        raise SeabedError("that is not a correction")
    correct_fish(as_catches([]), np.empty(0), new, default_unit=area.units.fish)
    nearest = int(np.argmin(np.abs(seconds_of(fixes["time"]) - new[0].start.timestamp())))
    file = corrections_of(fixes["file"].iloc[nearest])
    before = file.read_text(encoding="utf-8-sig") if file.is_file() else ""
    after = before + "\n" * (not before.endswith("\n") and before != "")
    after += f"{_WITH_NEXT}\n".join(lines) + "\n"
    parse_corrections(after, file, timezone=area.timezone)
    write_text(file, after, result=False)
    return sketch(plain)


def take_back(plain: dict[str, Any]) -> dict[str, Any]:
    """Take the last correction out of the file changed last; give the sketch with ``taken``."""
    trip, _ = _read(plain)
    files = [file for file in correction_files(trip) if file.read_text("utf-8-sig").strip()]
    if not files:
        raise SeabedError("nothing is left to undo")
    file = max(files, key=lambda path: path.stat().st_mtime_ns)
    lines = file.read_text(encoding="utf-8-sig").rstrip().split("\n")
    taken = [lines.pop()]
    while lines and lines[-1].endswith(_WITH_NEXT):
        taken.insert(0, lines.pop())
    write_text(file, "".join(f"{line}\n" for line in lines), result=False)
    return sketch(plain) | {"taken": [line.removesuffix(_WITH_NEXT) for line in taken]}


def columns(files: list[str], area_file: str) -> list[dict[str, Any]]:
    """Say what each column of catch logs is taken for; what can't be read at all is left out."""
    own = load_area(area_file).catches.columns
    tables = []
    for file in files:
        try:
            table = read_text_table(file, partial(meanings_with, own=own), error=CatchError)
        except SeabedError:
            continue  # the look at its kind says why
        cells = zip(*table.rows[:_ROWS_SHOWN], strict=True) if table.rows else ()
        shown = zip(table.headings, table.meanings, cells, strict=False)
        rows = [
            {"heading": heading, "meaning": meaning or "", "cells": [cell for cell in few if cell]}
            for heading, meaning, few in shown if heading
        ]  # fmt: skip
        tables.append({"file": Path(file).name, "columns": rows, "meanings": CATCH_MEANINGS})
    return tables


def _read(plain: dict[str, Any]) -> tuple[TripRequest, Area]:
    trip = request_from("trip", plain)
    assert isinstance(trip, TripRequest)
    return trip, area_of(trip)


def _what_cuts(plain: dict[str, Any]) -> str:
    names = ("tracks", "area", "track_clock", "salvage")
    return json.dumps({name: plain[name] for name in names if name in plain})


def _changed(trip: TripRequest, *others: Path) -> tuple[Any, ...]:
    return tuple(stamp_of(file) for file in (*trip.tracks, *others, trip.area))


@lru_cache(maxsize=2)
def _cut(request: str, changed: tuple[Any, ...]) -> Any:
    """Cut tracks once, however often they are corrected; `changed` forgets what is old."""
    return cut_trip(*_read(json.loads(request)))


@lru_cache(maxsize=2)
def _caught(request: str, changed: tuple[Any, ...]) -> gpd.GeoDataFrame:
    """Read fish once, as `_cut`; a long track takes as long to search for marks as to correct."""
    return read_fish(*_read(json.loads(request)))


def _drawn(pieces: gpd.GeoDataFrame, fixes: pd.DataFrame, area: Area) -> dict[str, list[float]]:
    """Thin the track to what a screen shows, the ends of pieces among it."""
    few = np.linspace(0, len(fixes) - 1, min(len(fixes), _MOST_SHOWN)).astype(int)
    rows = np.unique(np.concatenate([few, pieces["first_fix"], pieces["last_fix"]]))
    time_s = seconds_of(fixes["time"])
    x, y = _metres(fixes, fixes)
    half_s = smoothing_s(time_s, noise_of(time_s, x, y))
    *_, east, north = local_lines(time_s, x, y, time_s[rows], half_s)
    speed = np.asarray(convert(np.hypot(east, north), area.units.speed), float)
    return {
        "t": np.round(time_s[rows], 3).tolist(), "v": np.round(speed, 2).tolist(),
        "x": np.round(x[rows], 1).tolist(), "y": np.round(y[rows], 1).tolist(),
    }  # fmt: skip


def _metres(table: pd.DataFrame, fixes: pd.DataFrame) -> tuple[Any, Any]:
    return local_metres(
        table["longitude"].to_numpy(float), table["latitude"].to_numpy(float),
        centre=(fixes["longitude"].iloc[0], fixes["latitude"].iloc[0]),
    )  # fmt: skip


def _pieces(pieces: gpd.GeoDataFrame, drifts: gpd.GeoDataFrame, area: Area) -> list[dict[str, Any]]:
    ids = dict(zip(drifts["start"], drifts["drift_id"], strict=True))
    return [
        {
            "kind": one.kind, "outing": int(one.outing), "lines_up_s": one.lines_up_s,
            "start": round(one.start.timestamp(), 3), "end": round(one.end.timestamp(), 3),
            "speed": round(float(convert(one.sog_mps, area.units.speed)), 1),
            "name": ids.get(one.start, "") if one.kind == "drift" else "",
        }
        for one in pieces.itertuples()
    ]  # fmt: skip


def _fish(catches: gpd.GeoDataFrame, fixes: pd.DataFrame, area: Area) -> list[dict[str, Any]]:
    x, y = _metres(catches, fixes)
    length = convert(catches["length_m"].to_numpy(float), area.units.fish)
    return [
        {
            "t": None if pd.isna(one.time) else round(one.time.timestamp(), 3),
            "x": _known(x[at]), "y": _known(y[at]), "species": one.species,
            "length": _known(length[at], 2), "kept": None if pd.isna(one.kept) else bool(one.kept),
            "note": one.note, "drift": one.drift_id, "why": one.why,
            **{name: getattr(one, name) for name in TACKLE},
            "by": one.tied_by, "file": Path(one.file).name, "row": int(one.row),
        }
        for at, one in enumerate(catches.itertuples())
    ]  # fmt: skip


def _known(value: float, digits: int = 1) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None


def _line_of(one: Correction) -> dict[str, Any]:
    return {
        "what": one.what, "start": one.start.timestamp(), "end": one.end.timestamp(),
        "words": one.words, "file": Path(one.file).name, "line": one.line,
    }  # fmt: skip
