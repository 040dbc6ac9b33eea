"""What all pages share: the waters, their runners, templates, and answers to what is wrong."""

from __future__ import annotations

import re
import secrets
from collections.abc import Awaitable, Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote, unquote, urlsplit
from zoneinfo import ZoneInfo

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from layers.area import Area, load_area
from layers.area.keys import MARK_KINDS
from layers.cautions import CAUTIONS, CAUTIONS_SHORT
from layers.desk.runner import Runner
from layers.desk.tasks import Task, new_task, request_from, tasks
from layers.desk.texts import error_words, field_named, hint, plain_words, text
from layers.desk.waters import CORRECTIONS, Water, Waters
from seabed.errors import AreaError, SeabedError
from seabed.markup import TURNING
from seabed.units import convert

_PAGES: Final = {
    "plan": "today", "trip": "trips", "season": "season", "scout": "bottom",
    "picture": "bottom#picture", "tide": "water#own", "soundings": "water#own",
}  # fmt: skip
"""Where the results of a job are seen."""

_ON_PAGE: Final = {
    "today": (), "trips": ("timezone", "date_order", "length_unit"), "season": (), "water": (),
    "bottom": ("grid", "crs", "sign", "unit", "vertical_datum", "band"),
}  # fmt: skip
"""Settings that a page has fields for besides This water, which has all others."""

CODE: Final = f"/browser/{secrets.token_hex(8)}"
"""Where the pages' code is until the desk closes, so that no browser uses an older desk's code."""

_MOST_WARM: Final = 2
"""Waters whose workers are kept warm."""


@dataclass(frozen=True)
class Refusal:
    """What is wrong with a form: words, the settings they are about, and what was typed."""

    words: str = ""
    keys: tuple[str, ...] = ()
    form: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)


_TURNING: Final = dict.fromkeys(map(ord, TURNING))


@dataclass
class Desk:
    """The waters of a folder, and the runners of those that are open."""

    waters: Waters
    templates: Environment
    runners: dict[str, Runner] = field(default_factory=dict)
    wrong: dict[str, Refusal] = field(default_factory=dict)
    """What was wrong with the last form of a page, by its path, until it is shown."""

    @classmethod
    def of(cls, folder: Path) -> Desk:
        """Open the desk of a folder."""
        templates = Environment(
            loader=FileSystemLoader(Path(__file__).parents[1] / "templates"),
            autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
            finalize=_straight,
        )  # fmt: skip
        templates.globals.update(
            code=CODE,
            t=text,
            hint=hint,
            stale_words=stale_words,
            error_words=error_words,
            elsewhere=elsewhere,
            cautions=CAUTIONS,
            cautions_short=CAUTIONS_SHORT,
        )
        templates.filters["speed"] = lambda mps, area: f"{convert(mps, area.units.speed):.1f}"
        templates.filters["settings"] = lambda words: _sentence(plain_words(words))
        return cls(Waters.of(folder), templates)

    async def runner(self, water: Water) -> Runner:
        """Give a water's runner; its worker gets warm meanwhile, and another's is ended."""
        if water.name not in self.runners:
            idle = [name for name, one in self.runners.items() if not one.busy]
            for name in idle[: max(0, len(self.runners) + 1 - _MOST_WARM)]:
                await self.runners.pop(name).close()
            self.runners[water.name] = Runner(water)
        runner = self.runners[water.name]
        await runner.start()
        return runner

    async def close(self) -> None:
        """End all workers."""
        for runner in self.runners.values():
            await runner.close()


def _straight(value: Any) -> Any:
    """Take out of a text what would reverse the direction of what a page shows after it."""
    return value.translate(_TURNING) if isinstance(value, str) else value


def desk_of(request: Request) -> Desk:
    """Give the desk that a request came to."""
    desk: Desk = request.app.state.desk
    return desk


def at(path: str, page: Callable[[Request, Water], Awaitable[Response]], *methods: str) -> Route:
    """Route what follows a water's name in an address to a page of that water, 404 for none."""

    async def of_water(request: Request) -> Response:
        try:
            water = desk_of(request).waters.water(request.path_params["water"])
        except SeabedError as error:
            raise HTTPException(404) from error
        return await page(request, water)

    return Route(f"/w/{{water}}/{path}", of_water, methods=methods or ["GET"])


def page(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """Write a page."""
    desk = desk_of(request)
    whole = desk.templates.get_template(template)
    return HTMLResponse(whole.render(request=request, **values), status_code=status)


async def water_page(
    request: Request,
    template: str,
    water: Water,
    *,
    jobs: tuple[str, ...] = (),
    shows: Callable[[Task], bool] = lambda task: True,
    **values: Any,
) -> Response:
    """Write one of a water's pages: the latest task of its jobs, and what one of them made.

    That is the latest task if it is done and `shows` something, else the last such one of its job.
    """
    runner = await desk_of(request).runner(water)
    area, wrong = read_area(water)
    every = tasks(water)
    wanted = request.query_params.get("result")
    latest = next((one for one in every if one.id == wanted), None)
    latest = latest or next((one for one in every if one.job in jobs), None)
    latest = runner.now(latest.id) if latest is not None else None
    made = [latest, *every] if latest is not None else []
    made = [] if wrong else made  # without the area file, times and units would be others
    shown = next((one for one in made if _done(one, latest) and shows(one)), None)
    below = shown is not None and latest is not None and shown.id != latest.id
    return page(
        request, template, water=water, area=area, area_wrong=wrong, task=latest,
        refused=refusal(request), saved="saved" in request.query_params,
        shown=shown, answer=shown.answer(water) if shown is not None else {},
        now=Path(template).stem, stale=stale_words(water, shown) if shown and not below else "",
        map_file=_map_of(water, shown), marks=_made(runner, request), kinds_of_marks=MARK_KINDS,
        carried=request.query_params.get("carried", ""), **values,
    )  # fmt: skip


def refusal(request: Request) -> Refusal:
    """Give what was wrong with the last form of a page, once."""
    return desk_of(request).wrong.pop(quote(request.url.path), Refusal())


def _done(task: Task, latest: Task | None) -> bool:
    return task.state == "done" and latest is not None and task.job == latest.job


def _sentence(words: str) -> str:
    """Begin with a capital, unless the first word is the name of a file."""
    named = re.search(r"\.[a-z]", words.partition(":")[0])
    return words if named else words[:1].upper() + words[1:]


def stale_words(water: Water, made: Task) -> str:
    """Say which files changed since a result was made from them; ``""`` for none."""
    names = [_plain_name(water, name) for name in made.stale(water)]
    return text("task.stale", files=", ".join(names)) if names else ""


def _plain_name(water: Water, name: str) -> str:
    if name == water.area_file.name:
        return text("task.stale_area")
    if name.endswith(CORRECTIONS):
        return text("task.stale_by_hand")
    return Path(name).name


def elsewhere(keys: Iterable[str], job: str) -> Iterator[tuple[str, str]]:
    """Give the addresses and labels of fields that a message is about and its page lacks."""
    own = _PAGES.get(job, "").partition("#")[0]
    for key in keys:
        bare = "grid" if key == "grid.files" else key.rpartition(".")[2]
        if bare in _ON_PAGE.get(own, ()):
            continue
        if bare in _ON_PAGE["bottom"] and bare != "band":
            yield "bottom", text(f"bottom.{bare}")
        elif key == "boat":
            yield "water#limits", text("water.limits")
        elif own != "water" and (name := field_named(key)):
            yield f"water#{name}", text(f"keys.{name}")


def page_of(made: Task, water: Water) -> str:
    """Give the address at which a result is seen."""
    path, _, anchor = _PAGES[made.job].partition("#")
    query = f"?result={made.id}" if made.job != "picture" else ""
    return f"/w/{water.name}/{path}{query}" + (f"#{anchor}" if anchor else "")


def _made(runner: Runner, request: Request) -> Task | None:
    """Give the marks that a page asked for."""
    wanted = request.query_params.get("marks")
    return runner.now(wanted) if wanted else None


def _map_of(water: Water, shown: Task | None) -> str:
    """Give the map of a task; else the newest of this water; ``""`` if there is none."""
    maps = [one.files["map"] for one in (shown, *tasks(water)) if one and "map" in one.files]
    return next((name for name in maps if (water.folder / name).is_file()), "")


def read_area(water: Water) -> tuple[Area, str]:
    """Read a water's area file: the area, and what is wrong with the file."""
    try:
        return load_area(water.area_file), ""
    except SeabedError as error:
        return Area(), error_words(error)


async def ask(
    request: Request, water: Water, job: str, plain: Mapping[str, Any], *, by_itself: bool = False
) -> Task:
    """Put a request to a water's jobs, `by_itself` if the page asks and not the user."""
    given = {name: value for name, value in plain.items() if value not in ("", None, [])}
    given.setdefault("area", str(water.area_file))
    for name in ("tracks", "logs", "learn"):
        if name in plain and name not in given:
            raise SeabedError(text("trips.tick_log" if name == "logs" else "trips.tick"))
    wanted = request_from(job, given)
    # before the task is kept: a new runner takes what waits for broken off
    runner = await desk_of(request).runner(water)
    task = new_task(water, wanted, by_itself=by_itself)
    await runner.submit(task)
    return task


async def look(request: Request, water: Water, name: str, **arguments: Any) -> dict[str, Any]:
    """Take a quick look at files; what is wrong comes as ``wrong`` in words, with its ``keys``."""
    runner = await desk_of(request).runner(water)
    try:
        value: dict[str, Any] = await runner.look(name, **arguments)
    except SeabedError as error:
        return what_is_wrong(error)
    return value


def what_is_wrong(error: SeabedError) -> dict[str, Any]:
    """Give what is wrong to a script, as the answer of a look."""
    return {"wrong": plain_words(error.what), "keys": error.keys}


def wants_json(request: Request) -> bool:
    """Whether a script asks, and not somebody who looks at the page."""
    return "application/json" in request.headers.get("accept", "")


def see_other(address: str) -> Response:
    """Answer a change with the page to see next."""
    return RedirectResponse(address, status_code=303)


def local_time(when: str, area: Area, shape: str = "%H:%M") -> str:
    """Write a UTC time in the area's zone; ``""`` if it is none."""
    try:
        moment = datetime.fromisoformat(when[:19]).replace(tzinfo=UTC)
    except ValueError:
        return ""
    return moment.astimezone(ZoneInfo(area.timezone)).strftime(shape)


def _words_of(error: SeabedError) -> str:
    """Write what is wrong; of a field of the page, without file, section and notation."""
    if not isinstance(error, AreaError) or error.where is None:
        return error_words(error)
    return error_words(SeabedError(error.what, do=error.do))


def _fields_about(error: SeabedError) -> tuple[str, ...]:
    """Name the fields of a form that an error is about: a key of the area file is ``boat_rods``."""
    place = re.fullmatch(r"\[(\w+)\] (\w+)", error.where or "")
    if isinstance(error, AreaError) and place:
        return (f"{place[1]}_{place[2]}", *error.keys)
    return error.keys


def fault(request: Request, error: Exception) -> Response:
    """Answer what is wrong: in words on a page, or as JSON where a script asked."""
    status = error.status_code if isinstance(error, HTTPException) else 400
    status = status if isinstance(error, HTTPException | SeabedError) else 500
    words = text("desk.ours" if status == 500 else "desk.wrong_page")
    keys: tuple[str, ...] = ()
    if isinstance(error, SeabedError):
        words, keys = _sentence(_words_of(error)), _fields_about(error)
    if wants_json(request):
        return JSONResponse({"message": words, "keys": keys}, status_code=status)
    before = urlsplit(request.headers.get("referer", ""))
    has_place = before.path == "/" or before.path.startswith("/w/")
    if isinstance(error, SeabedError) and request.method == "POST" and has_place:
        typed = request.scope.get("typed", {})
        desk_of(request).wrong[before.path] = Refusal(words, keys, request.url.path, typed)
        return see_other(quote(unquote(before.path)) + (f"?{before.query}" if before.query else ""))
    return page(request, "fault.html", status, words=words)
