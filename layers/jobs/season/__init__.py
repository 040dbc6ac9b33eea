"""The logbook listed, shown, ranked, exported, merged, shared and brought up to date."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from layers.jobs.parts.settings import area_of, logbook_of
from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import SeasonRequest
from layers.jobs.result import Result
from layers.jobs.season import _book
from layers.jobs.season._book import BookResult, ListResult, LoggedTripResult
from layers.jobs.season._filters import FILTERS
from layers.jobs.season._ranked_lines import RankResult, rank
from layers.logbook import Logbook
from seabed.errors import SeabedError

__all__ = ["BookResult", "ListResult", "LoggedTripResult", "RankResult", "run"]

BELONGS = {"onto": "rank", "prefer_other": "merge", "coarse": "share"} | dict.fromkeys(
    FILTERS, "rank"
)
"""Fields that mean something only beside another."""


def run(request: SeasonRequest, progress: Progress = ignored) -> Result:
    """Do one thing with a logbook; list its trips if the request names none."""
    area = area_of(request)
    path = logbook_of(area)
    things: dict[str, Callable[[Any], Result]] = {
        "show": lambda trip: LoggedTripResult(area=area, entry=Logbook(path).entry(trip)),
        "remove": lambda trip: _book.remove(path, trip, area),
        "rank": lambda _: rank(path, area, request, progress),
        "export": lambda form: _book.export(path, form, area, request),
        "merge": lambda other: _book.merge_in(path, other, area, prefer_other=request.prefer_other),
        "share": lambda target: _book.share(path, target, area, request),
        "update": lambda _: _book.update(path, area),
        "restore": lambda which: _book.restore(path, which, area),
        "repair": lambda _: _book.repair(path, area),
    }
    chosen = [name for name in things if getattr(request, name)]
    _check(request, chosen)
    if not chosen:
        return ListResult(area=area, trips=Logbook(path).trips())
    return things[chosen[0]](getattr(request, chosen[0]))


def _check(request: SeasonRequest, chosen: list[str]) -> None:
    """Refuse two actions at once, and what belongs to an action that is not asked for."""
    if len(chosen) > 1:
        raise SeabedError(
            f"{' and '.join(map(_setting, chosen))} at once", do="Give one at a time."
        )
    for name, thing in BELONGS.items():
        if getattr(request, name) and thing not in chosen:
            raise SeabedError(
                f"means nothing without {_setting(thing)}",
                key=name,
                do=f"Give {_setting(thing)} as well.",
            )


def _setting(name: str) -> str:
    return f"{{{name}}}"
