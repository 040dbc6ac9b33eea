"""Quick looks at a water's files, taken in its worker: what pages show before any job is done."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from layers import jobs
from layers.area import load_area
from layers.desk.texts import setting_name
from layers.desk.typed_tables import faults, rows_of
from layers.jobs.parts.answers import json_text
from layers.jobs.parts.structure import open_area_surface
from layers.jobs.requests import CheckRequest, SeasonRequest, TideRequest
from layers.present.pictures.survey import painted
from seabed.errors import with_settings
from seabed.files import replacing
from seabed.units import convert

__all__ = ["LOOKS", "day", "depths", "kinds", "logbook"]

_BINS: Final = 48
_EVERY_MIN: Final = 20
_SMALL: Final = 360
"""Cells of a small map, the longer way."""


def depths(area_file: str) -> dict[str, Any]:
    """Give the histogram of a water's depths, in its own unit.

    Returns
    -------
    dict
        ``unit``; ``edges`` (one more than ``counts``); ``counts`` of cells; ``band`` (two depths)
        or None; ``cells`` that hold a depth.
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


def day(area_file: str, date: str, wind: str) -> dict[str, Any]:
    """Give a day's tide, current and light, in hours of the area's own clock and in its units.

    Returns
    -------
    dict
        ``rows`` (``hour``, ``height``, ``current``, ``flood``), ``every`` in hours, ``turns``,
        ``events``, ``windows``, ``sunrise``, ``sunset``, and ``words`` on what is not known.
    """
    winds = (wind,) if wind else ()
    result = jobs.run(TideRequest(area=Path(area_file), date=date, wind=winds, every=_EVERY_MIN))
    answer = json.loads(json_text(result.answer()))
    units = result.area.units
    start = datetime.fromisoformat(answer["rows"][0]["time"])

    def hour(time: str | None) -> float | None:
        if time is None:
            return None
        return (datetime.fromisoformat(time) - start).total_seconds() / 3600

    def shown(metres: float | None, unit: str) -> float | None:
        return None if metres is None else round(convert(metres, unit), 2)

    flood = result.area.water.flood_toward_deg
    return {
        "every": _EVERY_MIN / 60,
        "rows": [
            {
                "hour": hour(row["time"]),
                "height": shown(row["height_m"], units.depth),
                "current": shown(row["current_mps"], units.speed),
                "flood": _is_flood(row["current_toward_deg"], flood),
            }
            for row in answer["rows"]
        ],
        "turns": [
            {
                "hour": hour(turn["time"]),
                "time": turn["time"][11:16],
                "high": turn["high"],
                "height": shown(turn["height_m"], units.depth),
                "words": f"{convert(turn['height_m'], units.depth):.1f} {units.depth}",
            }
            for turn in answer["high_and_low_waters"]
        ],
        "events": [
            {
                "hour": hour(event["time"]),
                "greatest": bool(event["speed_mps"]),
                "words": f"{convert(event['speed_mps'], units.speed):.1f} {units.speed}"
                if event["speed_mps"] else event["time"][11:16],
            }
            for event in answer["current_events"]
        ],
        "windows": [
            {"kind": one["kind"], "from": hour(one["start"]), "to": hour(one["end"])}
            for one in answer["windows"]
        ],
        "sunrise": hour(answer["sunrise"]),
        "sunset": hour(answer["sunset"]),
        "words": " ".join(with_settings(note, setting_name) for note in result.notes),
    }  # fmt: skip


def _is_flood(toward_deg: float | None, flood_deg: float | None) -> bool:
    """Whether water runs more with the flood than against it."""
    if toward_deg is None or flood_deg is None:
        return False
    return math.cos(math.radians(toward_deg - flood_deg)) > 0


def card(area_file: str, log: str, now: str) -> dict[str, Any]:
    """Give what the front page says of a water.

    Parameters
    ----------
    now : str
        A moment, ISO 8601 with its offset.

    Returns
    -------
    dict
        ``trip``, the last in the logbook, ``""`` for none; ``known``, whether there are tide and
        current for these days; ``window`` of the next good hours (``day`` 0 for today, ``begin``,
        ``end``, ``words``) or None.
    """
    area = load_area(area_file)
    trips = logbook(log, area_file)
    moment = pd.Timestamp(now).tz_convert(area.timezone)
    window, known = None, False
    for day_from_now in (0, 1):
        date = (moment + pd.Timedelta(days=day_from_now)).date().isoformat()
        windows = jobs.run(TideRequest(area=Path(area_file), date=date)).windows
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
    area = Path(area_file) if Path(area_file).is_file() else None
    checked = jobs.run(CheckRequest(files=tuple(files), area=area)).checked
    return [
        {
            "file": Path(one.file).name,
            "kind": one.kind,
            "facts": {name: str(value) for name, value in one.facts.items() if value},
            "wrong": [[what, do] for what, do in one.wrong],
        }
        for one in checked
    ]


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
    "card": card,
    "small_map": small_map,
    "rows": rows_of,
    "faults": faults,
}
"""By the name that an order gives."""
