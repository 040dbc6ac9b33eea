"""The page Bottom: what is down there."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layers.area.editing import change_area
from layers.desk.pages.shared import (
    ask,
    desk_of,
    fields_of,
    read_area,
    see_other,
    water_of,
    water_page,
)
from seabed.errors import SeabedError

__all__ = ["routes"]


async def bottom(request: Request) -> Response:
    """Show the grid's depths, and what was found on it."""
    water = water_of(request)
    grids = [path.name for path in water.files("grids")]
    return await water_page(request, "bottom.html", water, job="scout", grids=grids)


async def depths(request: Request) -> Response:
    """Give the histogram of the water's depths."""
    water = water_of(request)
    runner = await desk_of(request).runner(water)
    return JSONResponse(await runner.look("depths", area_file=str(water.area_file)))


async def use_grid(request: Request) -> Response:
    """Take a grid that came in as this water's depths."""
    water = water_of(request)
    name = str((await request.form()).get("grid", ""))
    grid = water.inside("grids", name)
    if not grid.is_file():
        raise SeabedError("no such grid in this water", file=name)
    change_area(water.area_file, {("grid", "files"): [f"grids/{grid.name}"]})
    return see_other(f"/w/{water.name}/bottom")


async def save_band(request: Request) -> Response:
    """Keep the band of depth in the area file."""
    water = water_of(request)
    given = fields_of(await request.form(), "band_from", "band_to")
    unit = read_area(water)[0].units.depth
    band = f"{given['band_from']}-{given['band_to']} {unit}"
    change_area(water.area_file, {("depths", "band"): band})
    return see_other(f"/w/{water.name}/bottom")


async def look(request: Request) -> Response:
    """Look for edges, humps and holes."""
    water = water_of(request)
    task = await ask(request, water, "scout", {"area": str(water.area_file)})
    return see_other(f"/w/{water.name}/bottom?result={task.id}")


routes = [
    Route("/w/{water}/bottom", bottom),
    Route("/w/{water}/bottom", look, methods=["POST"]),
    Route("/w/{water}/bottom/depths", depths),
    Route("/w/{water}/bottom/grid", use_grid, methods=["POST"]),
    Route("/w/{water}/bottom/band", save_band, methods=["POST"]),
]
