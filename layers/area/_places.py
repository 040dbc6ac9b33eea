"""A position as a skipper writes it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

Position = tuple[float, float]
"""Longitude and latitude, degrees, WGS 84."""

_PART: Final = (
    r"([NS]?)\s*(-?\d+(?:\.\d+)?)\s*°?\s*(?:(\d+(?:\.\d+)?)\s*['′]\s*)?([NS]?)"
    r"[\s,]+"
    r"([EW]?)\s*(-?\d+(?:\.\d+)?)\s*°?\s*(?:(\d+(?:\.\d+)?)\s*['′]\s*)?([EW]?)"
)


def place(value: Any, _: Path) -> Position | None:
    """Read a position, latitude first, as sheets and charts print it; ``""`` is none.

    ``"46°11.400'N 033°24.600'W"``, ``"46.19 N, 33.41 W"`` or ``"46.19, -33.41"``.
    """
    if value == "":
        return None
    match = re.fullmatch(_PART, value.strip().upper()) if isinstance(value, str) else None
    if match is not None:
        latitude = _degrees(*match.groups()[:4])
        longitude = _degrees(*match.groups()[4:])
        if abs(latitude) <= 90.0 and abs(longitude) <= 180.0:
            return longitude, latitude
    raise ValueError(
        'Write latitude and longitude, like "46°11.400\'N 033°24.600\'W" or "46.19, -33.41".'
    )


def _degrees(before: str, whole: str, minutes: str | None, after: str) -> float:
    """Put one half of a position together; NaN, which no bound admits, if it contradicts itself."""
    side, value = before or after, float(whole)
    if (before and after) or (side and value < 0) or (minutes and float(minutes) >= 60):
        return float("nan")
    size = abs(value) + float(minutes or 0) / 60
    return -size if value < 0 or side in {"S", "W"} else size
