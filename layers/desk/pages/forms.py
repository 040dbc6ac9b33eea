"""What is typed in the forms of pages, and what it changes in the area file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from typing import Any, Final
from zoneinfo import available_timezones

from starlette.datastructures import FormData
from starlette.requests import Request

from layers.area.editing import change_area
from layers.desk.pages.shared import desk_of
from layers.desk.texts import text
from layers.desk.waters import Water
from seabed.errors import SeabedError
from seabed.files import write_text
from seabed.tables.spreadsheets import is_table_name

CHECKED: Final = {"grid_files", "charts_files", "water_heights", "water_currents", "boat_craft"}
"""Fields whose words may name something that can't be used."""


async def form_of(request: Request) -> FormData:
    """Read a form, and keep what was typed for the page that says what is wrong with it."""
    form = await request.form()
    request.scope["typed"] = {name: str(value) for name, value in form.items()}
    return form


def change_water(water: Water, values: Mapping[tuple[str, ...], Any]) -> None:
    """Change keys of the area file; the file as it was is kept, so that this can be undone."""
    before = water.area_file.read_text(encoding="utf-8")
    change_area(water.area_file, values)
    if before != water.area_file.read_text(encoding="utf-8"):
        water.area_before.parent.mkdir(exist_ok=True)
        write_text(water.area_before, before, result=False)


@cache
def zones() -> list[str]:
    """Name all time zones, in order."""
    return sorted(available_timezones())


def fields_of(form: FormData, *names: str) -> dict[str, str]:
    """Give fields of a form, trimmed."""
    return {name: str(form.get(name, "")).strip() for name in names}


def winds(water: Water, words: str) -> list[str]:
    """Split the wind as typed, ``6:00 SW 8 kn; 12:00 W 12 kn``; a table must be the water's own."""
    given = parted(words)
    for name in filter(is_table_name, given):
        with suppress(SeabedError):
            if water.inside(name).is_file():  # the worker is in this folder
                continue
        raise SeabedError(text("today.no_table", name=name), key="wind")
    return given


async def change_checked(
    request: Request, water: Water, values: Mapping[tuple[str, ...], Any]
) -> None:
    """Change keys as `change_water`; SeabedError, and no change, for an unusable file or craft."""
    files = (water.area_file, water.area_before)
    before = [file.read_text(encoding="utf-8") if file.is_file() else None for file in files]
    change_water(water, values)
    names = [name for name in map("_".join, values) if name in CHECKED]
    if not names:
        return
    runner = await desk_of(request).runner(water)
    try:
        await runner.look("misfits", area_file=str(water.area_file), names=names)
    except SeabedError:
        for file, words in zip(files, before, strict=True):
            if words is None:
                file.unlink(missing_ok=True)
            else:
                write_text(file, words, result=False)
        raise


def number(words: str, key: str) -> str:
    """Give what was typed as a number, with a decimal comma too; SeabedError for anything else."""
    plain = words.replace(",", ".")
    if not re.fullmatch(r"-?\d*\.?\d+", plain):
        raise SeabedError(text("desk.no_number", words=words), key=key)
    return plain


def parted(words: str) -> list[str]:
    """Split what is typed in one field at its semicolons."""
    return [word.strip() for word in words.split(";") if word.strip()]
