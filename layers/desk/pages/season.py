"""The page Season: what pays."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layers.desk.pages.shared import (
    ask,
    desk_of,
    fields_of,
    form_of,
    page,
    see_other,
    water_of,
    water_page,
)

__all__ = ["routes"]


async def season(request: Request) -> Response:
    """Show the logbook's lines and trips."""
    water = water_of(request)
    logged = (water.folder / "logbook.gpkg").is_file()
    return await water_page(request, "season.html", water, jobs=("season",), logged=logged)


async def logged_trips(request: Request) -> Response:
    """List the trips of the logbook."""
    water = water_of(request)
    runner = await desk_of(request).runner(water)
    trips = await runner.look(
        "logbook", area_file=str(water.area_file), log=str(water.inside("logbook.gpkg"))
    )
    return page(request, "logged.html", water=water, trips=trips)


async def use_logbook(request: Request) -> Response:
    """Do one thing with the logbook."""
    water = water_of(request)
    form = await form_of(request)
    given = fields_of(form, "what", "trip")
    book = str(water.inside("logbook.gpkg"))
    plain: dict[str, Any] = {"area": str(water.area_file), "log": book}
    match given["what"]:
        case "rank":
            plain["rank"] = True
        case "share":
            plain["share"] = str(water.inside("shared logbook.gpkg"))
        case "export":
            plain["export"] = "csv"
        case "restore":
            plain["restore"] = "last"
        case "remove":
            plain["remove"] = given["trip"]
    task = await ask(request, water, "season", plain)
    back = "trips" if given["what"] == "remove" else "season"
    return see_other(f"/w/{water.name}/{back}?result={task.id}")


routes = [
    Route("/w/{water}/season/trips", logged_trips),
    Route("/w/{water}/season", season),
    Route("/w/{water}/season", use_logbook, methods=["POST"]),
]
