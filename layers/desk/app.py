"""The desk as an ASGI application."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from layers.desk.guard import Guard, Keys
from layers.desk.pages import (
    bottom,
    carrying,
    files,
    front,
    own_water,
    season,
    this_water,
    today,
    trips,
    typed,
)
from layers.desk.pages.shared import Desk, fault
from layers.desk.texts import text
from layers.present.looks import css_variables
from seabed.errors import SeabedError

__all__ = ["make_app"]

_BROWSER = Path(__file__).with_name("browser")


def make_app(
    folder: Path,
    keys: Keys,
    *,
    stop: Callable[[], None] = lambda: None,
    ready: Callable[[], None] = lambda: None,
) -> ASGIApp:
    """Make the application for one folder.

    Parameters
    ----------
    folder : Path
        Resolved; it holds waters, or is one.
    keys : Keys
    stop : callable
        Ends the server.
    ready : callable
        Called when pages can be asked for.
    """
    desk = Desk.of(folder)

    @asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        ready()
        yield
        await desk.close()

    async def stopped(_request: Request) -> Response:
        stop()
        return PlainTextResponse(text("desk.stopped"))

    async def ping(_request: Request) -> Response:
        return PlainTextResponse("seabed desk")

    async def looks(_request: Request) -> Response:
        return Response(css_variables(), media_type="text/css")

    app = Starlette(
        routes=[
            Route("/ping", ping),
            Route("/looks.css", looks),
            Route("/stop", stopped, methods=["POST"]),
            Mount("/browser", StaticFiles(directory=_BROWSER)),
            *front.routes, *files.routes, *today.routes, *trips.routes, *season.routes,
            *bottom.routes, *this_water.routes, *typed.routes, *own_water.routes, *carrying.routes,
        ],
        exception_handlers={SeabedError: fault, 404: fault, 500: fault},
        lifespan=lifespan,
    )  # fmt: skip
    app.state.desk = desk
    return Guard(app, keys)
