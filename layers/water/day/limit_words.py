"""Limits of the boat in words."""

from __future__ import annotations

import math
from typing import Final

from seabed.units import format_quantity

_WHAT: Final = {"wind": "wind", "gust": "gusts", "current": "current"}
_DARK: Final = {
    "sunset": "between sunset and sunrise",
    "civil twilight": "dark, beyond civil twilight",
    "night": "dark",
}


def limit_words(
    limit: str, greatest_mps: float, allowed_mps: float, *, darkness: str, speed_unit: str
) -> str:
    """Say beyond which limit some time lies.

    limit, greatest_mps, allowed_mps: a row of `layers.water.OpenHours.left_out`.
    darkness: the boat's own limit of it.

    Examples
    --------
    >>> limit_words("wind", 23.15, 10.29, darkness="night", speed_unit="kn")
    'wind up to 45 kn (limit 20 kn)'
    >>> limit_words("darkness", float("nan"), float("nan"), darkness="sunset", speed_unit="kn")
    'between sunset and sunrise'
    """
    if limit == "darkness":
        return _DARK[darkness]
    if math.isnan(greatest_mps):
        return f"the {limit} is not known"
    digits = 1 if limit == "current" else 0
    greatest, allowed = (
        format_quantity(speed, speed_unit, digits=digits) for speed in (greatest_mps, allowed_mps)
    )
    return f"{_WHAT[limit]} up to {greatest} (limit {allowed})"
