"""The page on the water itself: what is known of it."""

from __future__ import annotations

from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layers.area.editing import change_area
from layers.desk.pages.shared import fields_of, see_other, water_of, water_page
from layers.desk.waters import FOLDERS, Water
from seabed.errors import SeabedError
from seabed.tables.documents import parse_toml

__all__ = ["routes"]

SENTENCES: Final = {
    "name": ("area", "name"),
    "timezone": ("area", "timezone"),
    "grid": ("grid", "files"),
    "units": ("units", "depth"),
    "band": ("depths", "band"),
    "heights": ("water", "heights"),
    "currents": ("water", "currents"),
    "flood": ("water", "flood_toward"),
    "ebb": ("water", "ebb_toward"),
    "charts": ("charts", "files"),
    "launch": ("plan", "launch"),
    "craft": ("boat", "craft"),
    "rods": ("boat", "rods"),
    "running": ("boat", "running_speed"),
    "motor": ("boat", "motor_limit"),
}
"""Section and key of the area file for each sentence of the page."""

GROUPS: Final = {
    "place": ("name", "timezone", "grid", "charts"),
    "tide": ("heights", "currents", "flood", "ebb"),
    "boat": ("launch", "craft", "rods", "running", "motor"),
    "shown": ("units", "band"),
}
"""Sentences under one heading."""

_LISTS: Final = {"grid", "charts"}
_WHOLE: Final = {"rods"}
_NUMBERS: Final = {"flood", "ebb"}


async def this_water(request: Request) -> Response:
    """Show what the area file says, a sentence each."""
    water = water_of(request)
    came = {kind: [path.name for path in water.files(kind)] for kind in FOLDERS}
    shown: dict[str, Any] = {"sentences": _sentences(water), "groups": GROUPS, "came": came}
    return await water_page(request, "water.html", water, removed=_removed(water), **shown)


async def change(request: Request) -> Response:
    """Change what the area file says of one thing."""
    water = water_of(request)
    form = await request.form()
    values: dict[tuple[str, ...], Any] = {}
    for name, place in SENTENCES.items():
        if name in form:
            values[place] = _value(name, str(form[name]).strip())
    change_area(water.area_file, values)
    return see_other(f"/w/{water.name}/water")


def _removed(water: Water) -> list[str]:
    """List the files that were taken away, as folder and name."""
    folder = water.folder / "removed"
    paths = [path for kind in FOLDERS for path in sorted((folder / kind).glob("*"))]
    return [path.relative_to(folder).as_posix() for path in paths]


def _value(name: str, words: str) -> Any:
    if not words:
        return None
    if name in _LISTS:
        return [word.strip() for word in words.split(",")]
    try:
        return int(words) if name in _WHOLE else float(words) if name in _NUMBERS else words
    except ValueError:
        return words  # the area file's reader says what is wrong


def _sentences(water: Water) -> dict[str, str]:
    try:
        content = parse_toml(water.area_file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return dict.fromkeys(SENTENCES, "")
    said = {}
    for name, (section, key) in SENTENCES.items():
        value = content.get(section, {}).get(key, "")
        said[name] = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return said


async def use_file(request: Request) -> Response:
    """Take a file that came in as this water's tide heights, currents or chart."""
    water = water_of(request)
    given = fields_of(await request.form(), "as", "file")
    path = water.inside(*given["file"].split("/"))
    if given["as"] not in SENTENCES or not path.is_file():
        raise SeabedError("no such file in this water", file=given["file"])
    name = path.relative_to(water.folder).as_posix()
    value = [name] if given["as"] in _LISTS else name
    change_area(water.area_file, {SENTENCES[given["as"]]: value})
    return see_other(f"/w/{water.name}/water")


routes = [
    Route("/w/{water}/water", this_water),
    Route("/w/{water}/water/use", use_file, methods=["POST"]),
    Route("/w/{water}/water", change, methods=["POST"]),
]
