"""The page Trips: what happened."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from starlette.datastructures import FormData, QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from layers.desk.pages.forms import change_water, fields_of, form_of
from layers.desk.pages.shared import (
    ask,
    at,
    desk_of,
    look,
    page,
    read_area,
    see_other,
    stale_words,
    water_page,
)
from layers.desk.tasks import tasks
from layers.desk.texts import text
from layers.desk.waters import Water
from seabed.errors import SeabedError
from seabed.tables.headings import read_heading

_KINDS: Final = ("tracks", "catches", "photos")
_READING: Final = (("area", "timezone"), ("area", "date_order"), ("catches", "length_unit"))
_CLOCKS: Final = ("clock_offset", "track_clock", "photo_offset")
_TICKS: Final = ("salvage", "replace")


async def trips(request: Request, water: Water) -> Response:
    """Show the files of trips, and what came of them."""
    files = {kind: [path.name for path in water.files(kind)] for kind in _KINDS}
    before = _before(water)
    ticked = {Path(name).name for kind in _KINDS for name in before.get(kind, [])}
    out = next(iter(tasks(water, "season")), None)
    backup = out.answer(water).get("backup") if out and out.request.get("remove") else None
    return await water_page(
        request, "trips.html", water, jobs=("trip",), files=files, before=before, ticked=ticked,
        out=out if backup else None, changed=_changed(water),
    )  # fmt: skip


async def work_out(request: Request, water: Water) -> Response:
    """Work trips out; log them if that is asked."""
    form = await request.form()
    plain = _plain(water, form)
    water.keep("trip", plain)
    if form.get("log"):
        plain["log"] = str(water.inside("logbook.gpkg"))
    task = await ask(request, water, "trip", plain)
    return see_other(f"/w/{water.name}/trips?result={task.id}")


async def sketch(request: Request, water: Water) -> Response:
    """Give the drifts and fish of the files that are ticked."""
    plain = _plain(water, request.query_params)
    water.keep("trip", plain)
    if not plain["tracks"]:
        return JSONResponse({"changed": _changed(water)})
    shown = await look(request, water, "sketch", plain=plain)
    return JSONResponse(shown | {"changed": _changed(water)})


async def put_right(request: Request, water: Water) -> Response:
    """Correct pieces or fish by hand, or take the last correction back."""
    plain = _plain(water, request.query_params)
    form = await request.form()
    lines = [str(line) for line in form.getlist("line")]
    if form.get("undo"):
        shown = await look(request, water, "take_back", plain=plain)
    else:
        shown = await look(request, water, "put_right", plain=plain, lines=lines)
    return JSONResponse(shown | {"changed": _changed(water)})


async def columns(request: Request, water: Water) -> Response:
    """Show what the columns of catch logs are taken for."""
    names = [one for one in request.query_params.getlist("file") if one.startswith("catches/")]
    runner = await desk_of(request).runner(water)
    files = [str(water.inside(*name.split("/"))) for name in names]
    tables = await runner.look("columns", files=files, area_file=str(water.area_file))
    return page(request, "columns.html", water=water, tables=tables)


async def take_for(request: Request, water: Water) -> Response:
    """Take a heading of catch logs for something, or times and lengths as written some way."""
    form = await form_of(request)
    given = fields_of(form, "heading", "meaning")
    values: dict[tuple[str, ...], Any] = {
        (section, name): str(form[name]).strip() or None
        for section, name in _READING if name in form
    }  # fmt: skip
    if given["heading"]:
        heading = read_heading(given["heading"]).name
        known = read_area(water)[0].catches.columns | {heading: given["meaning"]}
        values["catches", "columns"] = [
            f"{heading}: {meaning}" for heading, meaning in known.items()
        ]
    change_water(water, values)
    return see_other(f"/w/{water.name}/trips?saved")


def _plain(water: Water, given: FormData | QueryParams) -> dict[str, Any]:
    """Give the request for a trip that a form or an address asks for."""
    plain: dict[str, Any] = {"area": str(water.area_file)}
    for kind in _KINDS:
        plain[kind] = [str(water.inside(kind, str(name))) for name in given.getlist(kind)]
    for name in _CLOCKS:
        if given.get(name):
            plain[name] = str(given[name]).strip()
    plain |= {name: True for name in _TICKS if given.get(name)}
    rods = str(given.get("rods", "")).strip()
    if rods and not rods.isdecimal():
        raise SeabedError(text("trips.no_rods", words=rods), key="rods")
    return plain | ({"rods": int(rods)} if rods else {})


def _changed(water: Water) -> str:
    """Say what changed since the last trip was worked out; ``""`` for nothing."""
    last = next((one for one in tasks(water, "trip") if one.state == "done"), None)
    if last is None:
        return ""
    kept = water.kept("trip") or last.request
    other = any(
        (kept.get(name) or None) != last.request.get(name)
        for name in (*_KINDS, *_CLOCKS, "salvage", "rods")
    )
    return stale_words(water, last) or (text("trips.changed") if other else "")


def _before(water: Water) -> dict[str, Any]:
    latest = next(iter(tasks(water, "trip")), None)
    return water.kept("trip") or (latest.request if latest else {})


async def put_back(request: Request, water: Water) -> Response:
    """Bring a trip that was taken out back into the logbook, out of the backup made then."""
    out = next(iter(tasks(water, "season")), None)
    backup = out.answer(water).get("backup") if out else None
    if not backup:
        raise SeabedError("no trip was removed last")
    plain = {"log": str(water.inside("logbook.gpkg")), "merge": str(backup)}
    task = await ask(request, water, "season", plain)
    return see_other(f"/w/{water.name}/trips?result={task.id}")


routes = [
    at("trips/sketch", sketch),
    at("trips/right", put_right, "POST"),
    at("trips/columns", columns),
    at("trips/columns", take_for, "POST"),
    at("trips/back", put_back, "POST"),
    at("trips", trips),
    at("trips", work_out, "POST"),
]
