"""Tables of water: forgiving about headings, unforgiving about values."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any, Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from layers.water.times import as_utc, hours_between, zone_of
from seabed.array_types import Floats, Times
from seabed.errors import Question, UnitError, WaterError
from seabed.tables.headings import meanings_of
from seabed.tables.text_layout import number
from seabed.tables.text_table import TextTable, read_text_table

Ints = NDArray[np.intp]

WATER_HEADINGS: Final = ("time", "date", "height", "event", "speed", "from", "gust", "wind")
"""Meanings of columns that are sought; see `seabed.tables.headings`."""

APART_HOURS: Final = 72.0
"""Rows further apart than this are stretches of their own, not one with a hole."""


@dataclass(frozen=True, slots=True)
class TimedTable:
    """Rows at moments: cells as written, and UTC times, rising.

    placed: whether the table says the zone of its times.
    """

    text: TextTable
    times: Times
    placed: bool = False

    def needed(self, meaning: str, *, like: str) -> list[str]:
        """Give the words of the column of a meaning; WaterError if there is none."""
        words = self.text.words(meaning)
        if words is None:
            raise _no_column(self.text, meaning, like)
        return words

    def quantities(
        self,
        meaning: str,
        words: list[str],
        parse: Callable[[str], float],
        *,
        like: str = "height_m or height_ft",
        question: Question | None = None,
    ) -> Floats:
        """Read values that carry a unit, or whose heading does.  WaterError at a bad one.

        like: a heading that names the unit.  question: what asks for it where no heading does.
        """
        values, unit = np.empty(len(words)), self.text.unit(meaning)
        for i, word in enumerate(words):
            try:
                values[i] = parse(_with_unit(word, unit))
            except UnitError as error:
                bare = question if np.isfinite(number(word)) else None
                cure = "" if unit else f"Name the unit in the heading, like {like}."
                if bare is not None:
                    cure = f"{cure[:-1]}, or set {{{bare.setting}}}."
                self.text.refuse(i, error.what, meaning=meaning, do=cure or None, question=bare)
            if not np.isfinite(values[i]):
                self.refuse(i, f"{word!r} is not a number", "", meaning=meaning)
        return values

    def refuse(self, i: int, what: str, do: str, *, meaning: str | None = None) -> NoReturn:
        """Raise a WaterError about row `i`."""
        self.text.refuse(i, what, meaning=meaning, do=do or None)


def read_water_text(path: str | Path, *, lenient: bool = False) -> TextTable:
    """Read the cells of a table of water; as `read_text_table`."""
    known = partial(meanings_of, among=WATER_HEADINGS)
    return read_text_table(path, known, error=WaterError, lenient=lenient)


def read_table(
    path: str | Path, *, timezone: str, date_order: str = "", text: TextTable | None = None
) -> TimedTable:
    """Read a table of rows at moments, in order of time, from text or a spreadsheet.

    The moment is in a column ``time``, or in two, ``date`` and ``time``.

    timezone: of times without an offset.
    date_order: "dmy" or "mdy", of dates that can be read two ways.
    text: what the file holds, where it has been read.

    Raises WaterError if there is no row or no time, or a time is not after the one before.
    """
    if text is None:
        text = read_water_text(path)
    if not len(text):
        raise WaterError("the table has no rows", file=text.file)
    if text.column("time") is None and text.column("date") is None:
        raise _no_column(text, "time", "time,height_m,kind")
    times, placed = text.moments(zone_of(timezone), date_order=date_order or None)
    back = np.flatnonzero(np.diff(times) <= np.timedelta64(0, "ns"))
    if back.size:
        text.refuse(
            int(back[0]) + 1,
            "the time is not after the one before",
            meaning="time",
            do="Put the rows in order of time, each once; check am and pm.",
        )
    named = any("which the table names" in note for note in text.notes)
    return TimedTable(text, times, named or bool(placed.all()))


def stretches(times: Times) -> list[slice]:
    """Rows that belong together: runs with no more than three days between neighbours."""
    breaks = np.flatnonzero(hours_between(times[:-1], times[1:]) > APART_HOURS) + 1
    edges = [0, *breaks.tolist(), len(times)]
    return [slice(a, b) for a, b in pairwise(edges) if b > a]


def between_rows(rows: Times, times: Any, value: Callable[[Ints, Ints, Floats], Floats]) -> Floats:
    """Give values at UTC times of any shape, NaN outside the stretches of rows.

    value: of the row before each time, the row after it, and the share of the way between.
    """
    moments = as_utc(times)
    flat = moments.ravel()
    values = np.full(flat.shape, np.nan)
    for part in stretches(rows):
        known = rows[part]
        if len(known) >= 2:
            after = np.clip(np.searchsorted(known, flat, side="right"), 1, len(known) - 1)
            passed = hours_between(known[after - 1], flat)
            passed = passed / hours_between(known[after - 1], known[after])
            inside = (flat >= known[0]) & (flat <= known[-1]) & np.isnan(values)
            row = after + part.start
            values = np.where(inside, value(row - 1, row, passed), values)
    return values.reshape(moments.shape)


def _no_column(text: TextTable, meaning: str, like: str) -> WaterError:
    return WaterError(
        f"no column for {meaning} among {', '.join(filter(None, text.headings))}",
        file=text.file,
        where=f"{text.line_word} {text.heading_line}",
        do=f"Name the columns like {like}.",
    )


def _with_unit(word: str, unit: str) -> str:
    """Add the heading's unit to a plain number, which may be written as ``8e-05``."""
    value = number(word)
    return word if not unit or np.isnan(value) else f"{value:.9f} {unit}"
