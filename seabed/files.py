"""Outputs that are whole or absent: written beside the target, then renamed.

A later run may write over results of ours, and over nothing else.  Kinds that can say who made them
do, at their beginning or end.  Of others, such as CSV, the folder keeps a list with a sum of each:
one that was changed since is no longer ours alone.

The results of a job take their places `together`, at its end, so that a full disk changes none.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from seabed.errors import OutputError, SeabedError

MAKER: Final = "seabed-layers"
"""What the kinds that can say who made them say."""

LIST: Final = ".seabed-made"
"""Name of a folder's list of results; a line a file, as ``sha256sum`` writes it."""

_SAYING: Final = {
    ".html", ".pdf", ".gpx", ".svg", ".ics", ".gpkg", ".tif", ".fgb", ".mbtiles", ".kmz",
}  # fmt: skip
_LOOKED_AT: Final = 65_536
_SQLITE: Final = b"SQLite format 3\0"
_LOGBOOK: Final = b"logbook_info"
"""A table that every logbook has; a file with it is a logbook and no result."""

LITTLE_ROOM: Final = 1_000_000
"""Bytes; a database needs more beside itself, for its journal."""

UNFINISHED: Final = ".writing-"
"""What the folders begin with in which outputs are written."""

LEFT_S: Final = 24 * 3600.0
"""A folder unchanged for this long belongs to a program that was stopped."""

_swept: set[Path] = set()

_NO_ROOM: Final = {
    errno.ENOSPC: "the disk is full",
    errno.EFBIG: "the file grew larger than is allowed here",
    **({errno.EDQUOT: "your share of the disk is full"} if hasattr(errno, "EDQUOT") else {}),
}
"""Errors of writing, even where they name the file that was being copied."""
_FORBIDDEN: Final = {errno.EACCES, errno.EPERM, errno.EROFS}


@dataclass(slots=True)
class _Job:
    """What a job has written: results that wait for the end, and files that it has changed."""

    wait: bool
    waiting: list[tuple[Path | None, Path]] = field(default_factory=list)
    changed: list[Path] = field(default_factory=list)


_job: ContextVar[_Job | None] = ContextVar("job", default=None)


@contextmanager
def together(*, wait: bool = True) -> Iterator[None]:
    """Let all results that are written within take their places at the end, or none of them.

    wait: False for a job that reads its own results: each takes its place at once, and an error
        names those that did.

    Raises OutputError if one can't take its place.
    """
    job = _Job(wait)
    before = _job.set(job)
    try:
        yield
        for partial, target in job.waiting:
            try:
                _take_place(partial, target)
            except OSError as error:
                raise _output_error(target, error) from error
    finally:
        _job.reset(before)
        for partial, _ in job.waiting:
            if partial is not None:
                shutil.rmtree(partial.parent, ignore_errors=True)


def note_change(path: Path) -> None:
    """Note that a file has been changed, for the words of a later error."""
    job = _job.get()
    if job is not None and path not in job.changed:
        job.changed.append(path)


def what_changed() -> str:
    """Say what a job has changed before its error."""
    job = _job.get()
    if job is not None and job.changed:
        return f"changed already: {', '.join(map(str, job.changed))}"
    return "nothing was changed"


def remove_result(path: Path) -> None:
    """Remove what an earlier run wrote; of a job's results `together` with the others."""
    job = _job.get()
    if job is not None and job.wait:
        job.waiting.append((None, path))
    else:
        path.unlink(missing_ok=True)


def _take_place(partial: Path | None, target: Path) -> None:
    if partial is None:
        target.unlink(missing_ok=True)
        return
    partial.replace(target)
    note_change(target)
    note_result(target)


@contextmanager
def replacing(path: str | Path, *, result: bool = True) -> Iterator[Path]:
    """Give a temporary path in the target's folder; rename it onto the target on success.

    path: the file to make.  Missing parent folders are made.
    result: whether a later run may write over it (`seabed.files`), and it may wait for a job's end.
    Returned: a path with the same suffix to write to.  If the block fails, it is removed and the
        target stays as it was.  A program that is killed leaves it, hidden, beside the target; what
        has lain there for a day is removed when next something is written there.

    Raises OutputError if the folder can't be made or written, or the disk is full. Raises
    SeabedError if the block could not use another file, such as one it reads from.
    """
    target = Path(path)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _sweep(target.parent)
        folder = tempfile.mkdtemp(prefix=UNFINISHED, dir=target.parent.absolute())
    except OSError as error:
        raise _output_error(target, error) from error
    partial = Path(folder) / target.name
    job = _job.get() if result else None
    waits = False
    try:
        yield partial
        if job is not None and job.wait:
            partial.stat()
            job.waiting.append((partial, target))
            waits = True
        elif result:
            _take_place(partial, target)
        else:
            partial.replace(target)
            note_change(target)
    except OSError as error:
        other = _other_file(error, target, folder)
        if other is not None:
            reason = (error.strerror or str(error)).lower()
            raise SeabedError(f"can't be used: {reason}", file=other) from error
        raise _output_error(target, error) from error
    finally:
        if not waits:  # a file still open (Windows) must not hide the error that left it so
            shutil.rmtree(folder, ignore_errors=True)


def _sweep(folder: Path) -> None:
    """Remove what programs that were stopped left in a folder, once a run; never what is in use."""
    if folder in _swept:
        return
    _swept.add(folder)
    oldest = time.time() - LEFT_S
    for left in folder.glob(f"{UNFINISHED}*"):
        with suppress(OSError):
            if not left.is_symlink() and all(
                one.stat().st_mtime < oldest for one in (left, *left.iterdir())
            ):
                shutil.rmtree(left)


def write_text(path: str | Path, text: str, *, result: bool = True) -> None:
    """Write UTF-8 text with plain line feeds, whole or not at all; `result` as `replacing`."""
    with replacing(path, result=result) as partial:
        partial.write_text(text, encoding="utf-8", newline="\n")


def _other_file(error: OSError, target: Path, folder: str) -> str | None:
    """Give the file an error speaks of, if it is neither the target nor beside it; else None."""
    if error.errno in _NO_ROOM or not isinstance(error.filename, str | os.PathLike):
        return None
    name = os.fspath(error.filename)
    inside = Path(os.path.realpath(folder))
    path = Path(os.path.realpath(name))
    own = path in (Path(os.path.realpath(target)), inside.parent) or path.is_relative_to(inside)
    return None if own else name


def no_room(error: BaseException) -> str | None:
    """Give the words for a full disk, if that is what an error, or one that it came from, is."""
    if isinstance(error, OSError) and error.errno in _NO_ROOM:
        return _NO_ROOM[error.errno]
    source = error.__cause__ or error.__context__
    return None if source is None else no_room(source)


def library_failed(error: Exception, path: Path) -> OSError:
    """Give what a library has met while it wrote a file as the error of the system that it was.

    Libraries say it in words of their own, if at all; so this checks the room beside the file.
    """
    words = re.sub(r"sqlite3_exec\(.*\) failed: ", "", str(error), flags=re.DOTALL)
    full = any(word in words for word in ("is full", "No space", "I/O", "too large"))
    if full or shutil.disk_usage(path.parent).free < LITTLE_ROOM:
        return OSError(errno.ENOSPC, words)
    return OSError(errno.EIO, words)


def _output_error(target: Path, error: OSError) -> OutputError:
    reason = _NO_ROOM.get(error.errno or 0, error.strerror or str(error))
    changed = what_changed() if _job.get() else "this file was not changed"
    if error.errno in _FORBIDDEN:
        do = f"Choose another place with {{out}}; {changed}."
        return OutputError("nothing can be written here", file=target.parent, do=do)
    return OutputError(
        f"can't write: {reason.lower()}",
        file=target,
        do=f"Choose another place with {{out}}, or make room and run again; {changed}.",
    )


def is_result(path: str | Path) -> bool:
    """Say whether a file is what an earlier run made, as it was made."""
    file = Path(path)
    try:
        if file.is_symlink() or not file.is_file():
            return False
        ends = _ends(file)
        if ends.startswith(_SQLITE) and _LOGBOOK in ends:
            return False
        return _says(file, ends) or _listed(file.parent).get(file.name) == _sum(file)
    except OSError:
        return False


def note_result(path: str | Path) -> None:
    """Put a file that was just made on its folder's list, unless it says so itself."""
    file = Path(path)
    with suppress(OSError):  # a later run then asks
        if _says(file, _ends(file)):
            return
        listed = _listed(file.parent) | {file.name: _sum(file)}
        lines = [f"{total}  {name}\n" for name, total in listed.items()]
        partial = file.parent / f"{LIST}.new"
        try:
            partial.write_text("".join(lines), encoding="utf-8", newline="\n")
            partial.replace(file.parent / LIST)
        finally:
            partial.unlink(missing_ok=True)


def plain_file(path: str | Path) -> None:
    """Refuse a device or a pipe, which could be read, or waited for, without end."""
    try:
        mode = Path(path).stat().st_mode
    except (OSError, ValueError):
        return  # the reader reports it
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        raise SeabedError(
            "this is a device or a pipe, not a file",
            file=path,
            do="Save it as a file, and name that.",
        )


def _ends(file: Path) -> bytes:
    """First and last bytes of a file."""
    with file.open("rb") as stream:
        first = stream.read(_LOOKED_AT)
        stream.seek(max(stream.tell(), file.stat().st_size - _LOOKED_AT))
        return first + stream.read()


def _says(file: Path, ends: bytes) -> bool:
    return file.suffix.lower() in _SAYING and MAKER.encode() in ends


def _listed(folder: Path) -> dict[str, str]:
    """Give the sums of the results in a folder, by name."""
    try:
        text = (folder / LIST).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return {}
    rows = (line.partition("  ") for line in text.splitlines())
    return {name: total for total, _, name in rows if name}


def _sum(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
