"""A position as a skipper writes it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from seabed.tables.positions import read_position

Position = tuple[float, float]
"""Longitude and latitude, degrees, WGS 84."""


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
            'Write latitude and longitude, like "46°11.400\'N 033°24.600\'W" or "46.19, -33.41".'
        ) from error
