"""Counts, lengths, clock times and limits in words, in the area's units and zone."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from seabed.units import format_quantity

if TYPE_CHECKING:
    import pandas as pd

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
    return partial(format_quantity, unit=short_unit(area))


_WHAT: Final = {"wind": "wind", "gust": "gusts", "current": "current"}
_DARK: Final = {
    "sunset": "between sunset and sunrise",
    "civil twilight": "dark, beyond civil twilight",
    "night": "dark",
}


def limit_words(row: Any, area: Area) -> str:
    """Say beyond which limit some time is, of a row of `layers.water.OpenHours.left_out`."""
    limit, greatest_mps, allowed_mps = row.limit, row.greatest_mps, row.allowed_mps
    if limit == "darkness":
        return _DARK[area.boat.darkness_limit]
    if limit == "waves":
        high, most = (
            format_quantity(height, short_unit(area), digits=1)
            for height in (row.greatest_m, row.allowed_m)
        )
        return f"waves up to {high} (limit {most})"
    if math.isnan(greatest_mps):
        return f"the {limit} is not known"
    greatest, allowed = (
        format_quantity(speed, area.units.speed, digits=1 if limit == "current" else 0)
        for speed in (greatest_mps, allowed_mps)
    )
    return f"{_WHAT[limit]} up to {greatest} (limit {allowed})"


def left_out_lines(left_out: pd.DataFrame, area: Area) -> list[str]:
    """Say what is left out, a line each: ``"07:00 to 08:20: wind up to 28 kn (limit 20 kn)"``."""
    return [
        f"{clock(row.start, area)} to {clock(row.end, area, last=True)}: {limit_words(row, area)}"
        for row in left_out.itertuples()
    ]


def beyond_words(left_out: pd.DataFrame, area: Area) -> str:
    """Say that something is beyond the limits anyway, wind first; ``""`` if nothing is."""
    worst_first = left_out.sort_values(
        ["limit", "start"],
        key=lambda column: column.map(_WORST.index) if column.name == "limit" else column,
    )
    lines = left_out_lines(worst_first, area)
    return f"BEYOND THE BOAT'S LIMITS, {'; '.join(lines)}." if lines else ""


_WORST: Final = ("wind", "gust", "waves", "current", "darkness")


def short_unit(area: Area) -> str:
    """Give the unit of short lengths and waves: nobody measures them in fathoms."""
    return "m" if area.units.depth == "m" else "ft"


def clock(time: Any, area: Area, *, last: bool = False) -> str:
    """Write a UTC time as clocks show it, ``""`` for none; midnight as 24:00 where it is `last`."""
    from layers.water.times import to_local

    if time != time:  # noqa: PLR0124  (NaT)
        return ""
    shown = f"{to_local(time, area.timezone)[0]:%H:%M}"
    return "24:00" if last and shown == "00:00" else shown
