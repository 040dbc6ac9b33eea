"""Read fixes from delimited text (CSV), with forgiving header names.

Columns are found by their names, whatever their case, spaces, underscores and units:

=============  ===============================================================
latitude       latitude, lat, y
longitude      longitude, lon, long, lng, x
time           time, timestamp, datetime, utc, or a date and a time column
depth          depth, sounding; metres unless the name ends in ft, feet or fm
temperature    temperature, temp, water temperature, wtemp; C unless it ends in F
=============  ===============================================================

Positions are decimal degrees, or degrees and minutes with a side (``31 30.125 S``).  Times are ISO
8601, or seconds or milliseconds since 1970; one without a zone is of the zone asked for.  Fields
are parted by comma, semicolon or tab; with the latter two a comma may be the decimal point.
"""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.errors import TrackError
from seabed.logs.fixes import FileFixes, to_utc
from seabed.units import LENGTH

__all__ = ["read_delimited_fixes"]

_NAMES: Final = {
    "latitude": re.compile(r"lat(itude)?(deg|degrees)?|y"),
    "longitude": re.compile(r"lon(g|gitude)?(deg|degrees)?|lng|x"),
    "time": re.compile(r"time(stamp)?(utc|z)?|date_?time(utc|z)?|utc(time)?|(iso|gps|utc)time"),
    "date": re.compile(r"date(utc)?|day"),
    "depth_m": re.compile(r"(water|bottom)?(depth|sounding)(m|met(er|re)s?|ft|feet|fm|fathoms?)?"),
    "temperature_c": re.compile(r"w?(water|sea)?temp(erature)?(deg)?(c|f)?"),
}
_DEGREES: Final = re.compile(
    r"\s*([NSEW]?)\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*(?:(\d+(?:\.\d+)?)\s*['′]?\s*)?"
    r"(?:(\d+(?:\.\d+)?)\s*[\"″]?\s*)?([NSEW]?)\s*",
    re.IGNORECASE,
)

Floats = NDArray[np.float64]


def read_delimited_fixes(path: str | Path, *, timezone: str = "UTC") -> FileFixes:
    """Read the fixes of one delimited text file.

    Parameters
    ----------
    path : str or Path
    timezone : str
        Zone of times that don't say theirs.

    Returns
    -------
    FileFixes
        A fix a row.  What can't be read is NaN or NaT, and counted in ``notes``.

    Raises
    ------
    TrackError
        If the file is missing, is not text, or has no columns for latitude and longitude or no
        row.
    """
    rows = _rows(path)
    columns = _columns(rows[0], path)
    body = [row for row in rows[1:] if any(row)]
    if not body:
        raise TrackError("there are no rows under its header", file=path)
    width = len(rows[0])
    table = {
        name: [row[at].strip() if at < len(row) else "" for row in body]
        for name, at in columns.items()
    }
    notes = _uneven(body, width, path)
    latitude, longitude = (
        _positions(table[name], path, name, notes) for name in ("latitude", "longitude")
    )
    depth = _values(table.get("depth_m"), len(body))
    warmth = _values(table.get("temperature_c"), len(body))
    header = {name: _plain(rows[0][at]) for name, at in columns.items()}
    if header.get("temperature_c", "").endswith("f"):
        warmth = (warmth - 32.0) / 1.8
    return FileFixes(
        file=str(path),
        time=_times(table, timezone, path, notes),
        longitude=longitude,
        latitude=latitude,
        depth_m=depth * _metres(header.get("depth_m", "")),
        temperature_c=warmth,
        track=np.zeros(len(body), np.int32),
        segment=np.zeros(len(body), np.int32),
        notes=notes,
    )


def _rows(path: str | Path) -> list[list[str]]:
    try:
        text = Path(path).read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise TrackError(
            "it is neither GPX, NMEA 0183 nor text", file=path, where=f"byte {error.start}"
        ) from error
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TrackError(f"can't read it: {reason}", file=path, do="Check the name.") from error
    lines = text.replace("\0", "").lstrip("\n\r ")
    if not lines.strip():
        raise TrackError("the file is empty", file=path)
    head = lines.split("\n", 1)[0]
    parted = max(",;\t", key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(lines), delimiter=parted))
    except csv.Error as error:
        raise TrackError(f"its rows can't be told apart: {error}", file=path) from error
    if parted != ",":
        rows[1:] = [[_decimal_point(field) for field in row] for row in rows[1:]]
    return rows


def _decimal_point(field: str) -> str:
    return field.replace(",", ".") if field.count(",") == 1 else field


def _plain(name: str) -> str:
    return re.sub(r"[^a-z]", "", name.lower())


def _columns(header: list[str], path: str | Path) -> dict[str, int]:
    """Column of each thing that is there; the first that fits."""
    columns: dict[str, int] = {}
    for name, pattern in _NAMES.items():
        for at, title in enumerate(header):
            if pattern.fullmatch(_plain(title)):
                columns.setdefault(name, at)
    missing = [name for name in ("latitude", "longitude") if name not in columns]
    if missing:
        raise TrackError(
            f"no column for {' and '.join(missing)} in its header "
            f"({', '.join(title.strip() for title in header)[:80]})",
            file=path,
            where="line 1",
            do="Name columns time, latitude, longitude (and depth_m).",
        )
    return columns


def _uneven(body: list[list[str]], width: int, path: str | Path) -> list[str]:
    uneven = sum(len(row) != width for row in body)
    return [f"{path}: {uneven} rows have more or fewer fields than the header"] if uneven else []


def _values(texts: list[str] | None, count: int) -> Floats:
    if texts is None:
        return np.full(count, np.nan)
    return np.array(pd.to_numeric(pd.Series(texts, dtype=object), errors="coerce"), np.float64)


def _positions(texts: list[str], path: str | Path, name: str, notes: list[str]) -> Floats:
    values = _values(texts, len(texts))
    for at in np.flatnonzero(np.isnan(values)).tolist():
        values[at] = _degrees(texts[at])
    unread = int(sum(np.isnan(values[i]) and bool(text) for i, text in enumerate(texts)))
    unread -= sum(text.lower() == "nan" for text in texts)
    if unread:
        notes.append(f"{path}: {unread} rows have a {name} that can't be read")
    return values


def _degrees(text: str) -> float:
    """Degrees, minutes and seconds with a side before or after."""
    match = _DEGREES.fullmatch(text)
    if match is None:
        return float("nan")
    side = (match[1] or match[5]).upper()
    degrees = float(match[2])
    parts = float(match[3] or 0) / 60.0 + float(match[4] or 0) / 3600.0
    value = abs(degrees) + parts
    return -value if side in ("S", "W") or match[2].startswith("-") else value


def _times(
    table: dict[str, list[str]], timezone: str, path: str | Path, notes: list[str]
) -> NDArray[np.datetime64]:
    texts = table.get("time")
    if texts is None:
        texts = table.get("date")
    elif "date" in table:
        texts = [f"{d} {t}".strip() for d, t in zip(table["date"], texts, strict=True)]
    if texts is None:
        count = len(table["latitude"])
        return np.full(count, np.datetime64("NaT"), "datetime64[ns]")
    numbers = _values(texts, len(texts))
    if (np.isfinite(numbers) & (np.abs(numbers) > 1e8)).mean() > 0.5:
        scale = 1e3 if np.nanmedian(np.abs(numbers)) > 1e11 else 1.0
        return _since_1970(numbers / scale)
    stamps, unreadable = to_utc(texts, timezone=timezone)
    if unreadable:
        notes.append(f"{path}: {unreadable} rows have a time that can't be read")
    return stamps


def _since_1970(seconds: Floats) -> NDArray[np.datetime64]:
    good = np.isfinite(seconds) & (np.abs(seconds) < 9e9)
    stamps = np.round(np.where(good, seconds, 0.0) * 1e9).astype(np.int64).astype("datetime64[ns]")
    return np.where(good, stamps, np.datetime64("NaT", "ns"))


def _metres(title: str) -> float:
    for ending, unit in (
        ("feet", "ft"), ("ft", "ft"), ("fm", "fm"), ("fathom", "fm"), ("fathoms", "fm"),
    ):  # fmt: skip
        if title.endswith(ending):
            return LENGTH[unit]
    return 1.0
