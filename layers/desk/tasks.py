"""What was asked of a water's jobs, kept beside the results, so that it outlives the program."""

from __future__ import annotations

import json
import os
import zlib
from contextlib import suppress
from dataclasses import MISSING, asdict, dataclass, field, fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, get_args, get_origin, get_type_hints

from layers.area import Marks, load_area
from layers.desk.waters import AREA, CORRECTIONS, Water
from layers.jobs import requests
from layers.jobs.options import Request
from layers.jobs.parts.outputs import files_of, given_by
from layers.jobs.requests import PlanRequest, SeasonRequest, TripRequest
from seabed.errors import SeabedError
from seabed.files import write_text

ENDED: Final = frozenset({"done", "wrong", "stopped", "broken"})
"""States in which nothing more happens.  The others are ``waiting`` and ``working``."""

_MOST_SHOWN: Final = 200
_KEPT_BY_ITSELF: Final = 5
"""So many plans that the desk laid by itself are kept."""


@dataclass(frozen=True)
class Task:
    """One request to a water's jobs, and how far it is.

    id: also the name of its folder under the results.
    job: ``"plan"``, ``"scout"`` and so on.
    request: of plain values, as `plain_request` gives it.
    state: ``waiting``, ``working``, ``done``, ``wrong`` (the user can correct something),
        ``stopped`` or ``broken`` (the program or the machine ended while it worked).
    doing, share: what is done now, and the share that is done already, 0 to 1.
    begun, ended: UTC, ISO 8601; ``""`` until then.
    message, keys: what is wrong, with settings in braces, and the settings that it is about.
    files: what was written: name to path within the water's folder.
    made_from: state of each file that it read, by path within the water's folder: time of its last
        change, in ns, 0 if it was missing; of the area file, a checksum of what it means.
    by_itself: whether the desk asked for it without the user, who has not used it since.
    """

    id: str
    job: str
    request: dict[str, Any]
    state: str = "waiting"
    doing: str = ""
    share: float = 0.0
    begun: str = ""
    ended: str = ""
    message: str = ""
    keys: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    files: dict[str, str] = field(default_factory=dict)
    made_from: dict[str, int] = field(default_factory=dict)
    by_itself: bool = False

    @property
    def running(self) -> bool:
        """Whether something more will happen."""
        return self.state not in ENDED

    def changed(self, water: Water, **values: Any) -> Task:
        """Keep the task with other values."""
        task = replace(self, **values)
        write_text(record_file(water, task.id), json.dumps(asdict(task), indent=1), result=False)
        return task

    def stale(self, water: Water) -> list[str]:
        """List the files that changed since this was made from them."""
        return [
            name for name, then in self.made_from.items()
            if _state_of(water.folder / name) != then
        ]  # fmt: skip

    def answer(self, water: Water) -> dict[str, Any]:
        """Give what the job answered; empty if it answered nothing."""
        try:
            text = answer_file(water, self.id).read_text(encoding="utf-8")
            answer = json.loads(text)
        except (OSError, ValueError):
            return {}
        return answer if isinstance(answer, dict) else {}


def record_file(water: Water, id_: str) -> Path:
    """Give the file that a task is kept in."""
    return water.results / f"{id_}.json"


def answer_file(water: Water, id_: str) -> Path:
    """Give the file that the answer of a task is kept in."""
    return water.results / f"{id_}.answer.json"


def new_task(water: Water, request: Request, *, by_itself: bool = False) -> Task:
    """Keep a request as a task that waits; its results go into a folder of its own."""
    job = type(request).__name__.removesuffix("Request").lower()
    stem = datetime.now(UTC).strftime("%Y%m%d-%H%M%S") + f"-{job}"
    id_, number = stem, 2
    while os.path.lexists(record_file(water, id_)):
        id_, number = f"{stem}-{number}", number + 1
    plain = plain_request(request)
    if plain.get("out"):
        file = Path(plain["out"]).name if Path(plain["out"]).suffix else ""
        plain["out"] = str(water.results / id_ / file)
    new = Task(id=id_, job=job, request=plain, by_itself=by_itself)
    return new.changed(water, made_from=_read_by(water, request))


def task(water: Water, id_: str) -> Task:
    """Read a task; SeabedError if it is missing or can't be read."""
    try:
        values = json.loads(water.inside("results", f"{id_}.json").read_text(encoding="utf-8"))
        known = {one.name for one in fields(Task)}
        lists = {"keys", "notes", "warnings"}
        read: dict[str, Any] = {
            name: tuple(value) if name in lists else value
            for name, value in values.items() if name in known
        }  # fmt: skip
        return Task(**read)
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise SeabedError("no such result in this water") from error


def forget(water: Water, id_: str) -> None:
    """Forget a task that was broken off and is wanted no more."""
    record_file(water, id_).unlink(missing_ok=True)


def keep(water: Water, id_: str) -> None:
    """Count a result that the user saves or carries as the user's own, which is never pruned."""
    with suppress(SeabedError):
        used = task(water, id_)
        if used.by_itself and not used.running:
            used.changed(water, by_itself=False)


def prune(water: Water) -> None:
    """Remove older plans that the desk laid by itself, with the files that they wrote.

    A plan stays if its folder holds other files, or if one of its files has changed.
    """
    own = [one for one in tasks(water, "plan") if one.by_itself and not one.running]
    for old in own[_KEPT_BY_ITSELF:]:
        folder = water.results / old.id
        if _is_as_made(water, old, folder):
            for file in _listed(folder):
                file.unlink()
            with suppress(FileNotFoundError):
                folder.rmdir()
            answer_file(water, old.id).unlink(missing_ok=True)
            forget(water, old.id)  # last: what a sudden end leaves is removed the next time


def _is_as_made(water: Water, old: Task, folder: Path) -> bool:
    """Whether a folder holds what the task wrote and nothing else; no link leads there."""
    if Path(os.path.realpath(folder)) != folder:
        return False
    made = {water.folder / name for name in old.files.values()}
    ended = datetime.fromisoformat(old.ended).timestamp() + 1 if old.ended else 0.0
    return all(
        file in made and file.is_file() and not file.is_symlink() and file.stat().st_mtime <= ended
        for file in _listed(folder)
    )


def _listed(folder: Path) -> list[Path]:
    return list(folder.iterdir()) if folder.is_dir() else []


def tasks(water: Water, job: str = "") -> list[Task]:
    """List the tasks of a water, newest first; those that can't be read are left out."""
    if not water.results.is_dir():
        return []
    records = sorted(
        (file for file in water.results.glob("*.json") if not file.stem.endswith(".answer")),
        key=lambda file: file.stem,  # -plan-2 of the same second is newer than -plan
        reverse=True,
    )
    kept = []
    for record in records[:_MOST_SHOWN]:
        with suppress(SeabedError):
            kept.append(task(water, record.stem))
    return [one for one in kept if job in ("", one.job)]


def plain_request(request: Request) -> dict[str, Any]:
    """Give the fields of a request that differ from their defaults, as JSON can hold them."""
    plain: dict[str, Any] = {}
    for one in fields(request):
        value = getattr(request, one.name)
        if one.default is MISSING or value != one.default or one.name == "out":
            plain[one.name] = (
                [str(item) for item in value] if isinstance(value, tuple)
                else str(value) if isinstance(value, Path) else value
            )  # fmt: skip
    return plain


def request_from(job: str, plain: dict[str, Any]) -> Request:
    """Make a request of plain values; SeabedError for an unknown job or field."""
    kind = getattr(requests, f"{job.capitalize()}Request", None)
    if kind is None:
        raise SeabedError(f"there is no job {job!r}")
    hints = get_type_hints(kind)
    unknown = set(plain) - set(hints)
    if unknown:
        raise SeabedError(f"{job} takes no {', '.join(sorted(unknown))}")
    request: Request = kind(**{name: _typed(hints[name], value) for name, value in plain.items()})
    return request


def _typed(hint: Any, value: Any) -> Any:
    if get_origin(hint) is tuple:
        return tuple(get_args(hint)[0](item) for item in value)
    kinds = get_args(hint) or (hint,)
    return Path(value) if Path in kinds and value is not None else value


def _read_by(water: Water, request: Request) -> dict[str, int]:
    """Give the files that a request reads but its job does not change, with their states."""
    changed = isinstance(request, TripRequest | SeasonRequest) and not getattr(
        request, "rank", False
    )
    named: list[Any] = [*given_by(request, but=["log", "merge"] if changed else [])]
    with suppress(SeabedError):
        named += files_of(load_area(water.area_file), logbook=isinstance(request, PlanRequest))
    words = {str(one) for one in named if one is not None}
    paths = {Path(one) for one in words if os.path.isabs(one) and os.path.isfile(one)}  # noqa: PTH113, PTH117 (words of any length)
    paths |= {track.with_suffix(CORRECTIONS) for track in getattr(request, "tracks", ())}
    within = sorted(path for path in paths if path.is_relative_to(water.folder))
    return {path.relative_to(water.folder).as_posix(): _state_of(path) for path in within}


def _state_of(path: Path) -> int:
    try:
        if path.name == AREA:  # marks only name what was found
            meaning = replace(load_area(path), marks=Marks())
            return zlib.crc32(repr(meaning).encode())
        return path.stat().st_mtime_ns
    except (OSError, SeabedError):
        return 0
