"""Quick looks at a water's files, taken in its worker: what pages show before any job is done."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from layers import jobs
from layers.area import Area, default_area, load_area
from layers.desk.sketches import columns, put_right, sketch, take_back
from layers.desk.texts import plain_words, text
from layers.desk.typed_tables import faults, rows_of
from layers.jobs.check import FITTING, Checked, check_file, file_fault, files_named
from layers.jobs.parts.area_ground import stamp_of
from layers.jobs.parts.structure import open_area_grid, open_area_surface
from layers.jobs.requests import SeasonRequest, TideRequest
from layers.jobs.result import json_text
from layers.present.looks import with_variables
from layers.present.pictures.day import day_picture
from layers.present.pictures.survey import painted
from layers.water import leeway_of
from seabed.errors import SeabedError, WaterError
from seabed.files import replacing
from seabed.units import convert

_BINS: Final = 48
_SMALL: Final = 360
"""Cells of a small map, the longer way."""


def depths(area_file: str) -> dict[str, Any]:
    """Give the histogram of a water's depths, in its own unit.

    Returned: ``unit``; ``edges`` (one more than ``counts``); ``counts`` of cells; ``band`` (two
        depths) or None; ``cells`` that hold a depth.
    """
    area = load_area(area_file)
    values = np.asarray(open_area_surface(area, with_uncertainty=False).depth)
    unit = area.units.depth
    here = values[np.isfinite(values)] * convert(1.0, unit)
    least, most = np.floor(here.min()), np.ceil(here.max())
    counts, edges = np.histogram(here, bins=_BINS, range=(least, max(most, least + 1)))
    band = area.depths.band_m
    return {
        "unit": unit,
        "edges": edges.tolist(),
        "counts": counts.tolist(),
        "band": None if band is None else [convert(depth, unit) for depth in band],
        "cells": int(here.size),
    }


def day(
    area_file: str, date: str, wind: list[str], wide: float, *, seen: list[str], pressure: str
) -> dict[str, Any]:
    """Draw a day's tide, current and light as a strip.

    Returned: ``svg`` in the page's own colours; ``windows`` (``kind``, ``start``, ``end``, UTC);
        ``drift`` of a boat left alone (rows of ms since 1970, speed with its unit, degrees);
        ``wind`` at noon (``from`` in degrees, ``speed``); ``words`` on what is not known.
    """
    result = jobs.run(
        TideRequest(
            area=Path(area_file), date=date, wind=tuple(wind), seen=tuple(seen),
            pressure=pressure or None,
        )
    )  # fmt: skip
    units = result.area.units
    svg = day_picture(
        result.table, result.windows, title=text("today.water"), beyond=result.beyond,
        depth_unit=units.depth, speed_unit=units.speed, width=wide,
        timezone=result.area.timezone, sun=result.sun, turns=result.turns,
    )  # fmt: skip
    noon = result.table.iloc[len(result.table) // 2]
    windows = [
        {"kind": row.kind, "start": row.start.isoformat(), "end": row.end.isoformat()}
        for row in result.windows.itertuples()
    ]
    return {
        "svg": with_variables(svg),
        "windows": windows,
        "drift": _drift_of(result.table, units.speed),
        "wind": {
            "from": round(float(noon["wind_from_deg"])),
            "speed": round(convert(float(noon["wind_mps"]), units.speed), 1),
        },
        "words": " ".join(_sentence(note, Path(area_file).parent) for note in result.notes),
    }


def _sentence(note: str, folder: Path) -> str:
    """Write a note to stand before another, its files from the water's folder."""
    words = plain_words(note).replace(f"{folder}{os.sep}", "")
    return words if words.endswith(".") else f"{words}."


def _drift_of(table: pd.DataFrame, unit: str) -> list[tuple[int, str, str]]:
    known = table[table["drift_toward_deg"].notna()]
    return [
        (int(time.timestamp() * 1000), f"{convert(speed, unit):.1f} {unit}", f"{toward:03.0f}")
        for time, speed, toward in zip(
            known["time"], known["drift_mps"], known["drift_toward_deg"], strict=True
        )
    ]


def card(area_file: str, log: str, now: str) -> dict[str, Any]:
    """Give what the front page says of a water.

    now: a moment, ISO 8601 with its offset.
    Returned: ``trip``, the last in the logbook, ``""`` for none; ``known``, whether there are tide
        and current for these days; ``window`` of the next good hours (``day`` 0 for today,
        ``begin``, ``end``, ``words``) or None.
    """
    area = load_area(area_file)
    trips = logbook(log, area_file)
    moment = pd.Timestamp(now).tz_convert(area.timezone)
    window, known = None, False
    for day_from_now in (0, 1):
        date = (moment + pd.Timedelta(days=day_from_now)).date().isoformat()
        try:
            windows = jobs.run(TideRequest(area=Path(area_file), date=date)).windows
        except WaterError:  # the tables end before this day
            continue
        known = known or bool(len(windows))
        good = windows[(windows["kind"] != "slack") & (windows["end"] > moment)]
        if window is None and len(good):
            first = good.iloc[0]
            begin, end = (first[name].tz_convert(area.timezone) for name in ("start", "end"))
            shown = {"begin": f"{begin:%H:%M}", "end": f"{end:%H:%M}", "words": first["words"]}
            window = {"day": day_from_now, **shown}
    last = max((trip["trip"] for trip in trips), default="")
    return {"trip": last, "known": known, "window": window}


def small_map(area_file: str, file: str) -> dict[str, Any]:
    """Paint a water's depths small, as a PNG; ``cells`` is 0 where no depth is known."""
    depth = np.asarray(open_area_surface(load_area(area_file), with_uncertainty=False).depth)
    step = max(1, max(depth.shape) // _SMALL)
    small = depth[::step, ::step]
    known = np.isfinite(small)
    if known.any():
        low, high = np.nanpercentile(small, [2, 98])
        with replacing(file, result=False) as partial:
            partial.write_bytes(painted((small - low) / max(high - low, 0.1), "depth"))
    return {"cells": int(known.sum())}


def kinds(files: list[str], area_file: str) -> list[dict[str, Any]]:
    """Say what files are taken for, and what is wrong with them, as `seabed check` does."""
    checked = [_checked(file, area_file, stamp_of(area_file), stamp_of(file)) for file in files]
    folder = f"{Path(area_file).parent}{os.sep}"
    return [
        {
            "file": Path(one.file).name,
            "kind": one.kind,
            "usable": one.usable,
            "fits": [
                key.replace(".", "_")
                for key, fitting in FITTING.items()
                if one.usable and one.kind in fitting
            ],
            "facts": {name: str(value) for name, value in one.facts.items() if value},
            "wrong": [[what.replace(folder, ""), do] for what, do in one.wrong],
        }
        for one in checked
    ]


@lru_cache(maxsize=1000)
def _checked(file: str, area_file: str, area_stamp: Any, _stamp: Any) -> Checked:
    """Check a file once, until it, what is beside it or the area file changes."""
    return check_file(file, _area_of(area_file, area_stamp))


@lru_cache(maxsize=1)
def _area_of(area_file: str, _stamp: Any) -> Area:
    return load_area(area_file) if Path(area_file).is_file() else default_area()


def misfits(area_file: str, names: list[str]) -> dict[str, Any]:
    """Raise an error for a file that the area file names, or a craft, that can't be used.

    Nothing is said of what the page itself asks, as of a grid that names no coordinate system.
    """
    area = load_area(area_file)
    if "boat_craft" in names:
        with _about("boat_craft"):
            leeway_of(area.boat.craft)
    for place, path in files_named(area):
        name = place.replace(".", "_")
        if name not in names:
            continue
        with _about(name):
            if isinstance(path, str):
                open_area_grid(area)
                continue
            wrong, usable, _ = file_fault(place, path, area, check_file)
            for what, do in wrong[: not usable]:
                raise SeabedError(what, file=path, do=do)
    return {}


@contextmanager
def _about(name: str) -> Iterator[None]:
    """Turn an error into one about a field, if no other field can cure it."""
    try:
        yield
    except SeabedError as error:
        if not error.keys:
            raise SeabedError(
                error.what, file=error.file, where=error.where, do=error.do, key=name
            ) from error


def logbook(log: str, area_file: str) -> list[dict[str, Any]]:
    """List the trips of a logbook; none if there is no logbook yet."""
    if not Path(log).is_file():
        return []
    result = jobs.run(SeasonRequest(log=Path(log), area=Path(area_file)))
    trips: list[dict[str, Any]] = json.loads(json_text(result.answer()))["trips"]
    return trips


LOOKS: Final[dict[str, Callable[..., Any]]] = {
    "depths": depths,
    "day": day,
    "kinds": kinds,
    "logbook": logbook,
    "misfits": misfits,
    "card": card,
    "small_map": small_map,
    "rows": rows_of,
    "faults": faults,
    "columns": columns,
    "sketch": sketch,
    "put_right": put_right,
    "take_back": take_back,
}
"""By the name that an order gives."""
