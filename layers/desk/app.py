"""The desk as an ASGI application."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, Final

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
    season,
    this_water,
    today,
    trips,
    typed,
)
from layers.desk.pages.shared import CODE, Desk, fault
from layers.desk.texts import text
from layers.present.looks import css_variables
from seabed.errors import SeabedError

LEFT_S: Final = 3.0
"""So long after the last page was closed, no other is on its way."""
_BROWSER: Final = Path(__file__).with_name("browser")
_KEPT: Final = {"cache-control": "private, max-age=86400, immutable"}
"""Code holds nothing of a water, and each start of the desk has another address for it."""


async def _ping(_request: Request) -> Response:
    return PlainTextResponse("seabed desk")


async def _looks(_request: Request) -> Response:
    return Response(css_variables(), media_type="text/css", headers=_KEPT)


class _Code(StaticFiles):
    """The code of the pages."""

    def file_response(self, *given: Any, **named: Any) -> Response:
        """Let the browser keep a file."""
        answer = super().file_response(*given, **named)
        answer.headers.update(_KEPT)
        return answer


_ROUTES: Final = (
    Route("/ping", _ping),
    Route(f"{CODE}/looks.css", _looks),
    Mount(CODE, _Code(directory=_BROWSER)),
    *front.routes, *files.routes, *today.routes, *trips.routes, *season.routes,
    *bottom.routes, *this_water.routes, *typed.routes, *carrying.routes,
)  # fmt: skip


def make_app(
    desk: Desk,
    keys: Keys,
    *,
    stop: Callable[[], None] = lambda: None,
    ready: Callable[[], None] = lambda: None,
    left: Callable[[], None] = lambda: None,
) -> ASGIApp:
    """Make the application of a desk, which whoever serves it closes.

    stop: ends the server.
    ready: called when pages can be asked for.
    left: called when the last page was closed, and no job is under way.
    """
    shown: set[str] = set()

    def look_round() -> None:
        if not shown and not any(runner.busy for runner in desk.runners.values()):
            left()

    async def opened_or_shut(request: Request) -> Response:
        query = request.query_params
        shown.add(query.get("open", ""))
        shown.difference_update({"", query.get("shut")})
        if not shown:  # another may be on its way
            asyncio.get_running_loop().call_later(LEFT_S, look_round)
        return PlainTextResponse("")

    @asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        ready()
        yield

    async def stopped(_request: Request) -> Response:
        stop()
        return PlainTextResponse(text("desk.stopped"))

    app = Starlette(
        routes=[
            Route("/stop", stopped, methods=["POST"]),
            Route("/pages", opened_or_shut, methods=["POST"]),
            *_ROUTES,
        ],
        exception_handlers={SeabedError: fault, 404: fault, 500: fault},
        lifespan=lifespan,
    )
    app.state.desk = desk
    return Guard(app, keys)
