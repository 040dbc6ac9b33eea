"""What own trips show of a water: its current by drifts, its depths by soundings."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layers.desk.pages.forms import fields_of, form_of, winds
from layers.desk.pages.shared import ask, see_other, water_of


async def learn(request: Request) -> Response:
    """Learn the current from the drifts of tracks."""
    water = water_of(request)
    form = await form_of(request)
    tracks = [str(water.inside("tracks", str(name))) for name in form.getlist("tracks")]
    wind = winds(water, fields_of(form, "wind")["wind"])
    plain = {"area": str(water.area_file), "learn": tracks, "wind": wind, "out": "out"}
    task = await ask(request, water, "tide", plain)
    return see_other(f"/w/{water.name}/water?result={task.id}#own")


async def sound(request: Request) -> Response:
    """Lay own soundings on the open grid."""
    water = water_of(request)
    form = await form_of(request)
    plain: dict[str, Any] = {
        "area": str(water.area_file),
        "logs": [str(water.inside("soundings", str(name))) for name in form.getlist("logs")],
        "no_tide": bool(form.get("no_tide")),
        "depths_from": fields_of(form, "depths_from")["depths_from"],
    }
    task = await ask(request, water, "soundings", plain)
    return see_other(f"/w/{water.name}/water?result={task.id}#own")


routes = [
    Route("/w/{water}/water/learn", learn, methods=["POST"]),
    Route("/w/{water}/water/sound", sound, methods=["POST"]),
]
