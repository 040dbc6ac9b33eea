"""Figures of a plan as people read them: the same on screen, sheet and map.

`layers/maps/browser/frame/words.js` has the same rules for the map, whose units can be switched.
"""

from __future__ import annotations

from seabed.units import convert, rounded, rounded_down

__all__ = ["least_water", "minutes", "share", "water_range"]


def minutes(seconds: float) -> str:
    """Write whole minutes.

    Examples
    --------
    >>> minutes(150.0)
    '3'
    """
    return rounded(seconds / 60.0)


def share(part: float) -> str:
    """Write a share as percent.

    Examples
    --------
    >>> share(0.125)
    '13%'
    """
    return f"{rounded(100.0 * part)}%"


def least_water(depth_m: float, unit: str) -> str:
    """Write the least water in a unit, rounded down: never more than there is.

    Examples
    --------
    >>> least_water(1.58, "ft"), least_water(1.58, "m")
    ('5', '1.5')
    """
    return rounded_down(convert(depth_m, unit), _digits(unit))


def water_range(least_m: float, greatest_m: float, unit: str) -> tuple[str, str]:
    """Write the least and the greatest water in a unit."""
    return least_water(least_m, unit), rounded(convert(greatest_m, unit), _digits(unit))


def _digits(unit: str) -> int:
    return 0 if unit == "ft" else 1
