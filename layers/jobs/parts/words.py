"""Counts and lengths in words, in the reader's units."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from layers.area import Area


def counted(count: int, what: str) -> str:
    """Write how many there are.

    Examples
    --------
    >>> counted(1, "hole"), counted(3, "hole")
    ('1 hole', '3 holes')
    """
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def say_length(area: Area) -> Any:
    """Give a function that writes short lengths in the reader's unit, feet or metres."""
    from seabed.units import format_quantity

    return partial(format_quantity, unit="m" if area.units.depth == "m" else "ft")
