"""Outputs that are whole or absent: written beside the target, then renamed."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from seabed.errors import OutputError, SeabedError
from seabed.ownership import note_result

__all__ = ["replacing", "write_text"]

UNFINISHED: Final = ".writing-"
"""What the folders begin with in which outputs are written."""

LEFT_S: Final = 24 * 3600.0
"""A folder in which nothing has changed for so long was left by a program that was stopped."""

_swept: set[Path] = set()

_NO_ROOM: Final = {
    errno.ENOSPC: "the disk is full",
    errno.EFBIG: "the file grew larger than is allowed here",
    **({errno.EDQUOT: "your share of the disk is full"} if hasattr(errno, "EDQUOT") else {}),
}
"""Errors of writing, even where they name the file that was being copied."""


@contextmanager
def replacing(path: str | Path, *, result: bool = True) -> Iterator[Path]:
    """Give a temporary path in the target's folder; rename it onto the target on success.

    Parameters
    ----------
    path : str or Path
        The file to make.  Missing parent folders are made.
    result : bool
        Whether a later run may write over it (`seabed.ownership`).

    Yields
    ------
    Path
        A path with the same suffix to write to.  If the block fails, it is removed and the
        target stays as it was.  A program that is killed leaves it, hidden, beside the target; what
        has lain there for a day is removed when next something is written there.

    Raises
    ------
    OutputError
        If the folder can't be made or written, or the disk is full.
    SeabedError
        If the block could not use another file, such as one it reads from.
    """
    target = Path(path)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _sweep(target.parent)
        folder = tempfile.mkdtemp(prefix=UNFINISHED, dir=target.parent.absolute())
    except OSError as error:
        raise _output_error(target, error) from error
    partial = Path(folder) / target.name
    try:
        yield partial
        partial.replace(target)
        if result:
            note_result(target)
    except OSError as error:
        other = _other_file(error, target, folder)
        if other is not None:
            reason = (error.strerror or str(error)).lower()
            raise SeabedError(f"can't be used: {reason}", file=other) from error
        raise _output_error(target, error) from error
    finally:
        # a file still open (Windows) must not hide the error that left it so
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


def _output_error(target: Path, error: OSError) -> OutputError:
    reason = _NO_ROOM.get(error.errno or 0, error.strerror or str(error))
    return OutputError(
        f"can't write: {reason.lower()}",
        file=target,
        do="Choose another place with {out}, or make room and run again; nothing was changed.",
    )
