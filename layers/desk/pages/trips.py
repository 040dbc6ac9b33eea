"""The page Trips: what happened."""

from __future__ import annotations

import csv
import io
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layers.desk.pages.shared import ask, fields_of, read_area, see_other, water_of, water_page
from layers.desk.tasks import tasks
from seabed.errors import SeabedError
from seabed.files import write_text

__all__ = ["routes"]

ADDED = "added here.csv"
"""The catch log of fish that were added on the page."""

_HEADINGS = "time,species,length_{unit},kept,rod,note\n"
_KINDS = ("tracks", "catches", "photos")


async def trips(request: Request) -> Response:
    """Show the files of trips, and what came of them."""
    water = water_of(request)
    files = {kind: [path.name for path in water.files(kind)] for kind in _KINDS}
    latest = next(iter(tasks(water, "trip")), None)
    before = latest.request if latest else {}
    ticked = {Path(name).name for kind in _KINDS for name in before.get(kind, [])}
    return await water_page(
        request, "trips.html", water, jobs=("trip",), files=files, before=before, ticked=ticked
    )


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


async def add_fish(request: Request) -> Response:
    """Add a fish to the catch log that the desk keeps beside those that were sent."""
    water = water_of(request)
    given = fields_of(
        await request.form(), "day", "hour", "species", "length", "kept", "rod", "note"
    )
    try:
        time = datetime.fromisoformat(f"{given['day']}T{given['hour']}")
    except ValueError as error:
        raise SeabedError(f"no time of a day: {given['day']} {given['hour']}") from error
    if not given["species"]:
        raise SeabedError("a fish needs a species")
    unit = read_area(water)[0].units.fish
    log = water.inside("catches", ADDED)
    before = log.read_text(encoding="utf-8") if log.is_file() else _HEADINGS.format(unit=unit)
    line = io.StringIO()
    kept = "yes" if given["kept"] else "no"
    cells = [given["species"], given["length"], kept, given["rod"], given["note"]]
    csv.writer(line, lineterminator="\n").writerow([time.isoformat(" "), *cells])
    write_text(log, before + line.getvalue(), result=False)
    return see_other(f"/w/{water.name}/trips")


routes = [
    Route("/w/{water}/trips/fish", add_fish, methods=["POST"]),
    Route("/w/{water}/trips", trips),
    Route("/w/{water}/trips", work_out, methods=["POST"]),
]
