"""Tell the kinds of log apart by what is in them."""

from __future__ import annotations

from pathlib import Path
from typing import Final, Literal

from seabed.files import plain_file
from seabed.logs.sentences import looks_like_nmea
from seabed.tables.spreadsheets import ENDINGS, split_sheet

_HEAD: Final = 1 << 16
_UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")


def log_kind(path: Path) -> Literal["nmea", "gpx", "table"]:
    """Tell what a log is by its first bytes, else by its name; GPX where it can't be read."""
    if split_sheet(path)[0].suffix.lower() in ENDINGS:
        return "table"
    plain_file(path)
    try:
        with path.open("rb") as stream:
            head = stream.read(_HEAD)
    except OSError:
        return "gpx"  # the reader says what is wrong
    if looks_like_nmea(head):
        return "nmea"
    wide = head.startswith(_UTF_16)
    text = head.decode("utf-16" if wide else "latin-1", errors="replace")
    xml = text.lstrip("\xef\xbb\xbf \t\r\n").startswith("<")
    return "gpx" if xml or not head or path.suffix.lower() in (".gpx", ".xml") else "table"
