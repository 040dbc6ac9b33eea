"""The page on the water itself: what is known of it."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response

from layers.area import Area
from layers.area.keys import Choice, Key
from layers.area.loading import key_named, keys_of, sections
from layers.desk.pages.forms import change_checked, change_water, fields_of, form_of, winds, zones
from layers.desk.pages.shared import ask, at, see_other, water_page
from layers.desk.texts import as_typed
from layers.desk.waters import FOLDERS, TYPED, Water, is_wind_table
from seabed.errors import AreaError, SeabedError
from seabed.files import write_text
from seabed.tables.documents import parse_toml
from seabed.tables.spreadsheets import is_table_name

HEADINGS: Final = {
    "place": ("area_", "grid_", "charts_"),
    "tide": ("water_",),
    "wind": ("wind_",),
    "launch": ("plan_launch",),
    "limits": (
        "boat_wind_limit", "boat_gust_limit", "boat_current_limit", "boat_wave_limit",
        "boat_onshore_limit", "boat_darkness_limit", "plan_least_water", "plan_hazard_clearance",
    ),
    "boat": ("boat_",),
    "tackle": ("tackle_",),
    "drifts": ("plan_",),
    "shown": ("units_", "depths_", "marks_", "map_"),
    "fine": ("",),
}  # fmt: skip
"""How the keys under a heading begin; each key is under the first that fits."""

ELSEWHERE: Final = frozenset({
    "grid_crs", "grid_sign", "grid_unit", "grid_vertical_datum",  # Bottom
    "marks_symbols",  # the card of the plotter
    "catches_columns",  # Trips
    "logbook_file",  # the desk keeps the logbook beside the area file
})  # fmt: skip
"""Keys that other pages change."""


def _groups() -> dict[str, list[str]]:
    groups: dict[str, list[str]] = {heading: [] for heading in HEADINGS}
    for section, kind in {"area": Area, **sections()}.items():
        for spec in keys_of(kind).values():
            name = f"{section}_{spec.name}"
            if name not in ELSEWHERE:
                groups[next(one for one in HEADINGS if name.startswith(HEADINGS[one]))].append(name)
    return groups


GROUPS: Final = _groups()
"""Fields under one heading: section and key of the area file, a line between them."""

NEEDED: Final = (
    "grid_files", "area_timezone", "water_heights", "water_currents", "water_flood_toward",
    "plan_launch",
)  # fmt: skip
"""What a plan misses most, in the order of the work."""

_BETWEEN: Final = re.compile(r";|, |(?<!\d),")
"""Between the items of a list: no decimal comma."""

RULE: Final = ("min_length", "daily_bag", "checked")


@dataclass(frozen=True)
class AreaField:
    """A key of the area file as a field of the page."""

    name: str
    spec: Key
    value: str

    @property
    def place(self) -> tuple[str, str]:
        """Section and key."""
        section, _, key = self.name.partition("_")
        return section, key

    @property
    def words(self) -> tuple[str, ...]:
        """To choose from; none where anything may be written."""
        return self.spec.read.words if isinstance(self.spec.read, Choice) else ()

    @property
    def usual(self) -> str:
        """What holds where nothing is written; ``""`` for nothing."""
        default = self.spec.default
        return as_typed("" if default is None else default)

    def given(self, words: str) -> Any:
        """Give what was typed as a TOML value; None takes the key out."""
        if not words:
            return None
        if isinstance(self.spec.default, list):
            return [word.strip() for word in _BETWEEN.split(words) if word.strip()]
        usual = (str(self.spec.default), self.spec.example)
        return _number(words) if any(one.replace(".", "").isdigit() for one in usual) else words


def _fields(water: Water) -> dict[str, AreaField]:
    """Give all fields with what the area file says now."""
    content = _content(water)
    fields = {}
    for name in (name for names in GROUPS.values() for name in names):
        section, _, key = name.partition("_")
        value = content.get(section, {}).get(key, "")
        fields[name] = AreaField(name, key_named(section, key)[1], as_typed(value))
    return fields


def uses_of(water: Water) -> dict[str, list[str]]:
    """Give the files that fields of the area file name, by field."""
    return {name: field.value.split(", ") for name, field in _fields(water).items()}


def _content(water: Water) -> dict[str, Any]:
    try:
        return parse_toml(water.area_file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}


def _number(words: str) -> Any:
    """Read a number; else the area file's reader says what is wrong with it."""
    for kind in (int, float):
        try:
            return kind(words.replace(",", "."))
        except ValueError:
            continue
    return words


async def this_water(request: Request, water: Water) -> Response:
    """Show what the area file says, what is missing first."""
    fields = _fields(water)
    came = {kind: [path.name for path in water.files(kind)] for kind in FOLDERS}
    return await water_page(
        request, "water.html", water, jobs=("tide", "soundings"), fields=fields, groups=GROUPS,
        missing=list(_missing(fields)), came=came, wind_table=_wind_table(water),
        rules=_content(water).get("species", {}), removed=list(_removed(water)), typed=TYPED,
        can_undo=water.area_before.is_file(), zones=zones(),
    )  # fmt: skip


def _wind_table(water: Water) -> str:
    """Name the newest table of text whose headings are of wind."""
    tables = (path for path in water.files("tides") if is_table_name(path) and is_wind_table(path))
    return next((path.relative_to(water.folder).as_posix() for path in tables), "")


def _missing(fields: dict[str, AreaField]) -> Iterator[str]:
    """Name what a plan misses most; only a table of currents does not say where the flood runs."""
    table = is_table_name(fields["water_currents"].value)
    for name in NEEDED:
        if not fields[name].value and (table or name != "water_flood_toward"):
            yield name


async def change(request: Request, water: Water) -> Response:
    """Change keys of the area file."""
    form = await form_of(request)
    values: dict[tuple[str, ...], Any] = {
        field.place: field.given(str(form[name]).strip())
        for name, field in _fields(water).items()
        if name in form and str(form[name]).strip() != field.value
    }  # fmt: skip
    await change_checked(request, water, values)
    return see_other(f"/w/{water.name}/water?saved")


async def change_rules(request: Request, water: Water) -> Response:
    """Change the rules of species; one whose name is emptied is taken out."""
    form = await form_of(request)
    values: dict[tuple[str, ...], Any] = {}
    rows = {}
    for row in form.getlist("row"):
        given = fields_of(form, *(f"{name}_{row}" for name in ("before", "species", *RULE)))
        before, species, *rule = given.values()
        if before and before != species:
            values["species", before] = None
        if species:
            words, rows[species] = dict(zip(RULE, rule, strict=True)), row
            values |= {("species", species, name): _rule(name, words[name]) for name in RULE}
    try:
        change_water(water, values)
    except AreaError as error:
        section, _, name = (error.where or "").rpartition(" ")
        for species, row in rows.items():
            if section == f'[species."{species}"]':
                error.key = f"{name}_{row}"
        raise
    return see_other(f"/w/{water.name}/water?saved")


def _rule(name: str, words: str) -> Any:
    if not words:
        return None
    if name == "checked":
        try:
            return date.fromisoformat(words)
        except ValueError:
            return words
    return _number(words) if name == "daily_bag" else words


async def undo(request: Request, water: Water) -> Response:
    """Bring the area file back as it was before the last change; a second time, the change."""
    back = "bottom" if "/bottom" in request.headers.get("referer", "") else "water"
    if water.area_before.is_file():
        before = water.area_before.read_text(encoding="utf-8")
        write_text(water.area_before, water.area_file.read_text(encoding="utf-8"), result=False)
        write_text(water.area_file, before, result=False)
    return see_other(f"/w/{water.name}/{back}?saved")


async def use_file(request: Request, water: Water) -> Response:
    """Use a file that came in, or that a job made, for heights, currents, depths or hazards."""
    given = fields_of(await form_of(request), "as", "file")
    path = water.inside(*given["file"].split("/"))
    fields = _fields(water)
    if given["as"] not in fields or not path.is_file():
        raise SeabedError("no such file in this water", file=given["file"])
    field = fields[given["as"]]
    name = _kept(water, path, field).relative_to(water.folder).as_posix()
    before = field.value.split(", ") if field.name == "charts_files" and field.value else []
    values: dict[tuple[str, ...], Any] = {field.place: field.given(", ".join([*before, name]))}
    await change_checked(request, water, values)
    return see_other(f"/w/{water.name}/water?saved")


def _kept(water: Water, path: Path, field: AreaField) -> Path:
    """Copy a result beside what was sent, so that results can be cleared away."""
    if not path.is_relative_to(water.results):
        return path
    target = water.place_for("grids" if field.name == "grid_files" else "tides", path.name)
    target.parent.mkdir(exist_ok=True)
    shutil.copyfile(path, target)
    return target


def _removed(water: Water) -> Iterator[str]:
    """List the files that were taken away, as folder and name."""
    for kind in FOLDERS:
        for path in sorted((water.folder / "removed" / kind).glob("*")):
            yield f"{kind}/{path.name}"


async def learn(request: Request, water: Water) -> Response:
    """Learn the current from the drifts of tracks."""
    form = await form_of(request)
    tracks = [str(water.inside("tracks", str(name))) for name in form.getlist("tracks")]
    wind = winds(water, fields_of(form, "wind")["wind"])
    plain = {"learn": tracks, "wind": wind, "out": "out"}
    task = await ask(request, water, "tide", plain)
    return see_other(f"/w/{water.name}/water?result={task.id}#own")


async def sound(request: Request, water: Water) -> Response:
    """Lay own soundings on the open grid."""
    form = await form_of(request)
    plain: dict[str, Any] = {
        "logs": [str(water.inside("soundings", str(name))) for name in form.getlist("logs")],
        "no_tide": bool(form.get("no_tide")),
        "depths_from": fields_of(form, "depths_from")["depths_from"],
    }
    task = await ask(request, water, "soundings", plain)
    return see_other(f"/w/{water.name}/water?result={task.id}#own")


routes = [
    at("water", this_water),
    at("water/use", use_file, "POST"),
    at("water/rules", change_rules, "POST"),
    at("undo", undo, "POST"),
    at("water", change, "POST"),
    at("water/learn", learn, "POST"),
    at("water/sound", sound, "POST"),
]
