"""The front page: which water."""

from __future__ import annotations

import shutil

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layers.area import write_template
from layers.desk.pages.shared import desk_of, fields_of, page, see_other
from layers.desk.tasks import tasks
from layers.jobs.demo_area import demo_files
from seabed.errors import SeabedError
from seabed.files import replacing

__all__ = ["routes"]


async def front(request: Request) -> Response:
    """List the waters; a folder that is one opens it."""
    desk = desk_of(request)
    waters = desk.waters.all()
    if desk.waters.single:
        return see_other(f"/w/{waters[0].name}/today")
    latest = {water.name: next(iter(tasks(water)), None) for water in waters}
    return page(request, "front.html", waters=waters, latest=latest, root=desk.waters.root)


async def start_water(request: Request) -> Response:
    """Make the folder and the area file of a new water."""
    form = await request.form()
    name = fields_of(form, "name")["name"]
    if not name:
        raise SeabedError("a water needs a name")
    folder = desk_of(request).waters.place_for(name)
    folder.mkdir(parents=True)
    write_template(folder / "area.toml", {("area", "name"): name})
    return see_other(f"/w/{folder.name}/bottom")


async def start_demo(request: Request) -> Response:
    """Copy the invented water, and open it."""
    sources = demo_files()
    folder = desk_of(request).waters.place_for("demo water")
    for source in sorted(sources, key=lambda path: path.suffix == ".toml"):  # the area file last
        with replacing(folder / source.name, result=False) as partial:
            shutil.copyfile(source, partial)
    return see_other(f"/w/{folder.name}/today")


async def water(request: Request) -> Response:
    """Open a water where a day begins."""
    return see_other(f"/w/{request.path_params['water']}/today")


routes = [
    Route("/", front),
    Route("/waters", start_water, methods=["POST"]),
    Route("/demo", start_demo, methods=["POST"]),
    Route("/w/{water}/", water),
]
