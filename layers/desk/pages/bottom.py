"""The page Bottom: what is down there."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from layers.desk.pages.forms import change_checked, change_water, fields_of, form_of, number
from layers.desk.pages.shared import ask, at, desk_of, look, read_area, see_other, water_page
from layers.desk.tasks import tasks
from layers.desk.texts import text
from layers.desk.waters import Water
from layers.jobs.requests import PICTURE_KINDS
from seabed.errors import SeabedError

MOST_SHOWN = 20
"""Places of the list beside the map."""


async def bottom(request: Request, water: Water) -> Response:
    """Show the grid's depths, and what was found on it."""
    grids = [path.name for path in water.files("grids")]
    runner = await desk_of(request).runner(water)
    picture = next((runner.now(one.id) for one in tasks(water, "picture")), None)
    return await water_page(
        request, "bottom.html", water, jobs=("scout",), grids=grids, places=_places,
        picture=picture, picture_kinds=PICTURE_KINDS,
    )  # fmt: skip


def _places(answer: dict[str, Any]) -> list[tuple[str, str]]:
    """Name the best places, with their kinds."""
    return [(place["name"], place["kind"]) for place in answer["ranking"][:MOST_SHOWN]]


async def depths(request: Request, water: Water) -> Response:
    """Give the histogram of the water's depths."""
    return JSONResponse(await look(request, water, "depths", area_file=str(water.area_file)))


async def name_address(request: Request, water: Water) -> Response:
    """Take depths from a web address that the skipper names."""
    address = fields_of(await form_of(request), "address")["address"]
    parts = urlsplit(address)
    if parts.scheme.lower() not in ("https", "http") or not parts.hostname:
        raise SeabedError(
            f"{address!r} is not a web address", key="address", do=text("bottom.like")
        )
    try:
        await change_checked(request, water, {("grid", "files"): [address]})
    except SeabedError as error:
        raise SeabedError(error.what, key="address") from error
    return see_other(f"/w/{water.name}/bottom?saved")


async def save_band(request: Request, water: Water) -> Response:
    """Keep the band of depth in the area file."""
    given = fields_of(await form_of(request), "band_from", "band_to")
    unit = read_area(water)[0].units.depth
    low, high = sorted((number(words, name) for name, words in given.items()), key=float)
    band = f"{low}-{high} {unit}"
    change_water(water, {("depths", "band"): band})
    return see_other(f"/w/{water.name}/bottom?saved")


async def save_reading(request: Request, water: Water) -> Response:
    """Keep how the grid's numbers are to be read."""
    given = fields_of(await form_of(request), "sign", "unit", "vertical_datum", "crs")
    change_water(water, {("grid", key): value for key, value in given.items()})
    return see_other(f"/w/{water.name}/bottom?saved")


async def scout(request: Request, water: Water) -> Response:
    """Look for edges, humps and holes."""
    older = fields_of(await form_of(request), "against")["against"]
    against = str(water.inside("grids", older)) if older else ""
    task = await ask(request, water, "scout", {"against": against})
    return see_other(f"/w/{water.name}/bottom?result={task.id}")


async def write_picture(request: Request, water: Water) -> Response:
    """Write the bottom for a map program, with what was found on it last."""
    kind = fields_of(await form_of(request), "kind")["kind"]
    scouted = next((one for one in tasks(water, "scout") if "structure" in one.files), None)
    structure = [scouted.files["structure"]] if scouted and not scouted.stale(water) else []
    plain = {
        "kind": [kind] if kind else [],
        "structure": [str(water.inside(*name.split("/"))) for name in structure],
    }
    await ask(request, water, "picture", plain)
    return see_other(f"/w/{water.name}/bottom#picture")


routes = [
    at("bottom", bottom),
    at("bottom", scout, "POST"),
    at("bottom/depths", depths),
    at("bottom/picture", write_picture, "POST"),
    at("bottom/address", name_address, "POST"),
    at("bottom/reading", save_reading, "POST"),
    at("bottom/band", save_band, "POST"),
]
