"""What a reader of logs gives: the fixes of one file, and how times in text are read."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.files import plain_file
from seabed.logs.sentences import looks_like_nmea
from seabed.tables.spreadsheets import ENDINGS, split_sheet

_ZONE: Final = re.compile(r"(?:Z|[+-]\d\d(?::?\d\d)?)\s*$", re.IGNORECASE)
_LEAST: Final = np.datetime64("1678-01-01", "D")
_GREATEST: Final = np.datetime64("2262-01-01", "D")

_HEAD: Final = 1 << 16
_UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")


@dataclass(slots=True)
class FileFixes:
    """What a reader found in one file; arrays of one value a fix, in the file's order.

    time: UTC, NaT where a fix has none.
    notes: what was skipped or guessed, in plain sentences.
    """

    file: str
    time: NDArray[np.datetime64]
    longitude: Floats
    latitude: Floats
    depth_m: Floats
    temperature_c: Floats
    track: NDArray[np.int32]
    segment: NDArray[np.int32]
    notes: list[str] = field(default_factory=list)


def to_utc(texts: Sequence[str], *, timezone: str = "UTC") -> tuple[NDArray[np.datetime64], int]:
    """Read ISO 8601 times, in `timezone` where they have no zone; count those that can't be read.

    NaT where the text is empty or can't be read; years that nanoseconds can't hold become the
    nearest day they can, for cleaning to find.
    """
    parsed = pd.to_datetime(
        pd.Series(texts, dtype=object), format="ISO8601", utc=True, errors="coerce"
    ).dt.tz_localize(None)
    stamps = parsed.to_numpy().copy()
    if timezone != "UTC":
        local = np.array([_ZONE.search(text) is None for text in texts], bool)
        local &= (stamps > _LEAST) & (stamps < _GREATEST)  # beyond, a zone's shift may overflow
        stamps[local] = _from_local(parsed[local], timezone)
    unreadable = 0
    for at in np.flatnonzero(np.isnat(stamps)).tolist():
        if texts[at]:
            stamps[at] = _nearest_day(texts[at], stamps.dtype)
            unreadable += int(np.isnat(stamps[at]))
    return np.clip(stamps, _LEAST, _GREATEST).astype("datetime64[ns]"), unreadable


def _from_local(clock: pd.Series, timezone: str) -> NDArray[np.datetime64]:
    """UTC of a clock on the wall; the first of two where it is put back, NaT where it skips."""
    placed = clock.dt.tz_localize(
        ZoneInfo(timezone), ambiguous=np.ones(len(clock), bool), nonexistent="NaT"
    )
    return np.asarray(placed.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy())


def _nearest_day(text: str, kind: np.dtype[Any]) -> np.datetime64:
    """Bring a date that nanoseconds can't hold to the nearest that they can; else NaT."""
    try:
        day = np.datetime64(text[:10], "D")
    except ValueError:
        return np.datetime64("NaT", "D")
    return (
        np.datetime64("NaT", "D")
        if _LEAST < day < _GREATEST
        else np.clip(day, _LEAST, _GREATEST).astype(kind)
    )


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
