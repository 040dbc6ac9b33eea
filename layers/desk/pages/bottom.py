"""The page Bottom: what is down there."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layers.desk.pages.shared import (
    ask,
    change_water,
    fields_of,
    form_of,
    look,
    read_area,
    see_other,
    water_of,
    water_page,
)
from seabed.errors import SeabedError

__all__ = ["routes"]

MOST_SHOWN = 20
"""Places of the list beside the map."""


async def bottom(request: Request) -> Response:
    """Show the grid's depths, and what was found on it."""
    water = water_of(request)
    grids = [path.name for path in water.files("grids")]
    return await water_page(
        request, "bottom.html", water, jobs=("scout",), grids=grids, places=_places
    )


def _places(answer: dict[str, Any]) -> list[tuple[str, str]]:
    """Name the best places, with their kinds."""
    return [(place["name"], place["kind"]) for place in answer["ranking"][:MOST_SHOWN]]


async def depths(request: Request) -> Response:
    """Give the histogram of the water's depths."""
    water = water_of(request)
    return JSONResponse(await look(request, water, "depths", area_file=str(water.area_file)))


async def use_grid(request: Request) -> Response:
    """Take a grid that came in as this water's depths."""
    water = water_of(request)
    name = str((await form_of(request)).get("grid", ""))
    grid = water.inside("grids", name)
    if not grid.is_file():
        raise SeabedError("no such grid in this water", file=name)
    change_water(water, {("grid", "files"): [f"grids/{grid.name}"]})
    return see_other(f"/w/{water.name}/bottom?saved")


async def save_band(request: Request) -> Response:
    """Keep the band of depth in the area file."""
    water = water_of(request)
    given = fields_of(await form_of(request), "band_from", "band_to")
    unit = read_area(water)[0].units.depth
    band = f"{given['band_from']}-{given['band_to']} {unit}"
    change_water(water, {("depths", "band"): band})
    return see_other(f"/w/{water.name}/bottom?saved")


async def save_reading(request: Request) -> Response:
    """Keep how the grid's numbers are to be read."""
    water = water_of(request)
    given = fields_of(await form_of(request), "sign", "unit", "vertical_datum", "crs")
    change_water(water, {("grid", key): value for key, value in given.items()})
    return see_other(f"/w/{water.name}/bottom?saved")


async def scout(request: Request) -> Response:
    """Look for edges, humps and holes."""
    water = water_of(request)
    task = await ask(request, water, "scout", {"area": str(water.area_file)})
    return see_other(f"/w/{water.name}/bottom?result={task.id}")


routes = [
    Route("/w/{water}/bottom", bottom),
    Route("/w/{water}/bottom", scout, methods=["POST"]),
    Route("/w/{water}/bottom/depths", depths),
    Route("/w/{water}/bottom/grid", use_grid, methods=["POST"]),
    Route("/w/{water}/bottom/reading", save_reading, methods=["POST"]),
    Route("/w/{water}/bottom/band", save_band, methods=["POST"]),
]
