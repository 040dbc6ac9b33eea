"""Catch logs as skippers keep them: CSV of any common make."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.catches.headers import match_headers
from layers.catches.marks import read_marked_fish
from layers.water.times import zone_of
from seabed.errors import CatchError, UnitError
from seabed.schema import Table, documented
from seabed.units import parse_length

__all__ = ["CATCHES", "as_catches", "read_catches"]

CATCHES: Final = Table.of(
    "catches",
    "layers.catches.read_catches",
    """
    time [time empty] UTC; NaT for a waypoint without one
    species [text empty] ``""`` where not given
    length_m [fish empty] NaN where not given
    kept [maybe empty "Fate"] NA where not said
    rod, note [text empty] ``""`` where not given
    longitude, latitude [empty] NaN where not given
    file [text] it was read from
    row [int] line in the file; number of the waypoint; 0 for a photo
    geometry [Point] None where there is no position
    """,
)

PLAIN_YES: Final = {"yes", "y", "true", "1", "x"}
PLAIN_NO: Final = {"no", "n", "false", "0"}
"""Answers to the header's own question; every other word says itself what became of the fish."""
YES: Final = PLAIN_YES | {"kept", "keep", "keeper", "k", "retained", "legal"}
NO: Final = PLAIN_NO | {
    "short", "s", "released", "release", "back", "returned", "undersized", "r",
}  # fmt: skip
FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2200
"""A year outside these is a slip of the pen; nanoseconds can't hold most of them."""
LOOSE_TIME = re.compile(
    r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})[T ]+(\d{1,2}):(\d{2})(:\d{2}(?:\.\d+)?)?"
    r"\s*([ap])?\.?(?:m\.?)?\s*(Z|[+-]\d{2}:?\d{2})?",
    re.IGNORECASE,
)
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
_BLANK: Final = ',;|" \t\r\n'
"""What a line of empty cells is made of."""
LONGEST_FISH_M: Final = 5.0
"""A length above this is a slip of the pen or of the unit."""
_SEPARATOR_LINE: Final = re.compile(r'\A"?sep=[,;\t|]"?[^\r\n]*', re.IGNORECASE)
"""The line before the headers by which some spreadsheets name the delimiter."""
_FRACTION: Final = re.compile(r"(\d+)(?:\s+|\s*-\s*)([1-9]\d?)/([1-9]\d?)(?!\d)")
"""``14 1/2``, as rulers in inches are read."""


@documented(CATCHES)
def read_catches(
    paths: Sequence[str | Path] | str | Path,
    *,
    timezone: str = "UTC",
    default_unit: str = "in",
    salvage: bool = False,
) -> gpd.GeoDataFrame:
    """Read catch logs (CSV) and fish marked as waypoints (GPX).

    Parameters
    ----------
    paths : path or sequence of paths
        CSV with a header row (names as in `layers.catches.headers.HEADERS`; comma, semicolon or
        tab), or GPX whose waypoints name fish (`layers.catches.marks`).
    timezone : str
        The zone of times without an offset.
    default_unit : str
        The unit of lengths without one.
    salvage : bool
        Of a damaged GPX file take the fish before the damage.

    Returns
    -------
    GeoDataFrame, EPSG:4326, in order of time
        No paths give no rows.  ``attrs["without_zone"]`` counts the rows whose times had no offset.

        {catches}

    Raises
    ------
    CatchError
        At the first thing that can't be read, with its file and line.  Nothing is guessed or
        passed over: a fish left out would make its line look worse than it is.
    """
    if isinstance(paths, (str, Path)):
        paths = [paths]
    zone = zone_of(timezone)
    rows: list[dict[str, Any]] = []
    for path in paths:
        if Path(path).suffix.lower() == ".gpx":
            rows += read_marked_fish(path, default_unit=default_unit, salvage=salvage)
        else:
            rows += _read_csv(path, zone, default_unit)
    table = as_catches(rows)
    table.attrs["without_zone"] = sum(bool(row.get("without_zone")) for row in rows)
    return table


def as_catches(rows: Iterable[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Make the table of catches from rows that have its columns but the geometry."""
    table = pd.DataFrame(list(rows), columns=CATCHES.names[:-1])
    table = table.astype({"longitude": np.float64, "latitude": np.float64})
    points = gpd.points_from_xy(table["longitude"], table["latitude"])
    placed = table["longitude"].notna() & table["latitude"].notna()
    table["geometry"] = gpd.GeoSeries(points).where(placed.to_numpy(), None)
    return CATCHES.frame(table).sort_values("time", kind="stable", ignore_index=True)


def _read_csv(path: str | Path, zone: ZoneInfo, default_unit: str) -> list[dict[str, Any]]:
    text = _text(path)
    if not text.strip(_BLANK):
        raise CatchError(
            "the catch log is empty", file=path, do="Give it a header row and a row for each fish."
        )
    rows = []
    lines = _csv_rows(text, path)
    start, _, headers = next(lines)
    columns, unit, opposite = match_headers(headers, path, line=start)
    for start, line, cells in lines:
        if len(cells) > len(headers) and any(cell.strip() for cell in cells[len(headers) :]):
            raise CatchError(
                f"{len(cells)} cells under {len(headers)} headers",
                file=path,
                where=f"line {start}",
                do='Put text that holds the delimiter in quotes, "like, this".',
            )
        row = {name: cells[at].strip() if at < len(cells) else "" for name, at in columns.items()}
        if opposite:
            row["kept"] = _turned(row["kept"])
        rows.append(_row(row, path, f"line {line}", zone, unit or default_unit))
        rows[-1]["row"] = line
    return rows


def _csv_rows(text: str, path: str | Path) -> Iterator[tuple[int, int, list[str]]]:
    """Give the rows that are not blank, each with the first and last of its lines."""
    lines = csv.reader(io.StringIO(text, newline=None), delimiter=_delimiter(text), strict=True)
    while True:
        start = lines.line_num + 1
        try:
            cells = next(lines)
        except StopIteration:
            return
        except csv.Error as error:
            raise CatchError(
                f"this row is not CSV: {error}",
                file=path,
                where=f"line {start}",
                do='Close the quotes: text in quotes ends with one, and one within is written "".',
            ) from error
        if any(cell.strip(_BLANK) for cell in cells):
            yield start, lines.line_num, cells


def _text(path: str | Path) -> str:
    try:
        raw = Path(path).read_bytes()
    except FileNotFoundError as error:
        raise CatchError("there is no such file", file=path, do="Check the name.") from error
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CatchError(f"can't read it: {reason}", file=path) from error
    if b"\0" in raw[:4096] and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise CatchError("this is not text", file=path, do="Save the sheet as CSV.")
    encoding = "utf-16" if raw.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")  # what older spreadsheets write
    return _SEPARATOR_LINE.sub("", text)


def _delimiter(text: str) -> str:
    header = next(line for line in text.splitlines() if line.strip(_BLANK))
    return max(",;\t|", key=header.count)


def _row(
    row: dict[str, str], path: str | Path, where: str, zone: ZoneInfo, unit: str
) -> dict[str, Any]:
    longitude, latitude = _position(row, path, where)
    time = _time(row, path, where)
    return {
        "time": _placed(time, zone, path, where),
        "without_zone": time.tzinfo is None,
        "species": _unguarded(row.get("species", "")).lower(),
        "length_m": _length(row.get("length", ""), path, where, unit),
        "kept": _kept(row.get("kept", ""), path, where),
        "rod": _unguarded(row.get("rod", "")),
        "note": _unguarded(row.get("note", "")),
        "longitude": longitude,
        "latitude": latitude,
        "file": str(path),
    }


def _time(row: dict[str, str], path: str | Path, where: str) -> datetime:
    word = f"{row.get('date', '')} {row['time']}".strip()
    how = "Write it like 2031-06-14 08:30 (year-month-day), or in two columns, date and time."
    if not row["time"] or _is_day(word):
        only = f": {word!r} is only a day" if word else ""
        raise CatchError(f"a fish without a time{only}", file=path, where=where, do=how)
    try:
        moment = datetime.fromisoformat(_tidy(word))
    except ValueError as error:
        raise CatchError(f"can't read the time {word!r}", file=path, where=where, do=how) from error
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise CatchError(f"the year of {word!r} can't be right", file=path, where=where, do=how)
    return moment


def _placed(moment: datetime, zone: ZoneInfo, path: str | Path, where: str) -> pd.Timestamp:
    """Give a moment in UTC; one without an offset is the zone's."""
    if moment.tzinfo is not None:
        return pd.Timestamp(moment).tz_convert("UTC")
    early, late = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() != late.utcoffset():
        raise CatchError(
            f"{moment} is not one moment in {zone.key}, whose clocks change then",
            file=path,
            where=where,
            do="Write it with its offset, like 2031-11-02T01:30-05:00.",
        )
    return pd.Timestamp(early).tz_convert("UTC")


def _is_day(word: str) -> bool:
    try:
        date.fromisoformat(word)
    except ValueError:
        return False
    return True


def _tidy(word: str) -> str:
    """Write 2031/6/4 8:30 pm as 2031-06-04T20:30; anything else as it stands."""
    match = LOOSE_TIME.fullmatch(word)
    if match is None:
        return word
    year, month, day, hour, minute, second, half, offset = match.groups()
    hours = int(hour)
    if half:
        if not 1 <= hours <= 12:
            return word
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    date = f"{year}-{int(month):02d}-{int(day):02d}"
    return f"{date}T{hours:02d}:{minute}{second or ''}{offset or ''}"


def _length(word: str, path: str | Path, where: str, unit: str) -> float:
    if not word:
        return float("nan")
    number = _FRACTION.sub(lambda part: str(int(part[1]) + int(part[2]) / int(part[3])), word)
    try:
        if unit == "mm" and word.replace(".", "", 1).isdigit():
            length = float(word) / 1000.0
        else:
            length = parse_length(number, default="in" if unit == "mm" else unit)
    except UnitError as error:
        raise CatchError(
            f"can't read the length {word!r}", file=path, where=where, do=error.do
        ) from error
    if not 0 < length <= LONGEST_FISH_M:
        raise CatchError(
            f"a fish of length {word!r} ({unit} where no unit stands)",
            file=path,
            where=where,
            do="Correct it, or leave the cell empty.",
        )
    return length


def _kept(word: str, path: str | Path, where: str) -> bool | None:
    name = word.strip().lower()
    if not name or name in {"?", "-", "na", "n/a"}:
        return None
    if name in YES:
        return True
    if name in NO:
        return False
    raise CatchError(
        f"can't tell whether {word!r} is kept", file=path, where=where, do="Write yes or no."
    )


def _turned(word: str) -> str:
    """Turn yes and no over, under a header that asks whether the fish went back."""
    name = word.strip().lower()
    return "no" if name in PLAIN_YES else "yes" if name in PLAIN_NO else word


def _unguarded(text: str) -> str:
    """Take off the ``'`` that keeps a spreadsheet from running text as a formula."""
    return text[1:].strip() if text[:1] == "'" and text[1:2] in _FORMULA else text


def _position(row: dict[str, str], path: str | Path, where: str) -> tuple[float, float]:
    words = row.get("longitude", ""), row.get("latitude", "")
    if not any(words):
        return float("nan"), float("nan")
    try:
        longitude, latitude = float(words[0]), float(words[1])
    except ValueError:
        longitude = latitude = float("nan")
    if not (abs(longitude) <= 180 and abs(latitude) <= 90):
        raise CatchError(
            f"can't read the position {words[1]!r}, {words[0]!r}",
            file=path,
            where=where,
            do="Write both in decimal degrees, west and south negative, or leave both empty.",
        )
    return longitude, latitude
