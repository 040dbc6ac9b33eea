"""Windows of a day as a calendar file (iCalendar, RFC 5545)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import pandas as pd

from layers.cautions import CAUTIONS_SHORT
from seabed.files import MAKER, write_text

LINE_OCTETS: Final = 75
_CONTROL: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f]")


def calendar_text(
    windows: pd.DataFrame, *, place: str, made: Any, warnings: Sequence[str] = ()
) -> str:
    """Write windows as iCalendar text: an event each, UTC, lines folded at 75 octets, CRLF.

    windows: ``kind``, ``start``, ``end`` and ``words``; a ``limit`` of the boat that one exceeds
        begins its summary.
    warnings: what could hurt, the worst first, before the cautions of every event.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:-//{MAKER}//tide//EN"]
    about = " ".join([*warnings, CAUTIONS_SHORT])
    for _, row in windows.iterrows():
        start = _stamp(row["start"])
        lines += [
            "BEGIN:VEVENT",
            f"UID:{row['kind']}-{start}@seabed-layers.invalid",
            f"DTSTAMP:{_stamp(made)}",
            f"DTSTART:{start}",
            f"DTEND:{_stamp(row['end'])}",
            f"SUMMARY:{_escape(_summary(row))}",
            f"DESCRIPTION:{_escape(about)}",
            *([f"LOCATION:{_escape(place)}"] if place else []),
            "END:VEVENT",
        ]
    return "".join(f"{_fold(line)}\r\n" for line in [*lines, "END:VCALENDAR"])


def write_calendar(
    path: str | Path,
    windows: pd.DataFrame,
    *,
    place: str,
    made: Any,
    warnings: Sequence[str] = (),
) -> None:
    """Write `calendar_text` to a file, whole or not at all.

    Examples
    --------
    >>> from layers.examples import example_day
    >>> from layers.water import day_windows
    >>> table, zone = example_day()
    >>> import pandas as pd
    >>> made = pd.Timestamp("2031-06-01T12:00Z")
    >>> write_calendar("day.ics", day_windows(table), place="Tollivane Sound", made=made)
    """
    write_text(path, calendar_text(windows, place=place, made=made, warnings=warnings))


def _summary(row: Any) -> str:
    words = str(row["words"])
    words = words[:1].upper() + words[1:]
    limit = str(row.get("limit", "") or "")
    return f"Beyond the boat's limits ({limit}): {words}" if limit else words


def _stamp(time: Any) -> str:
    return str(pd.Timestamp(time).tz_convert("UTC").strftime("%Y%m%dT%H%M%SZ"))


def _escape(text: str) -> str:
    """Escape a text, without the control characters that RFC 5545, 3.1 has no place for."""
    text = _CONTROL.sub("", text)
    for plain, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(plain, escaped)
    return text


def _fold(line: str) -> str:
    """Break a line so that no part, with its leading space, has more than 75 octets."""
    parts, part = [], ""
    for letter in line:
        if len((part + letter).encode()) > LINE_OCTETS:
            parts.append(part)
            part = " "
        part += letter
    return "\r\n".join([*parts, part])
