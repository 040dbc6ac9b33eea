"""A water's files and tasks: taken in, shown, stopped, carried away."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse

from layers.desk.pages.shared import (
    ask,
    at,
    desk_of,
    page,
    page_of,
    read_area,
    see_other,
    stale_words,
)
from layers.desk.pages.this_water import uses_of
from layers.desk.tasks import Task, forget, keep, task
from layers.desk.waters import FOLDERS, KINDS, Water
from seabed.errors import OutputError, SeabedError
from seabed.files import replacing

_MADE_PAGE = (
    "sandbox allow-scripts allow-downloads allow-modals allow-popups; frame-ancestors 'self'"
)
"""A map or report that a job made runs apart from the desk: no cookie, no request to it."""


async def receive_file(request: Request, water: Water) -> Response:
    """Take in one file; its bytes are the request's body, its name is in the address."""
    name = request.query_params.get("name", "")
    kind = request.query_params.get("kind") or KINDS.get(Path(name).suffix.lower(), "")
    if kind not in LARGEST:
        raise SeabedError(
            "no kind of file that the desk knows", file=name, do="Send a track, a table, a grid."
        )
    target = water.place_for(kind, name)
    await receive(request.stream(), target)
    return JSONResponse({"kind": kind, "name": target.name})


async def remove_file(request: Request, water: Water) -> Response:
    """Move a file that was taken in to the water's folder of removed files."""
    kind, name = request.path_params["kind"], request.path_params["name"]
    path = water.inside(kind, name)
    if kind not in FOLDERS or path not in water.files(kind):
        raise HTTPException(404)
    target = water.place_for(f"removed/{kind}", path.name)
    target.parent.mkdir(parents=True, exist_ok=True)
    path.rename(target)
    return JSONResponse({"name": name})


async def bring_back(request: Request, water: Water) -> Response:
    """Move a file that was taken away back to where it was."""
    kind, _, name = str((await request.form()).get("file", "")).partition("/")
    path = water.inside("removed", kind, name)
    if kind not in FOLDERS or not path.is_file():
        raise SeabedError("no such file was removed", file=name)
    water.inside(kind).mkdir(exist_ok=True)
    path.rename(water.place_for(kind, path.name))
    return see_other(f"/w/{water.name}/water")


async def show_file(request: Request, water: Water) -> Response:
    """Give a file of the results, or one that was taken in."""
    parts = request.path_params["path"].split("/")
    if parts[0] not in ("results", *FOLDERS) or any(part.startswith(".") for part in parts):
        raise HTTPException(404)
    try:
        path = water.inside(*parts)
    except SeabedError as error:
        raise HTTPException(404) from error
    if not path.is_file():
        raise HTTPException(404)
    made = path.suffix in (".html", ".svg", ".xml")
    headers = {"content-security-policy": _MADE_PAGE, "x-frame-options": "SAMEORIGIN"}
    saved = "save" in request.query_params
    if parts[0] == "results" and (saved or request.headers.get("sec-fetch-dest") == "document"):
        keep(water, parts[1])
    return FileResponse(
        path, headers=headers if made else None, filename=path.name if saved else None
    )


async def task_panel(request: Request, water: Water) -> Response:
    """Give the part of a page that tells how a task gets on."""
    runner = await desk_of(request).runner(water)
    now = runner.now(_task(request, water).id)
    area, _ = read_area(water)
    return page(
        request, "task.html", water=water, area=area, task=now, stale=stale_words(water, now)
    )


async def cancel(request: Request, water: Water) -> Response:
    """Stop a task; keep no record of it if it is to be forgotten."""
    id_ = _task(request, water).id
    runner = await desk_of(request).runner(water)
    await runner.cancel(id_)
    if "forget" in request.query_params and runner.now(id_).state == "stopped":
        forget(water, id_)
    return JSONResponse({})


async def again(request: Request, water: Water) -> Response:
    """Ask for a task once more, as it was asked."""
    before = _task(request, water)
    wanted = await ask(request, water, before.job, before.request)
    return see_other(page_of(wanted, water))


async def events(request: Request, water: Water) -> Response:
    """Send each task that changes, as it changes (server-sent events)."""
    runner = await desk_of(request).runner(water)

    async def lines() -> AsyncIterator[str]:
        yield "retry: 1000\n\n"
        async for id_ in runner.changes():
            now = runner.now(id_)
            yield f"event: task\ndata: {id_} {now.state}\n\n"

    return StreamingResponse(lines(), media_type="text/event-stream")


async def look_kinds(request: Request, water: Water) -> Response:
    """Say what files are taken for, what is wrong with them, and what they can be used for."""
    runner = await desk_of(request).runner(water)
    names = request.query_params.getlist("file")
    paths = [str(water.inside(*name.split("/"))) for name in names]
    kinds = await runner.look("kinds", files=paths, area_file=str(water.area_file))
    shown = [one | {"path": name} for one, name in zip(kinds, names, strict=True)]
    uses = uses_of(water) if "use" in request.query_params else {}
    return page(request, "kinds.html", water=water, kinds=shown, uses=uses)


def _task(request: Request, water: Water) -> Task:
    try:
        return task(water, request.path_params["id"])
    except SeabedError as error:
        raise HTTPException(404) from error


routes = [
    at("files", receive_file, "POST"),
    at("files/{kind}/{name}/remove", remove_file, "POST"),
    at("removed", bring_back, "POST"),
    at("files/{path:path}", show_file),
    at("kinds", look_kinds),
    at("events", events),
    at("tasks/{id}", task_panel),
    at("tasks/{id}/cancel", cancel, "POST"),
    at("tasks/{id}/again", again, "POST"),
]


_MEGA: Final = 1024 * 1024
LARGEST: Final = {
    "grids": 8192 * _MEGA,
    "charts": 64 * _MEGA,
    "tracks": 512 * _MEGA,
    "catches": 32 * _MEGA,
    "photos": 64 * _MEGA,
    "tides": 32 * _MEGA,
    "soundings": 512 * _MEGA,
}
"""The largest file of each folder, in bytes."""


async def receive(chunks: AsyncIterator[bytes], target: Path) -> Path:
    """Write a file in one of the folders of `LARGEST` from chunks as they come.

    Raises SeabedError if it is empty or too large, OutputError if it exists; nothing is left then.
    """
    largest = LARGEST[target.parent.name]
    size = 0
    with replacing(target, result=False) as partial, partial.open("wb") as stream:
        async for chunk in chunks:
            size += len(chunk)
            if size > largest:
                raise SeabedError(
                    f"the file is larger than {largest // _MEGA:,} MB",
                    file=target.name,
                    do="Cut it to the water that you fish, and send that.",
                )
            stream.write(chunk)
        if not size:
            raise SeabedError("the file is empty", file=target.name)
        if target.exists():
            raise OutputError("a file of this name exists already", file=target.name)
    return target
