"""What is carried to the boat: marks for the plotter, and the files of a result."""

from __future__ import annotations

import io
import shutil
import zipfile
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from layers.area.keys import MARK_KINDS
from layers.cautions import CAUTIONS
from layers.desk.pages.forms import change_water, fields_of, form_of
from layers.desk.pages.shared import ask, at, see_other
from layers.desk.tasks import Task, keep, task
from layers.desk.waters import Water
from seabed.errors import SeabedError
from seabed.files import write_text

_FROM = ("structure", "layers")
"""Files of results that hold what marks are made of."""


async def write_marks(request: Request, water: Water) -> Response:
    """Write marks of the chosen lines or places; letters and symbols are kept in the area file."""
    form = await form_of(request)
    given = fields_of(form, "of", "back", "name_length")
    result = task(water, given["of"])
    keep(water, result.id)
    files = [result.files[name] for name in _FROM if name in result.files]
    symbols = [f"{kind}: {form[kind]}" for kind in MARK_KINDS if str(form.get(kind, "")).strip()]
    values: dict[tuple[str, ...], Any] = {("marks", "symbols"): symbols or None}
    length = given["name_length"]
    values["marks", "name_length"] = int(length) if length.isdecimal() else length or None
    change_water(water, values)
    plain = {
        "results": [str(water.inside(*name.split("/"))) for name in files],
        "line": [str(name) for name in form.getlist("line")],
        "out": "marks.gpx",
    }
    made = await ask(request, water, "marks", plain)
    back = given["back"] if given["back"] in ("today", "season") else "bottom"
    return see_other(f"/w/{water.name}/{back}?result={result.id}&marks={made.id}#plotter")


async def carry_zip(request: Request, water: Water) -> Response:
    """Give the chosen files of a result in one zip, with the cautions."""
    result = _result(request, water)
    paths = _chosen(water, result, request.query_params.getlist("what"))
    content = await run_in_threadpool(_zipped, paths)
    name = quote(f"{water.name} {result.id}.zip")
    headers = {"content-disposition": f"attachment; filename*=utf-8''{name}"}
    return Response(content, media_type="application/zip", headers=headers)


async def carry_folder(request: Request, water: Water) -> Response:
    """Copy the chosen files of a result into one folder of the water, with the cautions."""
    result = _result(request, water)
    form = await form_of(request)
    folder = water.inside("carry", result.id)
    folder.mkdir(parents=True, exist_ok=True)
    for path in _chosen(water, result, [str(name) for name in form.getlist("what")]):
        shutil.copyfile(path, folder / path.name)
    write_text(folder / "README.txt", CAUTIONS + "\n", result=False)
    back = fields_of(form, "back")["back"]
    back = back if back in ("today", "season", "trips") else "bottom"
    return see_other(f"/w/{water.name}/{back}?result={result.id}&carried={folder.name}#carry")


def _result(request: Request, water: Water) -> Task:
    id_ = request.path_params["id"]
    keep(water, id_)
    try:
        return task(water, id_)
    except SeabedError as error:
        raise HTTPException(404) from error


def _chosen(water: Water, result: Task, names: list[str]) -> list[Path]:
    """Give the files of a result that are named, all if none is; ``others`` is all but a few."""
    named = set(names or result.files)
    wanted = [
        name for name in result.files
        if name in named or ("others" in named and name not in ("sheet", "page", "map", "marks"))
    ]  # fmt: skip
    paths = [water.inside(*result.files[name].split("/")) for name in wanted]
    return [path for path in paths if path.is_file()]


def _zipped(paths: list[Path]) -> bytes:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in paths:
            archive.write(path, path.name)
        archive.writestr("README.txt", CAUTIONS + "\n")
    return whole.getvalue()


routes = [
    at("marks", write_marks, "POST"),
    at("tasks/{id}/carry", carry_zip),
    at("tasks/{id}/carry", carry_folder, "POST"),
]
