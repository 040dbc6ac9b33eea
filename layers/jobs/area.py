"""An area file to start from, with a line about every key and what is known already."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from zoneinfo import ZoneInfo

from layers.area import write_template
from layers.jobs._templates import template_files, write_templates
from layers.jobs.options import options_of
from layers.jobs.parts.outputs import keep_apart, keep_others
from layers.jobs.parts.settings import area_of, in_depth_unit
from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import AreaRequest
from layers.jobs.result import Result
from seabed.files import plain_file


def run(request: AreaRequest, progress: Progress = ignored) -> Result:
    """Write an area file; its values are read first, as a job will read them.

    Raises SeabedError if a value can't be right, or there is a file already that is not to be
    replaced.
    """
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
