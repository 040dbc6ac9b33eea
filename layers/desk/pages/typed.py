"""Tables that are typed or pasted on the page of a water: their rows, faults and file."""

from __future__ import annotations

from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from layers.desk.pages.forms import change_water
from layers.desk.pages.shared import at, look
from layers.desk.waters import TYPED, Water
from seabed.files import write_text


async def rows(request: Request, water: Water) -> Response:
    """Give the rows of the water's table, or of a text that was pasted."""
    kind, form = await _form(request)
    text, unit = str(form.get("text", "")), str(form.get("unit", ""))
    area = str(water.area_file)
    return JSONResponse(
        await look(request, water, "rows", kind=kind, area_file=area, pasted=text, unit=unit)
    )


async def check(request: Request, water: Water) -> Response:
    """Say what is wrong with rows, beside which cells."""
    kind, form = await _form(request)
    return JSONResponse(await _faults(request, water, kind, form))


async def save(request: Request, water: Water) -> Response:
    """Keep rows as this water's table, if nothing is wrong with them."""
    kind, form = await _form(request)
    answer = await _faults(request, water, kind, form)
    if not answer.get("wrong") and not answer["faults"]:
        path = water.inside("tides", f"typed {kind}.csv")
        if path.is_file():
            kept = water.place_for("removed/tides", path.name)
            kept.parent.mkdir(parents=True, exist_ok=True)
            path.rename(kept)
        path.parent.mkdir(exist_ok=True)
        write_text(path, answer["text"], result=False)
        change_water(water, {("water", kind): f"tides/{path.name}"})
    return JSONResponse(answer)


async def _form(request: Request) -> tuple[str, dict[str, Any]]:
    kind = request.path_params["kind"]
    if kind not in TYPED:
        raise HTTPException(404)
    return kind, await request.json() if request.method == "POST" else {}


async def _faults(
    request: Request, water: Water, kind: str, form: dict[str, Any]
) -> dict[str, Any]:
    cells = [[str(cell)[:60] for cell in (*row, "", "", "", "")[:4]] for row in form["rows"]]
    area = str(water.area_file)
    return await look(
        request, water, "faults", kind=kind, area_file=area, rows=cells, unit=str(form["unit"])
    )


routes = [
    at("typed/{kind}", rows, "GET", "POST"),
    at("typed/{kind}/check", check, "POST"),
    at("typed/{kind}/save", save, "POST"),
]
