"""Height of the tide at any moment."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final, Protocol, runtime_checkable

import numpy as np
import pandas as pd

from layers.water._tables import (
    Ints,
    TimedTable,
    between_rows,
    read_table,
    read_water_text,
    stretches,
)
from layers.water.heights.typed_tides import HIGH_WORDS, LOW_WORDS, typed_tides, unit_in
from layers.water.times import as_utc, hours_between
from seabed.array_types import Floats, Mask, Times
from seabed.errors import Question, WaterError
from seabed.tables.text_layout import number
from seabed.tables.text_table import TextTable
from seabed.units import parse_length

_HEIGHT: Final = re.compile(r"[+-]?\d*[.,]?\d+(?:e[+-]?\d+)?\s*[a-z']*\.?", re.IGNORECASE)

LONGEST_GAP_HOURS: Final = 27.0
"""No tide is longer from one turn to the next: a lunar day is 24.84 h."""

LOST_PAIR_HOURS: Final = 17.5
"""In a half-daily tide a longer step has lost a high and a low, which makes it about 18.6 h; where
a small pair merely vanishes, as now and then in mixed tides, it stays shorter."""

LONG_STEP_HOURS: Final = 11.0
MIXED_SHARE: Final = 0.01
"""Where more of the steps than this are long, the tide is daily or mixed and long ones are its
way; such a table's holes show only over a lunar day."""


@runtime_checkable
class Heights(Protocol):
    """Anything that knows the height of the tide."""

    def height_m(self, times: Any) -> Floats:
        """Metres above the source's datum at UTC times; NaN where it does not know."""
        ...


@dataclass(frozen=True, slots=True)
class HighLowTable:
    """An agency's high and low waters, with a half-cosine between neighbours.

    The interpolation is the usual hand method printed with such tables (for instance the U.S.
    agency's Table 3, "Height of tide at any time").

    Attributes
    ----------
    times : ndarray of datetime64[ns], shape (n,)
        UTC, rising.
    heights_m : ndarray of float64, shape (n,)
        Metres above the table's datum.
    high : ndarray of bool, shape (n,)
        True at high water; alternates, except between stretches.
    notes : tuple of str
        What was assumed when it was read.
    placed, bare : bool
        Whether the table says the zone of its times; whether it names no unit for some heights.
    """

    times: Times
    heights_m: Floats
    high: Mask
    notes: tuple[str, ...] = ()
    placed: bool = False
    bare: bool = False

    def height_m(self, times: Any) -> Floats:
        """Metres above the table's datum; NaN outside the table and between its stretches."""
        heights = self.heights_m

        def value(before: Ints, after: Ints, passed: Floats) -> Floats:
            share = (1.0 - np.cos(np.pi * passed)) / 2.0
            return np.asarray(heights[before] + (heights[after] - heights[before]) * share)

        return between_rows(self.times, times, value)

    def turns(self, start: Any, end: Any) -> pd.DataFrame:
        """High and low waters within [start, end] (UTC): ``time``, ``height_m``, ``high``."""
        inside = (self.times >= as_utc(start)) & (self.times <= as_utc(end))
        return pd.DataFrame(
            {
                "time": pd.DatetimeIndex(self.times[inside]).tz_localize("UTC"),
                "height_m": self.heights_m[inside],
                "high": self.high[inside],
            }
        )


def read_high_low_table(
    path: str | Path, *, timezone: str = "UTC", date_order: str = "", unit: str = ""
) -> HighLowTable:
    """Read an agency's table of high and low waters.

    Columns: ``time``, ``height_m`` or ``height_ft``, and perhaps ``kind`` (``high`` or ``low``;
        ``H`` or ``L``).  Stretches of days may be left out between rows.

    timezone, date_order, unit: of times without an offset, of dates that can be read two ways
        (``"dmy"`` or ``"mdy"``), of heights that name none.

    Raises WaterError if a high follows a high or a low a low, a low is not below its neighbours, or
    a high and a low are missing in between.
    """
    text = _text_of(path)
    table = read_table(path, timezone=timezone, date_order=date_order, text=text)
    words = table.needed("height", like="time,height_m,kind")
    named = table.text.unit("height") or unit_in(text.title)
    heights = table.quantities(
        "height",
        words,
        partial(parse_length, default=named or unit or None),
        question=Question("heights_unit", {"m": "metres", "ft": "feet"}),
    )
    bare = not named and any(np.isfinite(number(word)) for word in words)
    parts = stretches(table.times)
    _check_gaps(table, parts)
    written = table.text.words("event")
    high = _guess_kinds(table, heights, parts) if written is None else _kinds(table, written)
    for part in parts:
        _check_turns(table, heights, high, part)
    return HighLowTable(table.times, heights, high, tuple(table.text.notes), table.placed, bare)


def _text_of(path: str | Path) -> TextTable:
    """Read the columns time and height where the table has them, else its turns line by line."""
    text = read_water_text(path, lenient=True)
    single = text.meanings.count("time") == 1 and text.meanings.count("height") == 1
    if single and any(map(_HEIGHT.fullmatch, text.words("height") or [])):
        return read_water_text(path) if text.uneven else text
    try:
        return typed_tides(path)
    except WaterError:
        if {"time", "height"} & set(text.meanings):
            return text  # whose reader says what is missing
        raise


def _kinds(table: TimedTable, words: list[str]) -> Mask:
    high = np.empty(len(words), bool)
    for i, word in enumerate(words):
        name = word.lower().removesuffix(" water").removesuffix(" tide")
        if name not in HIGH_WORDS | LOW_WORDS:
            table.refuse(i, f"{word!r} is neither high nor low", "Write high or low.")
        high[i] = name in HIGH_WORDS
    return high


def _guess_kinds(table: TimedTable, heights: Floats, parts: list[slice]) -> Mask:
    """Tell highs from lows by the step to the next row (or from the one before)."""
    high = np.zeros(len(heights), bool)
    for part in parts:
        if part.stop - part.start < 2:
            table.refuse(
                part.start,
                "a single row does not say whether it is high or low water",
                "Add a kind.",
            )
        step = np.diff(heights[part])
        high[part] = np.append(step < 0, step[-1] > 0)
    return high


def _check_turns(table: TimedTable, heights: Floats, high: Mask, part: slice) -> None:
    for i in range(part.start + 1, part.stop):
        name = "high" if high[i] else "low"
        if high[i] == high[i - 1]:
            table.refuse(
                i,
                f"a {name} water follows a {name} water",
                f"Add the {'low' if high[i] else 'high'} water between them.",
            )
        if (heights[i] > heights[i - 1]) != high[i]:
            side = "above" if high[i] else "below"
            table.refuse(
                i,
                f"this {name} water ({heights[i]:.2f} m) is not {side} the one before "
                f"({heights[i - 1]:.2f} m)",
                "Correct the kind or the height.",
            )


def _check_gaps(table: TimedTable, parts: list[slice]) -> None:
    for part in parts:
        steps = hours_between(table.times[part][:-1], table.times[part][1:])
        if not steps.size:
            continue
        half_daily = np.mean(steps > LONG_STEP_HOURS) <= max(MIXED_SHARE, 1.0 / steps.size)
        limit = LOST_PAIR_HOURS if half_daily else LONGEST_GAP_HOURS
        wide = np.flatnonzero(steps > limit)
        if wide.size:
            i = part.start + int(wide[0]) + 1
            table.refuse(
                i,
                f"{steps[wide[0]]:.1f} hours without a high or low water before this row",
                "Add the rows that are missing (days left out on purpose must be more than three).",
            )
