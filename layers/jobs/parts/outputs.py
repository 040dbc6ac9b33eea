"""What a job reads, and what it did not make, must outlive what it writes."""

from __future__ import annotations

import os
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import fields
from pathlib import Path
from typing import Final

from layers.area import Area, load_area
from layers.jobs.options import Request
from seabed.errors import OutputError
from seabed.files import UNFINISHED, is_result, plain_file

_CONSENT: Final[ContextVar[bool]] = ContextVar("consent", default=False)


@contextmanager
def consent(given: bool) -> Iterator[None]:
    """Within it, let files that no earlier run made be overwritten, if `given`."""
    before = _CONSENT.set(given)
    try:
        yield
    finally:
        _CONSENT.reset(before)


def keep_others(outputs: Iterable[Path]) -> None:
    """Refuse, before any work, to overwrite files that no earlier run made, without consent.

    Raises OutputError also where no folder can be made for one.
    """
    outputs = list(outputs)
    for folder in {output.parent for output in outputs}:
        _check_folder(folder)
    for output in outputs:
        plain_file(output)
        if os.path.lexists(output) and not (_CONSENT.get() or _made_by_a_run(output)):
            raise OutputError(
                "exists already, and is not a result of an earlier run, or has changed since",
                file=output,
                do="Choose another place with {out}, or say {replace}; nothing was changed.",
            )


def _made_by_a_run(output: Path) -> bool:
    """Whether a run made a file; one that is still writing beside it lists it a moment later."""
    for _ in range(20):
        writing = any(output.parent.glob(f"{UNFINISHED}*"))
        if is_result(output):
            return True
        if not writing:
            return False
        time.sleep(0.05)
    return False


def _check_folder(folder: Path) -> None:
    """Refuse a folder that can't be made or written into, and a file in its place."""
    there = next(place for place in (folder, *folder.parents, Path()) if os.path.lexists(place))
    plain_file(there)
    is_folder = there.is_dir()
    if not is_folder or not os.access(there, os.W_OK):
        what = "nothing can be written here" if is_folder else "this is a file, not a folder"
        do = "Choose another place for the results with {out}; nothing was changed."
        raise OutputError(what, file=there, do=do)


def keep_inputs(outputs: Iterable[Path], request: Request, area: Area) -> None:
    """Refuse, before any work, to overwrite a file that is read, or that no earlier run made."""
    outputs = list(outputs)
    keep_apart(outputs, [*given_by(request), *files_of(area)])
    keep_others(outputs)


def given_by(request: Request, *, but: Iterable[str] = ()) -> Iterator[str | Path]:
    """Give every word and path of a request, files to read included, but for some fields."""
    for one in fields(request):
        value = getattr(request, one.name)
        if one.name not in (*_WRITTEN, *but):
            several = value if isinstance(value, tuple) else (value,)
            yield from (item for item in several if isinstance(item, str | Path))


_WRITTEN: Final = ("out", "share")


def keep_apart(outputs: Iterable[Path], inputs: Iterable[str | Path | None]) -> None:
    """Raise OutputError if an output is also an input, by whatever path, link or spelling.

    inputs: None and web addresses do not count; words that are no file (a wind) equal no output.
    """
    read = [Path(name) for name in inputs if name is not None and "://" not in str(name)]
    for output in outputs:
        for name in read:
            if same_file(output, name):
                raise OutputError(
                    "is an input, and would be overwritten",
                    file=output,
                    do="Choose another place for the results with {out}; nothing was changed.",
                )
    for name in read:
        plain_file(name)


def same_file(one: Path, other: Path) -> bool:
    """Say whether two paths lead to one file, or would if it were there."""
    if _resolved(one) == _resolved(other):
        return True
    try:
        return one.samefile(other)
    except (OSError, ValueError):  # one of them is not there, or is no path at all
        return False


def files_of(area: Area, *, logbook: bool = True) -> list[str | Path | None]:
    """Give an area's own file and all that it names, with what a request overruled.

    logbook: False for a job that writes into the logbook.
    """
    own = area if area.file is None else load_area(area.file)
    named: list[str | Path | None] = [area.file]
    for one in (area, own):
        named += [*one.grid.files, *one.charts.files, one.water.heights, one.water.currents]
        named += [one.logbook.file] if logbook else []
    return named


def _resolved(path: Path) -> str:
    """Give the path without links and dots; unlike Path.resolve, a loop of links is no error."""
    try:
        return os.path.normcase(os.path.realpath(path))
    except (OSError, ValueError):
        return str(path)
