"""What the columns of a catch log may be called."""

from __future__ import annotations

import difflib
import re
from pathlib import Path
from typing import Final

from seabed.errors import CatchError

__all__ = ["HEADERS", "match_headers"]

HEADERS: Final[dict[str, tuple[str, ...]]] = {
    "time": ("time", "datetime", "date time", "timestamp", "when", "caught", "caught at", "clock"),
    "date": ("date", "day"),
    "species": ("species", "fish", "kind", "what"),
    "length": ("length", "len", "size", "total length"),
    "kept": ("kept", "keep", "keeper", "retained", "released", "short", "fate", "result"),
    "rod": ("rod", "rod no", "rod number", "line", "angler", "who"),
    "note": ("note", "notes", "comment", "comments", "remark", "remarks", "bait"),
    "latitude": ("latitude", "lat", "y"),
    "longitude": ("longitude", "long", "lon", "lng", "x"),
}
"""The meaning of a column by the names it may have; case, ``_``, ``-`` and ``.`` do not matter."""

REVERSED: Final = ("released", "short")
"""Names of the kept column that ask the opposite: a plain yes there is not kept."""

_UNIT = re.compile(r"\s*(?:\(([^)]*)\)|\[([^\]]*)\]|\s(in|inch|inches|cm|mm|m|ft))\s*$")
_MILLIMETRES: Final = {"mm", "millimetre", "millimetres", "millimeter", "millimeters"}


def plain(header: str) -> str:
    """Give a header in lower case with single spaces."""
    return re.sub(r"[\s_.\-]+", " ", header.strip().lower()).strip()


def match_headers(
    headers: list[str], file: str | Path, *, line: int = 1
) -> tuple[dict[str, int], str | None, bool]:
    """Find which column means what.

    Parameters
    ----------
    headers : list of str
        As they stand in the file.
    file : str or Path
        For messages.
    line : int
        Where the headers stand in it.

    Returns
    -------
    columns : dict
        From meaning (a key of `HEADERS`) to the column's number.
    unit : str or None
        The unit of length that its header names: ``length_in``, ``Length (cm)``.
    reversed : bool
        Whether a plain yes in the kept column means it went back.

    Raises
    ------
    CatchError
        At a column that means nothing, one meaning in two columns, or no time.
    """
    columns: dict[str, int] = {}
    unit: str | None = None
    opposite = False
    for number, header in enumerate(headers):
        name, found_unit = _split_unit(plain(header))
        if not name:
            continue
        meaning = _meaning(name)
        if meaning is None:
            raise _unknown(header, file, line)
        if meaning in columns:
            raise CatchError(
                f"two columns say {meaning}: {headers[columns[meaning]]!r} and {header!r}",
                file=file,
                do="Rename or remove one.",
            )
        columns[meaning] = number
        if meaning == "length":
            unit = found_unit
        if meaning == "kept":
            opposite = name in REVERSED
    if "time" not in columns:
        raise CatchError(
            "no column says when a fish came",
            file=file,
            do="Head one column 'time', with times like 2031-06-14 08:30.",
        )
    return columns, unit, opposite


def _split_unit(name: str) -> tuple[str, str | None]:
    match = _UNIT.search(name)
    if match is None:
        return name, None
    unit = next(part for part in match.groups() if part is not None).strip()
    return name[: match.start()].strip(), "mm" if unit in _MILLIMETRES else unit


def _meaning(name: str) -> str | None:
    return next((key for key, names in HEADERS.items() if name in names), None)


def _unknown(header: str, file: str | Path, line: int) -> CatchError:
    known = [name for names in HEADERS.values() for name in names]
    near = difflib.get_close_matches(plain(header), known, n=1)
    hint = f"Did you mean {near[0]!r}? " if near else ""
    return CatchError(
        f"unknown column {header!r}",
        file=file,
        where=f"line {line}",
        do=f"{hint}Columns that are read: {', '.join(HEADERS)}. Rename it, or head it 'note'.",
    )
