"""The page Today: where to drift, and when."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layers.area import Area
from layers.desk.pages.shared import (
    ask,
    fields_of,
    form_of,
    local_time,
    look,
    see_other,
    water_of,
    water_page,
)
from layers.desk.tasks import Task, tasks
from seabed.units import convert

__all__ = ["routes"]


async def today(request: Request) -> Response:
    """Show the day's form, and the latest plan."""
    water = water_of(request)
    return await water_page(
        request, "today.html", water, jobs=("plan",), rows=_rows, asked=_asked(tasks(water, "plan"))
    )


async def lay(request: Request) -> Response:
    """Lay the day's drifts."""
    water = water_of(request)
    form = await form_of(request)
    given: dict[str, Any] = fields_of(form, "date", "begin", "end", "wind")
    wind = given.pop("wind")
    plain = given | {"area": str(water.area_file), "wind": [wind] if wind else []}
    if form.get("free"):
        plain["free"] = True
    task = await ask(request, water, "plan", plain)
    return see_other(f"/w/{water.name}/today?result={task.id}")


async def water_of_day(request: Request) -> Response:
    """Give a day's tide, current and light."""
    water = water_of(request)
    asked = {name: request.query_params.get(name, "") for name in ("date", "wind")}
    return JSONResponse(await look(request, water, "day", area_file=str(water.area_file), **asked))


def _asked(latest: list[Task]) -> dict[str, Any]:
    """Fill the form with what was asked last, or with tomorrow."""
    tomorrow = (datetime.now().astimezone() + timedelta(days=1)).date().isoformat()
    empty = {"date": tomorrow, "begin": "7:00", "end": "13:00", "wind": "", "free": False}
    if latest:
        wind = " ".join(latest[0].request.get("wind", []))
        return {**empty, **latest[0].request, "wind": wind}
    return empty


def _rows(answer: dict[str, Any], area: Area) -> list[dict[str, Any]]:
    """Give the rows of the timetable as the page shows them."""
    return [
        {
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
    Route("/w/{water}/today", today),
    Route("/w/{water}/today/water", water_of_day),
    Route("/w/{water}/today", lay, methods=["POST"]),
]
