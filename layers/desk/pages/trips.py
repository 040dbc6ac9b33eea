"""The page Trips: what happened."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layers.desk.pages.shared import ask, fields_of, see_other, water_of, water_page

__all__ = ["routes"]

_KINDS = ("tracks", "catches", "photos")


async def trips(request: Request) -> Response:
    """Show the files of trips, and what came of them."""
    water = water_of(request)
    files = {kind: [path.name for path in water.files(kind)] for kind in _KINDS}
    return await water_page(request, "trips.html", water, job="trip", files=files)


async def work_out(request: Request) -> Response:
    """Work trips out; log them if that is asked."""
    water = water_of(request)
    form = await request.form()
    plain: dict[str, Any] = {"area": str(water.area_file)}
    for kind in _KINDS:
        plain[kind] = [str(water.inside(kind, str(name))) for name in form.getlist(kind)]
    given = fields_of(form, "clock_offset", "rods")
    plain["clock_offset"] = given["clock_offset"]
    if given["rods"].isdecimal():
        plain["rods"] = int(given["rods"])
    if form.get("log"):
        plain["log"] = str(water.inside("logbook.gpkg"))
    task = await ask(request, water, "trip", plain)
    return see_other(f"/w/{water.name}/trips?result={task.id}")


routes = [
    Route("/w/{water}/trips", trips),
    Route("/w/{water}/trips", work_out, methods=["POST"]),
]
