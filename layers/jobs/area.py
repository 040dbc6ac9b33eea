"""An area file to start from, with what is known already, and empty tables beside it."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from layers.area import Units, write_template
from layers.jobs.options import options_of
from layers.jobs.parts.outputs import keep_apart, keep_others
from layers.jobs.parts.settings import area_of, in_depth_unit
from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import AreaRequest
from layers.jobs.result import Result
from seabed.files import plain_file, replacing, write_text

EXAMPLES: Final[dict[str, tuple[str, ...]]] = {
    "catches": (
        "2031-06-14,07:42,brindle flounder,41,yes,1,on the edge",
        "2031-06-14,07:55,brindle flounder,28,no,2,",
        "2031-06-14,08:20,tasset gurnard,35,yes,1,two in a minute",
    ),
    "tide_heights": (
        "2031-06-14 03:12,1.9,high", "2031-06-14 09:20,0.1,low",
        "2031-06-14 15:40,1.8,high", "2031-06-14 21:55,0.3,low",
    ),
    "currents": (
        "2031-06-14 00:40,slack,", "2031-06-14 03:50,flood,1.2", "2031-06-14 06:45,slack,",
        "2031-06-14 10:05,ebb,1.4", "2031-06-14 13:10,slack,",
    ),
    "wind": (
        "2031-06-14 06:00,6,SW,", "2031-06-14 09:00,9,SW,14", "2031-06-14 12:00,12,W,18",
    ),
    "soundings": (
        "2031-06-14 07:40:00,46.19120,-33.38600,8.4", "2031-06-14 07:40:02,46.19122,-33.38601,8.5",
        "2031-06-14 07:40:04,46.19125,-33.38603,8.7", "2031-06-14 07:40:06,46.19127,-33.38604,8.8",
    ),
}  # fmt: skip
"""Rows below the headings that `headings_of` gives, in metres, centimetres and knots; invented."""


def headings_of(units: Units) -> dict[str, list[str]]:
    """Give the headings of each table, in the units of an area."""
    depth = "ft" if units.depth == "ft" else "m"
    return {
        "catches": ["date", "time", "species", f"length_{units.fish}", "kept", "rod", "note"],
        "tide_heights": ["time", f"height_{depth}", "kind"],
        "currents": ["time", "event", "speed_kn"],
        "wind": ["time", "speed_kn", "from", "gust_kn"],
        "soundings": ["time", "latitude", "longitude", f"depth_{depth}"],
    }


def template_files(folder: Path) -> dict[str, Path]:
    """Files that `write_templates` makes, by name."""
    return {
        f"{name}_{kind}": folder / f"{name}.{kind}" for name in EXAMPLES for kind in ("csv", "xlsx")
    }


def write_templates(folder: Path, units: Units) -> None:
    """Write the headings of each table, in the units of an area."""
    import openpyxl

    files = template_files(folder)
    for name, columns in headings_of(units).items():
        write_text(files[f"{name}_csv"], ",".join(columns) + "\n")
        book = openpyxl.Workbook()
        book.active.title = name
        book.active.append(columns)
        with replacing(files[f"{name}_xlsx"]) as partial:
            book.save(partial)


def run(request: AreaRequest, progress: Progress = ignored) -> Result:
    """Write an area file; its values are read first, as a job will read them."""
    progress("writing", 0.0)
    area = area_of(request)
    given: dict[tuple[str, str], str | list[str]] = {}
    for name, about in options_of(type(request)).items():
        value = getattr(request, name)
        if about.overrules and value:
            section, _, key = about.overrules.partition(".")
            given[section, key] = value
    given.setdefault(("area", "timezone"), _own_zone())
    for key in ("band", "contours"):
        if words := getattr(request, key):
            given["depths", key] = in_depth_unit(words, area)
    if request.grid:
        given["grid", "files"] = [_beside(file, request.out) for file in request.grid]
    keep_apart([request.out], request.grid)
    plain_file(request.out)
    files = {"area": request.out}
    if request.templates:
        folder = request.out.parent / "templates"
        files |= template_files(folder)
        keep_others(template_files(folder).values())
        write_templates(folder, area.units)
    write_template(request.out, given, replace=request.replace)
    return Result(area=area, files=files)


def _own_zone() -> str:
    """Name the zone of this computer; UTC if it names none."""
    from tzlocal import get_localzone_name

    with suppress(ValueError, OSError, LookupError):
        name = ZoneInfo(get_localzone_name()).key
        return "UTC" if name.startswith("Etc/") else name
    return "UTC"


def _beside(grid: str, out: Path) -> str:
    """Name a file from the folder of the area file, with / between folders."""
    if grid.startswith(("http://", "https://")):
        return grid
    try:
        return Path(os.path.relpath(grid, out.parent)).as_posix()
    except ValueError:  # another drive on Windows
        return Path(grid).resolve().as_posix()
