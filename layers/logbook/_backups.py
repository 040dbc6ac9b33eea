"""Copies of a logbook as it was before something in it could be lost; the last ten are kept."""

from __future__ import annotations

import re
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from seabed.errors import LogbookError
from seabed.files import replacing

KEPT: Final = 10
LAST: Final = "last"
_NAME: Final = re.compile(r"\d{4}-\d\d-\d\dT\d{6}\.\d{6}Z before [a-z ]+\.gpkg")
_BESIDE: Final = ("-wal", "-shm", "-journal")
"""Endings of files that SQLite keeps beside its own."""


def backups_of(book: Path) -> list[Path]:
    """Give the backups of a logbook, the oldest first."""
    folder = _folder(book)
    if not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if _NAME.fullmatch(path.name))


def make_backup(book: Path, *, before: str) -> Path:
    """Copy a logbook before an action, and remove the oldest copies beyond ten.

    It has a connection of its own: one that holds the file against other writers lets it be read,
    but SQLite would wait for ever to copy from a transaction.  After OutputError nothing else may
    be written.
    """
    path = _named(book, before)
    with (
        replacing(path, result=False) as partial,
        closing(sqlite3.connect(book)) as source,
        closing(sqlite3.connect(partial)) as copy,
    ):
        source.backup(copy)
    for old in backups_of(book)[:-KEPT]:
        old.unlink(missing_ok=True)
    return path


def set_aside(book: Path, *, before: str) -> Path:
    """Move a file that can't be read among the backups, with what SQLite has beside it."""
    path = _named(book, f"{before} damaged")
    with replacing(path, result=False) as partial:
        shutil.copyfile(book, partial)
    for ending in _BESIDE:
        beside = book.with_name(book.name + ending)
        if beside.exists():
            beside.replace(path.with_name(path.name + ending))
    return path


def find_backup(book: Path, which: str) -> Path:
    """Give the last backup of a logbook, or the one of a name; LogbookError if there is none."""
    known = [path for path in backups_of(book) if "damaged" not in path.name]
    if which == LAST and known:
        return known[-1]
    for path in (*known, Path(which)):
        if path.is_file() and which in {path.name, str(path)}:
            return path
    names = ", ".join(f'"{path.name}"' for path in known)
    raise LogbookError(
        "it has no backups" if not known else f"no backup {which!r}",
        file=book,
        key="restore",
        do=f"There are {names}." if known else "Take a copy of your own.",
    )


def _folder(book: Path) -> Path:
    return book.with_name(f"{book.name}.backups")


def _named(book: Path, before: str) -> Path:
    return _folder(book) / f"{datetime.now(UTC):%Y-%m-%dT%H%M%S.%fZ} before {before}.gpkg"
