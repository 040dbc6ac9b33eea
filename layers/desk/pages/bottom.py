"""The page Bottom: what is down there."""

from __future__ import annotations

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
from layers.desk.tasks import task
from seabed.errors import SeabedError

__all__ = ["routes"]

MOST_SHOWN = 20
"""Places of the list beside the map."""


async def bottom(request: Request) -> Response:
    """Show the grid's depths, and what was found on it."""
    water = water_of(request)
    grids = [path.name for path in water.files("grids")]
    marks = request.query_params.get("marks")
    made = task(water, marks) if marks else None
    return await water_page(
        request, "bottom.html", water, jobs=("scout",), grids=grids, marks=made, most=MOST_SHOWN
    )


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


async def write_marks(request: Request) -> Response:
    """Write marks of the chosen places for the plotter."""
    water = water_of(request)
    form = await form_of(request)
    scouted = task(water, fields_of(form, "of")["of"])
    names = [str(name) for name in form.getlist("line")]
    marks = {
        "results": [str(water.folder / scouted.files["structure"])],
        "line": names,
        "area": str(water.area_file),
        "out": "marks.gpx",
    }
    made = await ask(request, water, "marks", marks)
    return see_other(f"/w/{water.name}/bottom?marks={made.id}")


routes = [
    Route("/w/{water}/bottom", bottom),
    Route("/w/{water}/bottom", scout, methods=["POST"]),
    Route("/w/{water}/bottom/depths", depths),
    Route("/w/{water}/bottom/grid", use_grid, methods=["POST"]),
    Route("/w/{water}/bottom/marks", write_marks, methods=["POST"]),
    Route("/w/{water}/bottom/reading", save_reading, methods=["POST"]),
    Route("/w/{water}/bottom/band", save_band, methods=["POST"]),
]
