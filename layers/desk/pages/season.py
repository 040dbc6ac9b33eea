"""The page Season: what pays."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from layers.area import Area
from layers.desk.pages.forms import fields_of, form_of, number
from layers.desk.pages.shared import (
    ask,
    at,
    desk_of,
    local_time,
    page,
    read_area,
    see_other,
    water_page,
)
from layers.desk.texts import text
from layers.desk.waters import BOOK, Water
from seabed.errors import SeabedError
from seabed.units import convert, rounded

SHOWN: Final = ("depth_m", "state", "hours_from_high", "wind_mps", "sog_mps", "structure", "hour")
"""What rates are given by on the page, in this order."""

SHARED: Final = "shared logbook.gpkg"
_UNITS: Final = {"depth_m": "depth", "wind_mps": "speed", "sog_mps": "speed"}


async def season(request: Request, water: Water) -> Response:
    """Show the logbook's lines and trips, what pays by what, and two seasons side by side."""
    asked = {name: request.query_params.get(name, "") for name in ("one", "other")}
    return await water_page(
        request, "season.html", water, jobs=("season",),
        shows=lambda task: bool(task.request.get("rank")), logged=water.inside(BOOK).is_file(),
        groups=_groups, seasons=_seasons, names=_names, asked=asked,
        backups=_backups(water, read_area(water)[0]),
    )  # fmt: skip


async def logged_trips(request: Request, water: Water) -> Response:
    """List the trips of the logbook, the newest first."""
    runner = await desk_of(request).runner(water)
    book, wrong = str(water.inside(BOOK)), None
    try:
        trips = await runner.look("logbook", area_file=str(water.area_file), log=book)
    except SeabedError as error:
        trips, wrong = [], error
    newest = sorted(trips, key=lambda trip: trip["trip"], reverse=True)
    return page(request, "logged.html", water=water, trips=newest, wrong=wrong)


async def use_logbook(request: Request, water: Water) -> Response:
    """Do one thing with the logbook."""
    form = await form_of(request)
    given = fields_of(form, "what", "trip", "backup", "coarse", "other")
    plain: dict[str, Any] = {"log": str(water.inside(BOOK))}
    match given["what"]:
        case "rank":
            plain |= {"rank": True, **_filters(fields_of(form, *_FILTERS), read_area(water)[0])}
        case "share":
            plain |= {"share": str(water.inside(SHARED)), "coarse": given["coarse"]}
        case "update" | "repair":
            plain[given["what"]] = True
        case "export":
            plain["export"] = "csv"
        case "restore":
            plain["restore"] = given["backup"] or "last"
        case "remove":
            plain["remove"] = given["trip"]
    task = await ask(request, water, "season", plain)
    back = "trips" if given["what"] == "remove" else "season"
    return see_other(f"/w/{water.name}/{back}?result={task.id}")


async def save_logbook(request: Request, water: Water) -> Response:
    """Give the logbook itself, to be kept elsewhere, or its copy that gives no spot away."""
    name = SHARED if request.url.path.endswith("/shared") else BOOK
    book = water.inside(name)
    if not book.is_file():
        raise HTTPException(404)
    return FileResponse(book, filename=f"{water.name} {name}")


_FILTERS: Final = ("species", "month_from", "month_to", "stage", "wind_from", "wind_to")


def _filters(given: dict[str, str], area: Area) -> dict[str, Any]:
    """Give the filters of a form as the job takes them."""
    first, last = given["month_from"], given["month_to"]
    low, high = (
        given[name] and number(given[name].removesuffix(area.units.speed).strip(), name)
        for name in ("wind_from", "wind_to")
    )
    low = low or "0"
    return {
        "species": [name.strip() for name in given["species"].split(",") if name.strip()],
        "months": f"{first or 1}-{last or 12}" if first or last else "",
        "stage": given["stage"],
        "wind_between": f"{low}-{high or 100} {area.units.speed}" if high or low != "0" else "",
    }


def _backups(water: Water, area: Area) -> list[tuple[str, str]]:
    """List the backups of the logbook, the newest first, each with when and before what."""
    folder = water.folder / f"{BOOK}.backups"
    names = sorted((path.name for path in folder.glob("*.gpkg")), reverse=True)
    return [(name, _backup_words(Path(name).stem, area)) for name in names]


def _backup_words(stem: str, area: Area) -> str:
    moment, _, change = stem.partition(" ")
    clock = f"{moment[:13]}:{moment[13:15]}:{moment[15:17]}"
    when = local_time(clock, area, "%Y-%m-%d %H:%M")
    return f"{when}, {change}" if when else stem


def _groups(answer: dict[str, Any], area: Area) -> Iterator[dict[str, Any]]:
    """Give the rates by each thing that is known, as bars."""
    rows = answer.get("by_what", [])
    for factor in SHOWN:
        own = [row for row in rows if row["factor"] == factor]
        if len(own) < 2:
            continue
        known = [row for row in own if row["enough"]] or own
        most = max(row["rate_high"] for row in known) or 1.0
        unit = getattr(area.units, _UNITS[factor]) if factor in _UNITS else ""
        bars = [_bar(row, most) | {"words": _bin(row, unit)} for row in own]
        yield {"title": text("by." + factor, unit=unit), "bars": bars}


def _names(answer: dict[str, Any]) -> list[tuple[str, str]]:
    """Name the ranked lines, with their rates."""
    return [(line["line"], rounded(line["rate"], 1)) for line in answer["lines"]]


def _bin(row: dict[str, Any], unit: str) -> str:
    if row["value"] is not None:
        return str(row["value"]) or text("by.unknown")
    low, high = (convert(row[end], unit) if unit else row[end] for end in ("low", "high"))
    digits = 1 if high - low < 1 else 0
    between = "–" if low >= 0 else " to "
    return f"{low:.{digits}f}{between}{high:.{digits}f}"


def _bar(row: dict[str, Any], most: float) -> dict[str, Any]:
    """Give a rate, and where its bar is in hundredths."""
    places = {
        name: min(100.0, 100 * row[name] / most) for name in ("rate", "rate_low", "rate_high")
    }
    return {"at": places, **row}


def _seasons(answer: dict[str, Any], asked: dict[str, str]) -> dict[str, Any]:
    """Lay two years side by side, line by line; the latest two unless asked."""
    rows = answer.get("by_year", [])
    years = sorted({row["value"] for row in rows}, reverse=True)
    if len(years) < 2:
        return {"years": years, "rows": []}
    other, one = (
        asked[name] if asked[name] in years else year
        for name, year in (("other", years[1]), ("one", years[0]))
    )
    by_place = {(row["line"], row["value"]): row for row in rows}
    lines = sorted({row["line"] for row in rows})
    sides = [(line, by_place.get((line, other)), by_place.get((line, one))) for line in lines]
    return {"years": years, "rows": sides, "one": one, "other": other}


routes = [
    at("season/trips", logged_trips),
    at("season/logbook", save_logbook),
    at("season/shared", save_logbook),
    at("season", season),
    at("season", use_logbook, "POST"),
]
