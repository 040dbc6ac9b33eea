"""What looks wrong in a table of high and low waters that can be read."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from layers.water import HighLowTable

__all__ = ["tide_faults"]

Fault = tuple[str, str]

WIDE_M: Final = 6.0
"""A range above this is rare, and usual for feet read as metres.  Common practice, no source."""

HALF_DAILY_H: Final = (5.5, 7.0)
"""Middle of the steps of a half-daily tide; a lunar day has four of 6.21 h."""

OFF_H: Final = 2.0
"""A turn is off by at least so much where the step before is longer and the next shorter by it."""


def tide_faults(table: HighLowTable, timezone: str, *, unit_known: bool = True) -> list[Fault]:
    """Say what looks wrong: feet under metres, a time hours off, summer time."""
    return [
        *(_wide(table) if unit_known else ()),
        *_off(table, timezone),
        *_summer(table, timezone),
    ]


def _wide(table: HighLowTable) -> Iterator[Fault]:
    steps = np.abs(np.diff(table.heights_m))
    if steps.size and np.median(steps) > WIDE_M:
        yield (
            f"its tides of {np.median(steps):.1f} m are higher than in most of the world",
            "If its numbers are feet, name the unit in the heading: height_ft.",
        )


def _off(table: HighLowTable, timezone: str) -> Iterator[Fault]:
    hours = np.diff(table.times) / np.timedelta64(1, "h")
    if len(hours) < 4 or not HALF_DAILY_H[0] <= np.median(hours) <= HALF_DAILY_H[1]:
        return
    away = hours - np.median(hours)
    spread = np.median(np.abs(away))
    for row in range(1, len(hours)):
        before, after = away[row - 1], away[row]
        off = min(abs(before), abs(after))
        if before * after < 0 and off > OFF_H + 3 * spread:
            shown = pd.Timestamp(table.times[row], tz="UTC").tz_convert(timezone)
            late = "late" if before > 0 else "early"
            yield (
                f"the turn at {shown:%Y-%m-%d %H:%M} is about {off:.0f} hours too {late} for its "
                "neighbours",
                "Check for exchanged am and pm, or digits.",
            )


def _summer(table: HighLowTable, timezone: str) -> Iterator[Fault]:
    """Mind that many tables keep standard time, where the zone has summer time in their days."""
    zone = ZoneInfo(timezone)
    first = pd.Timestamp(table.times[0], tz="UTC").tz_convert(zone)
    last = pd.Timestamp(table.times[-1], tz="UTC").tz_convert(zone)
    if table.placed or not any(moment.dst() for moment in (first, last)):
        return
    yield (
        f"its times are read with the summer time of {timezone}",
        "If the table keeps standard time all year, write 'standard time' in a line above its "
        "headings.",
    )
