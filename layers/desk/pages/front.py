"""The front page: which water."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from typing import Final

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from layers.area import write_template
from layers.desk.pages.forms import fields_of, form_of, zones
from layers.desk.pages.shared import at, desk_of, look, page, refusal, see_other
from layers.desk.texts import text
from layers.desk.waters import AREA, KINDS, Water
from layers.jobs.demo_area import demo_files
from seabed.errors import SeabedError
from seabed.files import write_text

DEMO_DAY: Final = {"date": "2031-06-14", "wind": "SW 8 kn"}
"""A day that the tables of the invented water cover."""

_EMPTY = '<svg xmlns="http://www.w3.org/2000/svg"/>'


IN_METRES: Final = {
    ("units", "depth"): "m", ("units", "fish"): "cm", ("boat", "wave_limit"): "0.9 m",
    ("plan", "least_water"): "1.6 m",
}  # fmt: skip
"""Units of a new water, and the defaults in feet, to the safe side."""


async def front(request: Request) -> Response:
    """List the waters; where the folder is itself a water, open that."""
    desk = desk_of(request)
    waters = desk.waters.all()
    if desk.waters.single:
        return see_other(f"/w/{waters[0].name}/today")
    return page(
        request, "front.html", waters=waters, root=desk.waters.root, refused=refusal(request)
    )


async def card(request: Request, water: Water) -> Response:
    """Give what the card of a water says: its last trip, its next good hours."""
    now = datetime.now(UTC).isoformat()
    area, log = str(water.area_file), str(water.inside("logbook.gpkg"))
    about = await look(request, water, "card", area_file=area, log=log, now=now)
    return page(request, "card.html", about=about)


async def small_map(request: Request, water: Water) -> Response:
    """Give a water's depths as a small picture; it is painted again when the area file changed."""
    file = water.inside("results", ".small_map.png")
    if not file.is_file() or file.stat().st_mtime < water.area_file.stat().st_mtime:
        file.unlink(missing_ok=True)
        area = str(water.area_file)
        await look(request, water, "small_map", area_file=area, file=str(file))
    return FileResponse(file) if file.is_file() else Response(_EMPTY, media_type="image/svg+xml")


async def start_water(request: Request) -> Response:
    """Make the folder and the area file of a new water."""
    form = await form_of(request)
    name, zone, unit = fields_of(form, "name", "zone", "units").values()
    if not name:
        raise SeabedError(text("front.no_name"), key="name")
    if zone and zone not in zones():
        raise SeabedError(text("front.no_zone", zone=zone), key="zone")
    folder = desk_of(request).waters.place_for(name)
    folder.mkdir(parents=True)
    known = {("area", "name"): name} | ({("area", "timezone"): zone} if zone else {})
    if unit == "m":
        known |= IN_METRES
    write_template(folder / AREA, known)
    return see_other(f"/w/{folder.name}/bottom")


async def start_demo(request: Request) -> Response:
    """Copy the invented water, and open it."""
    folder = desk_of(request).waters.place_for("demo water")
    sources = {source.name: source for source in demo_files()}
    words = sources.pop(AREA).read_text(encoding="utf-8")
    for name, source in sources.items():
        kind = "tides" if name.endswith("_table.csv") else KINDS[source.suffix]
        (folder / kind).mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, folder / kind / name)
        words = words.replace(f'"{name}"', f'"{kind}/{name}"')
    Water(folder).keep("day", DEMO_DAY)
    write_text(folder / AREA, words, result=False)  # last: it makes a water of the folder
    return see_other(f"/w/{folder.name}/today")


async def water(request: Request) -> Response:
    """Open a water at the page where a day begins."""
    return see_other(f"/w/{request.path_params['water']}/today")


routes = [
    Route("/", front),
    Route("/waters", start_water, methods=["POST"]),
    Route("/demo", start_demo, methods=["POST"]),
    Route("/w/{water}/", water),
    at("card", card),
    at("small_map.png", small_map),
]
