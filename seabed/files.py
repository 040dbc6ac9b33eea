"""Outputs that are whole or absent: written beside the target, then renamed."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from seabed.errors import OutputError, SeabedError

__all__ = ["replacing", "write_text"]


@contextmanager
def replacing(path: str | Path) -> Iterator[Path]:
    """Give a temporary path in the target's folder; rename it onto the target on success.

    Parameters
    ----------
    path : str or Path
        The file to make.  Missing parent folders are made.

    Yields
    ------
    Path
        A path with the same suffix to write to.  If the block fails, it is removed and the
        target stays as it was.

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
        folder = tempfile.mkdtemp(prefix=".writing-", dir=target.parent)
    except OSError as error:
        raise _output_error(target, error) from error
    partial = Path(folder) / target.name
    try:
        yield partial
        partial.replace(target)
    except OSError as error:
        other = _other_file(error, target, folder)
        if other is not None:
            reason = (error.strerror or str(error)).lower()
            raise SeabedError(f"can't be used: {reason}", file=other) from error
        raise _output_error(target, error) from error
    finally:
        # a file still open (Windows) must not hide the error that left it so
        shutil.rmtree(folder, ignore_errors=True)


def write_text(path: str | Path, text: str) -> None:
    """Write UTF-8 text with plain line feeds, whole or not at all."""
    with replacing(path) as partial:
        partial.write_text(text, encoding="utf-8", newline="\n")


def _other_file(error: OSError, target: Path, folder: str) -> str | None:
    """Give the file an error speaks of, if it is neither the target nor beside it; else None."""
    if error.errno == errno.ENOSPC or not isinstance(error.filename, str | os.PathLike):
        return None
    name = os.fspath(error.filename)
    inside = Path(os.path.realpath(folder))
    path = Path(os.path.realpath(name))
    own = path in (Path(os.path.realpath(target)), inside.parent) or path.is_relative_to(inside)
    return None if own else name


def _output_error(target: Path, error: OSError) -> OutputError:
    reason = error.strerror or str(error)
    if error.errno == errno.ENOSPC:
        reason = "the disk is full"
    return OutputError(
        f"can't write: {reason.lower()}",
        file=target,
        do="Choose another place with --out, or make room and run again; nothing was changed.",
    )
