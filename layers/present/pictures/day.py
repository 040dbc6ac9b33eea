"""The day as a picture: tide curve, current, windows, night."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from layers.cautions import CAUTIONS_SHORT
from layers.present.looks import INKS, MARKS
from layers.present.pictures.drawing import (
    Box,
    Drawing,
    Part,
    Placing,
    Stroke,
    Words,
    arrow,
    known_runs,
    svg,
    ticks,
)
from layers.water.day.sun import SunTimes
from layers.water.times import as_utc, hours_between, to_local
from seabed.array_types import Floats, Times
from seabed.units import convert

ROW: Final = 18.0
LETTER: Final = 6.6
"""About the width of a letter of 13 px."""
WIDE_WORDS: Final = 110

WINDOWS: Final = {
    "slack": ("slack", "slack"),
    "alone": ("drift", "drifts well alone"),
    "motor": ("motor", "with the motor"),
}
"""Look and words of each kind of window."""

KEY_AT: Final = (0.0, 0.2, 0.62)
"""Where the key's words begin, as shares of its width."""

OUTSIDE: Final = 20.0
"""Pixels over the highest water and under the lowest: words there are on no curve."""

MOVES: Final = {
    "current_mps": ("current", "current"),
    "drift_mps": ("alone", "boat left alone"),
}
"""Look and words of each curve of speed."""


def day_picture(
    table: pd.DataFrame,
    windows: pd.DataFrame,
    *,
    title: str,
    timezone: str,
    depth_unit: str = "ft",
    speed_unit: str = "kn",
    sun: SunTimes | None = None,
    turns: pd.DataFrame | None = None,
    beyond: str = "",
    width: float | None = None,
) -> str:
    """Draw a day as an SVG document with the cautions on it.

    beyond: that windows are beyond the boat's limits: above all else.
    width: pixels of a strip for a page that itself shows title and cautions.
    """
    times = as_utc(table["time"])
    height = convert(table["height_m"].to_numpy(float), depth_unit)
    speeds = {
        words: (look, convert(table[name].to_numpy(float), speed_unit))
        for name, (look, words) in MOVES.items()
    }
    at = _Panels() if width is None else _Panels.strip(width)
    above = textwrap.wrap(beyond, int(WIDE_WORDS * at.wide / _Panels().wide))
    day = _DayPicture(times, timezone, ROW * len(above), at)
    parts: list[Part] = [
        *(
            Words(at.left, ROW * (row + 1), line, 13, bold=True, colour=MARKS["danger"].colour)
            for row, line in enumerate(above)
        ),
        *day.night(sun),
        *day.hours(),
        *day.panel(at.heights, f"height, {depth_unit}", {"": ("tide", height)}),
        *day.turns(turns, height, depth_unit),
        *day.panel(at.speeds, f"speed, {speed_unit}", speeds, floor=0.0),
        *day.arrows(table),
        *day.bars(windows),
    ]
    if width is None:
        foot = day.top + at.bottom - 10
        parts.append(Words(at.left, day.top + 28, title, 18))
        parts.append(Words(at.left, foot, CAUTIONS_SHORT, 11, colour=INKS["soft"]))
    return svg(Drawing(at.width, day.top + at.bottom, parts, title, "px"), alone=width is None)


@dataclass(frozen=True, slots=True)
class _Panels:
    """Where the parts of a picture are: columns, and rows from the top."""

    width: float = 900.0
    left: float = 64.0
    right: float = 880.0
    heights: tuple[float, float] = (70.0, 250.0)
    speeds: tuple[float, float] = (290.0, 450.0)
    bars: tuple[float, float] = (462.0, 482.0)
    bottom: float = 545.0
    hours: str = "%H:%M"

    @classmethod
    def strip(cls, width: float) -> _Panels:
        """Lay out a strip for a column of a page."""
        rows = {"heights": (20.0, 126.0), "speeds": (152.0, 236.0), "bars": (242.0, 256.0)}
        return cls(width=width, left=34.0, right=width - 8.0, bottom=318.0, hours="%H", **rows)

    @property
    def whole(self) -> tuple[float, float]:
        """Rows of all panels."""
        return self.heights[0], self.bars[1]

    @property
    def wide(self) -> float:
        """Pixels of the day."""
        return self.right - self.left


@dataclass(frozen=True, slots=True)
class _DayPicture:
    """A day laid out: its minutes, and how far down its panels begin."""

    times: Times
    timezone: str
    top: float
    at: _Panels

    def x(self, times: Any) -> Any:
        hours = hours_between(self.times[0], as_utc(times))
        whole = float(hours_between(self.times[0], self.times[-1])) or 1.0
        return Placing(0.0, whole, self.at.left, self.at.right).inside(hours)

    def across(self, start: Any, end: Any, rows: tuple[float, float], **look: Any) -> Box:
        """Draw a box from one time to another."""
        left, right = float(self.x(start)), float(self.x(end))
        return Box(left, self.top + rows[0], right - left, rows[1] - rows[0], **look)

    def night(self, sun: SunTimes | None) -> Iterator[Part]:
        if sun is None:
            return
        first, last = self.times[0], self.times[-1]
        if sun.otherwise == "down all day":
            yield self.across(first, last, self.at.whole, fill=INKS["tint"])
        for start, end in ((first, sun.rises), (sun.sets, last)):
            if start is not None and end is not None:
                yield self.across(start, end, self.at.whole, fill=INKS["tint"])

    def hours(self) -> Iterator[Part]:
        local = to_local(self.times, self.timezone)
        for i in np.flatnonzero((local.minute == 0) & (local.hour % 3 == 0)):
            x = float(self.x(self.times[i]))
            ends = [(x, self.top + self.at.heights[0]), (x, self.top + self.at.bars[1])]
            yield Stroke(ends, 1, INKS["rail"])
            words = local[i].strftime(self.at.hours)
            yield Words(x, self.top + self.at.bars[1] + 18, words, 13, "middle")

    def panel(
        self,
        rows: tuple[float, float],
        label: str,
        lines: Mapping[str, tuple[str, Floats]],
        *,
        floor: float | None = None,
    ) -> Iterator[Part]:
        """Draw curves over one scale: what each is called, its look and its values."""
        top, bottom = (self.top + row for row in rows)
        yield Words(self.at.left, top - 8, label, 13, colour=INKS["soft"])
        yield Box(self.at.left, top, self.at.wide, bottom - top, line=1, colour=INKS["soft"])
        every = np.concatenate([values for _, values in lines.values()])
        if not np.isfinite(every).any():
            yield Words(self.at.left + 10, (top + bottom) / 2, "unknown", 13)
            return
        scale = self.scale(every, rows, floor)
        for tick in ticks(scale.low, scale.high):
            y = float(scale(tick))
            yield Stroke([(self.at.left, y), (self.at.right, y)], 1, INKS["line"])
            yield Words(self.at.left - 8, y + 4, f"{tick:.4g}", 13, "end")
        free = self.at.left + LETTER * len(label)
        x, sparse = self.x(self.times), np.arange(len(every) // len(lines)) % 5
        for i, (name, (look, values)) in enumerate(lines.items()):
            mark = MARKS[look]
            edge = np.isfinite(values) & ~np.isfinite([*values[1:], np.nan])
            kept = (sparse == 0) | edge | ~np.isfinite(values)
            for points in known_runs(x[kept], scale(values)[kept]):
                yield Stroke(points, 2, mark.colour, mark.dash)
            if name:
                begin = max(self.at.left + (0.22 + 0.26 * i) * self.at.wide, free + 8)
                free = begin + LETTER * len(name)
                yield Words(begin, top - 8, name, 13, colour=mark.colour)

    def scale(self, values: Floats, rows: tuple[float, float], floor: float | None) -> Placing:
        low = float(np.nanmin(values)) if floor is None else floor
        high = max(float(np.nanmax(values)), low + 0.1)
        top, bottom = (self.top + row for row in rows)
        if floor is None:
            return Placing(low, high, bottom - OUTSIDE, top + OUTSIDE)
        return Placing(low, high + 0.08 * (high - low), bottom, top)

    def turns(self, turns: pd.DataFrame | None, height: Floats, depth_unit: str) -> Iterator[Part]:
        """Write time and height over each high and under each low water."""
        if turns is None or not len(turns) or not np.isfinite(height).any():
            return
        y = self.scale(height, self.at.heights, None)
        local = to_local(turns["time"], self.timezone)
        taken = {True: -np.inf, False: -np.inf}
        for x, metres, time, high in zip(
            self.x(turns["time"]), turns["height_m"], local, turns["high"].astype(bool), strict=True
        ):
            words = f"{time:%H:%M} {convert(float(metres), depth_unit):.1f}"
            half = LETTER * len(words) / 2
            middle = float(np.clip(x, self.at.left + half, self.at.right - half))
            further = 14 * (middle - half < taken[high])  # a second high water soon after the first
            taken[high] = middle + half
            place = float(y(convert(float(metres), depth_unit)))
            place += -6 - further if high else 15 + further
            yield Words(middle, place, words, 12, "middle")

    def arrows(self, table: pd.DataFrame) -> Iterator[Part]:
        """Draw arrows toward which the water runs, north up, each hour."""
        local = to_local(self.times, self.timezone)
        toward = table["current_toward_deg"].to_numpy(float)
        known = np.isfinite(toward) & np.isfinite(table["current_mps"].to_numpy(float))
        for i in np.flatnonzero((local.minute == 30) & known):
            place = float(self.x(self.times[i])), self.top + self.at.speeds[1] - 14
            yield from arrow(place, float(toward[i]), 9.0, back=9.0, head=5.0, width=1.0)

    def bars(self, windows: pd.DataFrame) -> Iterator[Part]:
        for row in windows.itertuples():
            colour = MARKS[WINDOWS[str(row.kind)][0]].colour
            yield self.across(row.start, row.end, self.at.bars, fill=colour, title=str(row.words))
        y, across = self.top + self.at.bars[1], min(510.0, self.at.wide)
        begin = self.at.left
        for share, (look, words) in zip(KEY_AT, WINDOWS.values(), strict=True):
            begin = max(begin, self.at.left + share * across)
            if begin + 18 + LETTER * len(words) > self.at.right + LETTER:
                begin, y = self.at.left, y + ROW
            yield Box(begin, y + 28, 12, 12, fill=MARKS[look].colour)
            yield Words(begin + 18, y + 39, words, 12)
            begin += 24 + LETTER * len(words)
