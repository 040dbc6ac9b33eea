"""Which files are results of ours: a later run may write over those, and over nothing else.

Kinds that can say who made them do, at their beginning or end.  Of others, such as CSV, the folder
keeps a list with a sum of each: one that was changed since is no longer ours alone.
"""

from __future__ import annotations

import hashlib
import stat
from contextlib import suppress
from pathlib import Path
from typing import Final

from seabed.errors import SeabedError

__all__ = ["LIST", "MAKER", "is_result", "note_result", "plain_file"]

MAKER: Final = "seabed-layers"
"""What the kinds that can say who made them say."""

LIST: Final = ".seabed-made"
"""Name of a folder's list of results; a line a file, as ``sha256sum`` writes it."""

_SAYING: Final = {".html", ".pdf", ".gpx", ".svg", ".ics", ".gpkg", ".tif", ".fgb"}
_LOOKED_AT: Final = 65_536
_SQLITE: Final = b"SQLite format 3\0"
_LOGBOOK: Final = b"logbook_info"
"""A table of every logbook, which is no result, whatever is written in it."""


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
    """Refuse a device or a pipe, which could be read, or waited for, without end.

    Raises
    ------
    SeabedError
    """
    try:
        mode = Path(path).stat().st_mode
    except (OSError, ValueError):
        return  # which its reader says
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
