"""Values of the area file with a form of their own: a place, a box, a base map, a current."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

from layers.area.keys import file
from seabed.tables.positions import read_position

Position = tuple[float, float]
"""Longitude and latitude, degrees, WGS 84."""

PLACES: Final = ("{z}", "{x}", "{y}")
UNSAFE: Final = re.compile(r"[\s\"'<>\\;,]")
_WRITTEN_OUT: Final = re.compile(
    r"(?!.*\.[a-z]\w{1,4}\s*$)(?:\s*HW\b.*\s\d|.*\d.*\s(?:to|towards?)\s)", re.IGNORECASE
)
"""No name of a file: it has no ending."""
_RATE: Final = r"\d[\d.,]*(?:\s*/\s*\d[\d.,]*)?\s*[a-z/]+\s+(?:to|towards?)\s+\d[\d.]*\s*°?\s*"
_HOUR: Final = rf"HW\s*(?:[+\-−–]\s*\d[\d.,]*\s*h?)?\s*:?\s+{_RATE}"
_CURRENT: Final = re.compile(rf"\s*(?:{_RATE}|{_HOUR}(?:[,;]\s*{_HOUR})*[,;]?\s*)", re.IGNORECASE)


def place(value: Any, _: Path) -> Position | None:
    """Read a position, latitude first, as sheets and charts print it; ``""`` is none."""
    if value == "":
        return None
    try:
        if not isinstance(value, str):
            raise ValueError
        return read_position(value)
    except ValueError as error:
        raise ValueError(
            "Write latitude and longitude, like 46°11.400'N 033°24.600'W or 46.19, -33.41."
        ) from error


def box(value: Any, _: Path) -> tuple[float, float, float, float] | None:
    """Read ``"west,south,east,north"`` in degrees, on one side of the date line; ``""`` is none."""
    like = "Write west,south,east,north in degrees: -33.42,46.19,-33.40,46.21."
    if not isinstance(value, str):
        raise ValueError(like)
    if not value.strip():
        return None
    try:
        west, south, east, north = (float(word) for word in value.split(","))
    except ValueError as error:
        raise ValueError(like) from error
    if not (-180 <= west < east <= 360 and -90 <= south < north <= 90):
        raise ValueError(like)
    return west, south, east, north


def tile_address(value: Any, _: Path) -> str:
    """Read a template like ``https://tiles.example/{z}/{x}/{y}.png``; ``""`` is none."""
    if value == "":
        return ""
    say = "Write an address like https://tiles.example/{z}/{x}/{y}.png."
    if not isinstance(value, str):
        raise ValueError(say)
    address = value.strip()
    try:
        parts = urlsplit(address)
        host, _port = parts.hostname, parts.port
    except ValueError as error:
        raise ValueError(say) from error
    if parts.scheme not in ("http", "https") or not host or "{" in host or UNSAFE.search(address):
        raise ValueError(say)
    rest = address
    for place in PLACES:
        if place not in parts.path + parts.query:
            raise ValueError(f"{say} {place} is missing.")
        rest = rest.replace(place, "")
    if "{" in rest or "}" in rest:
        raise ValueError(f"{say} Only {{z}}, {{x}} and {{y}} are filled in.")
    return address


def is_current(words: str) -> bool:
    """Whether a source of currents is written out, and is no file's name.

    Examples
    --------
    >>> is_current("0.8 kn toward 40"), is_current("HW-3 0.8 kn toward 340")
    (True, True)
    >>> is_current("from 6 to 7.csv")
    False
    """
    return _WRITTEN_OUT.match(words) is not None


def file_or_current(value: Any, base: Path) -> Path | str | None:
    """Read a file name as `file`, or a current in words, which stays as it is."""
    if isinstance(value, str) and is_current(value):
        if _CURRENT.fullmatch(value) is None:
            raise ValueError(
                "Write it like 0.8 kn toward 40 (degrees true), or by hours from high water: "
                "HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, ..."
            )
        return value.strip()
    return file(value, base)
