"""What looks wrong in a table of high and low waters that can be read."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from layers.water import HighLowTable
from seabed.array_types import Floats

Fault = tuple[str, str]

WIDE_M: Final = 6.0
"""A range above this is rare, and usual for feet read as metres.  Common practice, no source."""

HALF_DAILY_H: Final = (5.5, 7.0)
"""Middle of the steps of a half-daily tide; a lunar day has four of 6.21 h."""

DAY: Final = 4
"""Turns of a lunar day."""
HOUR_OFF_H: Final = 0.7
"""And four times what others are off.  On 750 tables of two weeks, of five made tides, a turn an
hour off is seen in 42 to 99 of 100, and two tables that are right are doubted."""

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
    hours = (table.times - table.times[0]) / np.timedelta64(1, "h")
    steps = np.diff(hours)
    if len(steps) < 4 or not HALF_DAILY_H[0] <= np.median(steps) <= HALF_DAILY_H[1]:
        return
    for row, off in sorted((_far_off(steps) | _hour_off(hours)).items()):
        shown = pd.Timestamp(table.times[row], tz="UTC").tz_convert(timezone)
        about = "an hour" if round(abs(off)) == 1 else f"{abs(off):.0f} hours"
        yield (
            f"the turn at {shown:%Y-%m-%d %H:%M} is about {about} too "
            f"{'late' if off > 0 else 'early'} for its neighbours",
            "Check for exchanged am and pm, or digits.",
        )


def _far_off(steps: Floats) -> dict[int, float]:
    """Find turns between a step that is too long and one too short; and by how much."""
    away = steps - np.median(steps)
    least = OFF_H + 3 * np.median(np.abs(away))
    return {
        row: float(np.sign(before) * min(abs(before), abs(after)))
        for row, (before, after) in enumerate(pairwise(away), 1)
        if before * after < 0 and min(abs(before), abs(after)) > least
    }


def _hour_off(hours: Floats) -> dict[int, float]:
    """Find turns off the middle of the same turns of the lunar days beside them; and by how much.

    Those of the days beside are then off by half of it, the other way.
    """
    away = hours[DAY:-DAY] - (hours[: -2 * DAY] + hours[2 * DAY :]) / 2
    if not len(away):
        return {}
    least = HOUR_OFF_H + 4 * np.median(np.abs(away))
    off = {}
    for at, by in enumerate(away.tolist()):
        beside = [away[one] for one in (at - DAY, at + DAY) if 0 <= one < len(away)]
        halves = all(-0.8 < one / by < -0.25 for one in beside) if by else False
        around = np.abs(away[max(0, at - DAY) : at + DAY + 1])
        if abs(by) > least and halves and abs(by) >= around.max():
            off[at + DAY] = by
    return off


def _summer(table: HighLowTable, timezone: str) -> Iterator[Fault]:
    """Note that many tables keep standard time, where the zone has summer time in their days."""
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
