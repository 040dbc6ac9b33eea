"""The page Today: where to drift, and when."""

from __future__ import annotations

import math
import os
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from starlette.datastructures import FormData, QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from layers.area import Area
from layers.desk.pages.forms import fields_of, form_of, parted, winds
from layers.desk.pages.shared import (
    ask,
    at,
    desk_of,
    local_time,
    look,
    see_other,
    wants_json,
    water_page,
    what_is_wrong,
)
from layers.desk.tasks import Task, forget, prune, tasks
from layers.desk.texts import text
from layers.desk.waters import BOOK, Water
from layers.present.sheet.paper import PAPERS
from seabed.errors import SeabedError
from seabed.units import convert, rounded

SETTINGS: Final = ("date", "begin", "end", "wind", "seen", "seen_track", "pressure", "free")
"""Fields that a plan depends on."""


async def today(request: Request, water: Water) -> Response:
    """Show the day's form, the latest plan, and the one before it of the same day."""
    plans = tasks(water, "plan")
    result = request.query_params.get("result", "")
    chosen = [plan for plan in plans if plan.id == result] or plans[:1]
    return await water_page(
        request, "today.html", water, jobs=("plan",), papers=PAPERS,
        asked=_asked(chosen, water),
        earlier=_earlier(plans, result), wind_of=_wind_of, settings_of=_settings_of,
        tracks=[path.name for path in water.files("tracks")], rows_of=_rows, totals=_totals,
        lines_of=_lines_of,
    )  # fmt: skip


async def lay(request: Request, water: Water) -> Response:
    """Lay the day's drifts; a plan that is still being laid is not wanted any more."""
    form = await form_of(request)
    given: dict[str, Any] = fields_of(form, "date", "begin", "end", "paper")
    plain = given | _weather(water, form)
    if form.get("free"):
        plain["free"] = True
    if (book := water.inside(BOOK)).is_file():
        plain["log"] = str(book)
    runner = await desk_of(request).runner(water)
    for plan in tasks(water, "plan"):
        if plan.running:
            await runner.cancel(plan.id)
            if runner.now(plan.id).state == "stopped":
                forget(water, plan.id)
    by_itself = wants_json(request)  # the page lays the plan again when its fields change
    task = await ask(request, water, "plan", plain, by_itself=by_itself)
    prune(water)
    address = f"/w/{water.name}/today?result={task.id}"
    return JSONResponse({"page": address}) if by_itself else see_other(address)


async def water_of_day(request: Request, water: Water) -> Response:
    """Give a day's tide, current and light."""
    query = request.query_params
    wide = query.get("wide", "")
    try:
        weather = _weather(water, query)
    except SeabedError as error:
        return JSONResponse(what_is_wrong(error))
    about = {
        "date": query.get("date", ""), "wide": min(int(wide), 1200) if wide.isdecimal() else 430,
        **weather,
    }  # fmt: skip
    water.keep("day", {"date": about["date"], "wind": query.get("wind", "")})
    return JSONResponse(await look(request, water, "day", area_file=str(water.area_file), **about))


def _weather(water: Water, given: FormData | QueryParams) -> dict[str, Any]:
    """Give wind, what was seen of the current and the pressure of a form or an address."""
    typed = {name: str(given.get(name, "")) for name in ("wind", "seen", "seen_track", "pressure")}
    seen = parted(typed["seen"])
    if any(os.path.isfile(water.folder / word) for word in seen):  # noqa: PTH113 (it takes names of any length)
        raise SeabedError(text("today.no_file"), key="seen")
    if typed["seen_track"]:
        seen.append(str(water.inside("tracks", typed["seen_track"])))
    wind = winds(water, typed["wind"])
    return {"wind": wind, "seen": seen, "pressure": typed["pressure"].strip()}


def _wind_of(plan: Task) -> str:
    return "; ".join(plan.request.get("wind", []))


def _seen_of(plan: Task) -> tuple[str, str]:
    """Give what was typed of a plan's sightings, and the name of its track."""
    seen = plan.request.get("seen", [])
    typed = [words for words in seen if not Path(words).is_absolute()]
    return "; ".join(typed), next((Path(words).name for words in seen if words not in typed), "")


def _settings_of(plan: Task) -> dict[str, str]:
    """Give what a plan was laid for, as its fields show it."""
    kept = _asked([plan]) | {"free": "on" if plan.request.get("free") else ""}
    return {name: str(value) for name, value in kept.items() if name in SETTINGS}


def _asked(latest: list[Task], water: Water | None = None) -> dict[str, Any]:
    """Fill the form with what was asked, else with the day that it was left at, or tomorrow."""
    now = datetime.now().astimezone()
    day = {"date": (now + timedelta(days=1)).date().isoformat(), "wind": ""}
    left = water.kept("day") if water is not None else {}
    day |= left if str(left.get("date", "")) >= now.date().isoformat() else {}
    empty = {
        "begin": "7:00", "end": "13:00", "free": False, "paper": "A4",
        "seen": "", "seen_track": "", "pressure": "",
    }  # fmt: skip
    if not latest:
        return empty | day
    seen, track = _seen_of(latest[0])
    kept = latest[0].request | {"wind": _wind_of(latest[0]), "seen": seen, "seen_track": track}
    return empty | day | kept


def _earlier(plans: list[Task], shown: str) -> Task | None:
    """Give the plan of the same day that was made before the one shown."""
    done = [one for one in plans if one.state == "done"]
    at = next((at for at, one in enumerate(done) if one.id == shown), 0)
    same = [one for one in done[at + 1 :] if one.request.get("date") == done[at].request["date"]]
    return next(iter(same), None)


def _totals(answer: dict[str, Any]) -> tuple[int, str]:
    """Count the drifts of a plan, and the hours that they take."""
    drifts = [row for row in answer.get("timetable", []) if row["what"] == "drift"]
    seconds = sum(
        (datetime.fromisoformat(row["end"]) - datetime.fromisoformat(row["start"])).total_seconds()
        for row in drifts
    )
    return len(drifts), rounded(seconds / 3600, 1)


def _lines_of(answer: dict[str, Any]) -> list[tuple[str, str]]:
    """Name the planned lines, with the kind of ground that each is for."""
    return [(row["plan_id"], "") for row in answer.get("plan", [])]


def _rows(answer: dict[str, Any], area: Area) -> list[dict[str, Any]]:
    """Give the rows of the timetable as the page shows them."""
    return [
        {
            "start": row["start"],
            "end": row["end"],
            "from": local_time(row["start"], area),
            "to": local_time(row["end"], area),
            "what": row["what"],
            "line": row["plan_id"] or "",
            "words": row["words"] or "",
            "caution": row["caution"] or "",
            "least": "" if least is None else _shallow(least, area.units.depth),
            "latest": local_time(row["latest_start"] or "", area),
        }
        for row in answer.get("timetable", [])
        for least in [row["least_water_m"]]
    ]


def _shallow(depth_m: float, unit: str) -> str:
    """Write a least depth of water, rounded to the safe side."""
    return f"{math.floor(convert(depth_m, unit))} {unit}"


routes = [
    at("today", today),
    at("today/water", water_of_day),
    at("today", lay, "POST"),
]
