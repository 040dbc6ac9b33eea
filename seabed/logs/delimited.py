"""Read fixes from tables of positions: text or a spreadsheet.

Columns are found by their headings, in ten languages (`seabed.tables.headings`): latitude,
longitude, a time or a date and a time, a depth (metres unless the heading names another unit) and
a temperature (C unless it names F).  A heading may be glued to its unit (``depthft``).

Positions are those of `seabed.tables.positions`.  Times are
those of `seabed.tables.clocks`, or seconds or milliseconds since 1970; one without a zone is of the
zone asked for, unless its heading names UTC.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.errors import Question, TrackError, UnitError
from seabed.logs.fixes import FileFixes, to_utc
from seabed.tables.clocks import TwoWaysError, day_first, read_clock, utc_of
from seabed.tables.headings import meanings_of, plain, read_heading
from seabed.tables.positions import east_letter, read_angle
from seabed.tables.spreadsheets import ENDINGS, split_sheet
from seabed.tables.text_layout import is_regular, layout_of, number, numbers, read_columns
from seabed.tables.text_table import HOW_ORDER, read_text_table
from seabed.units import LENGTH, parse_length

_MEANINGS: Final = ("latitude", "longitude", "time", "date", "depth", "temperature")
_TEXTS: Final = ("time", "date")
_PLACE: Final[tuple[Literal["latitude", "longitude"], ...]] = ("latitude", "longitude")
_GLUED: Final = re.compile(r"(depth|sounding|temp)(ft|feet|fm|fathoms?|m|f|c)", re.IGNORECASE)
MANY_BYTES: Final = 1 << 22
"""A text table from this size on is read by columns, where its rows are regular."""

LOOKED_AT: Final = 1000
"""Times, by which seconds since 1970 differ from others."""

Columns = dict[str, Any]
"""Values by meaning: numbers, or texts."""


def read_delimited_fixes(
    path: str | Path, *, timezone: str = "UTC", date_order: str = ""
) -> FileFixes:
    """Read the fixes of one table, one a row.

    What can't be read is NaN or NaT, and counted in ``notes``.  timezone: of times that don't say
    theirs.  date_order: ``"dmy"`` or ``"mdy"``, of dates that can be read two ways.

    Raises TrackError if it has no columns for latitude and longitude or no row, or its dates can be
    read two ways and no order is given.
    """
    file, headings, columns, notes = _read(Path(path))
    count = len(columns["latitude"])
    if not count:
        raise TrackError("there are no rows under its header", file=file)
    latitude, longitude = (
        _positions(columns[name], file, name, notes, [*map(plain, headings.values())])
        for name in _PLACE
    )
    units = {
        name: read_heading(_GLUED.sub(r"\1 \2", heading)).unit for name, heading in headings.items()
    }
    none = np.full(count, np.nan)
    depth_m = _depths(columns["depth"], units.get("depth", "")) if "depth" in columns else none
    warmth = numbers(columns["temperature"]) if "temperature" in columns else none
    if units.get("temperature", "").startswith("f"):
        warmth = (warmth - 32.0) / 1.8
    if any(units.get(name) in ("utc", "gmt") for name in _TEXTS):
        timezone = "UTC"
    return FileFixes(
        file=file,
        time=_times(columns, timezone, file, notes, date_order=date_order),
        longitude=longitude,
        latitude=latitude,
        depth_m=depth_m,
        temperature_c=warmth,
        track=np.zeros(count, np.int32),
        segment=np.zeros(count, np.int32),
        notes=notes,
    )


def _known(headings: Sequence[str]) -> list[str | None]:
    """Meanings of headings; those glued to their unit too."""
    return meanings_of([_GLUED.sub(r"\1 \2", heading) for heading in headings], _MEANINGS)


def _read(path: Path) -> tuple[str, dict[str, str], Columns, list[str]]:
    """Name of the table, its headings and columns by meaning, and notes."""
    sheet = split_sheet(path)[0].suffix.lower() in ENDINGS
    if not sheet and path.exists() and path.stat().st_size >= MANY_BYTES:
        layout = layout_of(path, _known, TrackError)
        if is_regular(layout):
            at = _columns(layout.headings, str(path), f"line {layout.line}")
            texts = [at[name] for name in _TEXTS if name in at]
            columns = read_columns(layout, list(at.values()), TrackError, texts=texts)
            headings = {name: layout.headings[number] for name, number in at.items()}
            return str(path), headings, dict(zip(at, columns, strict=True)), []
    table = read_text_table(path, _known, error=TrackError, lenient=True)
    at = _columns(table.headings, table.file, f"{table.line_word} {table.heading_line}")
    uneven = f"{table.file}: {table.uneven} rows have more or fewer fields than the header"
    return (
        table.file,
        {name: table.headings[number] for name, number in at.items()},
        {name: [row[number] for row in table.rows] for name, number in at.items()},
        [*table.notes, *[uneven] * bool(table.uneven)],
    )


def _columns(headings: Sequence[str], file: str, where: str) -> dict[str, int]:
    """Column of each thing that is there; the first that fits."""
    columns: dict[str, int] = {}
    for at, meaning in enumerate(_known(headings)):
        if meaning is not None:
            columns.setdefault(meaning, at)
    missing = [name for name in ("latitude", "longitude") if name not in columns]
    if missing:
        raise TrackError(
            f"no column for {' and '.join(missing)} in its header ({', '.join(headings)[:80]})",
            file=file,
            where=where,
            do="Name columns time, latitude, longitude (and depth_m).",
        )
    return columns


def _positions(
    texts: Any,
    file: str,
    name: Literal["latitude", "longitude"],
    notes: list[str],
    headings: Sequence[str],
) -> Floats:
    values = numbers(texts)
    unread, words = 0, np.flatnonzero(np.isnan(values)).tolist()
    o_is, why = east_letter((str(texts[at]) for at in words), headings), ""
    for at in words:
        text = str(texts[at])
        try:
            values[at] = read_angle(text, name, o_is=o_is)
        except ValueError as problem:
            unread += bool(text and text.lower() != "nan")
            why = why or f": {problem}"
    if unread:
        notes.append(f"{file}: {unread} rows have a {name} that can't be read{why}")
    return values


def _depths(texts: Any, unit: str) -> Floats:
    """Read depths in metres: numbers in the heading's unit, and cells with their own: ``8,4 m``."""
    depths = numbers(texts) * _metres(unit)
    for at in np.flatnonzero(np.isnan(depths)).tolist():
        if (text := str(texts[at])) and text != "nan":
            with suppress(UnitError):
                depths[at] = parse_length(text)
    return depths


def _times(
    columns: Columns, timezone: str, file: str, notes: list[str], *, date_order: str
) -> NDArray[np.datetime64]:
    texts = columns.get("time", columns.get("date"))
    if texts is None:
        count = len(columns["latitude"])
        return np.full(count, np.datetime64("NaT", "ns"), "datetime64[ns]")
    if "time" in columns and "date" in columns:
        texts = [f"{d} {t}".strip() for d, t in zip(columns["date"], texts, strict=True)]
    if _are_seconds(texts[:LOOKED_AT]):
        seconds = numbers(texts)
        return _since_1970(seconds / (1e3 if np.nanmedian(np.abs(seconds)) > 1e11 else 1.0))
    stamps, unreadable = to_utc(list(texts), timezone=timezone)
    if unreadable:
        unreadable -= _in_words(stamps, texts, timezone, file, date_order)
    if unreadable:
        notes.append(f"{file}: {unreadable} rows have a time that can't be read")
    return stamps


def _are_seconds(texts: Sequence[str]) -> bool:
    """Whether most texts are seconds, or milliseconds, since 1970."""
    return sum(abs(number(text)) > 1e8 for text in texts) > len(texts) / 2


def _in_words(
    stamps: NDArray[np.datetime64], texts: Sequence[str], timezone: str, file: str, date_order: str
) -> int:
    """Fill times that are not ISO 8601; how many."""
    zone, filled = ZoneInfo(timezone), 0
    missing = [at for at in np.flatnonzero(np.isnat(stamps)).tolist() if texts[at]]
    try:
        first = day_first(texts[at] for at in missing)
    except ValueError:
        return 0
    if first is None and date_order:
        first = date_order == "dmy"
    for at in missing:
        try:
            stamps[at] = utc_of(read_clock(texts[at], day_first=first), zone)
        except TwoWaysError as problem:
            raise TrackError(
                f"can't read the time {texts[at]!r}: {problem}",
                file=file,
                do=HOW_ORDER,
                question=Question("date_order", problem.choices),
            ) from problem
        except ValueError:
            continue
        filled += 1
    return filled


def _since_1970(seconds: Floats) -> NDArray[np.datetime64]:
    good = np.isfinite(seconds) & (np.abs(seconds) < 9e9)
    stamps = np.round(np.where(good, seconds, 0.0) * 1e9).astype(np.int64).astype("datetime64[ns]")
    return np.where(good, stamps, np.datetime64("NaT", "ns"))


def _metres(unit: str) -> float:
    return LENGTH["ft" if unit in ("ft", "feet") else "fm" if unit.startswith("f") else "m"]
