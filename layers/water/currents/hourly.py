"""Currents by hours from high water, as charts print them beside a tidal diamond."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar, Final, NamedTuple

import numpy as np

from layers.water.currents.currents import check_current, vector
from layers.water.heights._heights import Heights
from layers.water.heights.stage import turns
from layers.water.times import HOUR, as_utc, hours_between
from seabed.array_types import Floats, Mask, Pair, Times
from seabed.errors import SeabedError, WaterError
from seabed.tables.headings import plain, read_heading
from seabed.tables.text_layout import number
from seabed.tables.text_table import headings_of, read_text_table
from seabed.units import parse_speed

LIKE: Final = (
    "HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, HW+1 0.4 kn toward 160, HW+4 0.9 kn toward 160"
)
FURTHEST_HOURS: Final = 13.0
"""From high water: half of a daily tide."""
WIDEST_HOURS: Final = 4.0
"""In a wider gap between hours the current is unknown.  Our choice, no source."""
BLOCK: Final = np.timedelta64(4 * 24, "h")
MARGIN: Final = np.timedelta64(30, "h")
FORTNIGHT: Final = np.timedelta64(int(14.7653 * 86400) * 10**9, "ns")
"""From springs to springs."""
FORTNIGHTS: Final = 2
"""To either side of a day, over which its springs and neaps are averaged."""
FEWEST_TIDES: Final = 12
"""Of a fortnight whose springs and neaps count: it has some 28, or 14 where tides are daily."""
_HOUR: Final = re.compile(r"HW\s*(?:([+\-−–])\s*(\d{1,2}(?:[.,]\d+)?)\s*h?)?\s*:?\s+(.+)", re.I)
_RATE: Final = re.compile(
    r"(\d+(?:[.,]\d+)?)(?:\s*/\s*(\d+(?:[.,]\d+)?))?\s*([a-z/]+)\s+(?:to|towards?)\s+"
    r"(\d{1,3}(?:\.\d+)?)\s*°?", re.I,
)  # fmt: skip
_COLUMNS: Final = {
    "hours": ("hours", "hour", "hours from high water", "hours from hw", "hw"),
    "toward": ("toward", "towards", "direction", "dir", "set"),
    "springs": ("springs", "spring", "sp", "spring rate", "speed", "rate"),
    "neaps": ("neaps", "neap", "np", "neap rate"),
}


class HourRate(NamedTuple):
    """The current at one hour from high water: m/s at springs and at neaps, degrees true."""

    hours: float
    springs_mps: float
    neaps_mps: float
    toward_deg: float


@dataclass(frozen=True, slots=True)
class HourlyCurrents:
    """A current by hours from high water, between neaps and springs by the range of the tide.

    Between hours, east and north go straight; between and beyond the rates of springs and neaps,
    the rate goes straight with the range of the tide on either side of its high water: the hand
    method that is common practice with such tables (from memory, no source).  Springs and neaps are
    the two greatest and the two least ranges of each fortnight around.

    rates: in order of hours; springs and neaps are the same where one rate is given.
    heights: the tide whose high waters the hours count from.
    """

    rates: tuple[HourRate, ...]
    heights: Heights
    everywhere: ClassVar[bool] = True
    _blocks: dict[int, tuple[Times, Floats]] = field(default_factory=dict, compare=False)

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s; NaN further from high water than the hours that are given."""
        moments = as_utc(times)
        flow = np.full((moments.size, 2), np.nan)
        blocks = moments.ravel().astype("datetime64[h]").astype(np.int64) // int(BLOCK / HOUR)
        for block in np.unique(blocks[~np.isnat(moments.ravel())]):
            here = blocks == block
            flow[here] = self._between(int(block), moments.ravel()[here])
        return flow[:, 0].reshape(moments.shape), flow[:, 1].reshape(moments.shape)

    def _between(self, block: int, moments: Times) -> Floats:
        if block not in self._blocks:
            self._blocks[block] = self._events(block)
        at, flow = self._blocks[block]
        if len(at) < 2:
            return np.full((len(moments), 2), np.nan)
        hours, known = hours_between(at[0], moments), hours_between(at[0], at)
        after = np.clip(np.searchsorted(known, hours), 1, len(at) - 1)
        near = (hours >= known[0]) & (hours <= known[-1])
        near &= (known[after] - known[after - 1] <= WIDEST_HOURS) | np.isin(hours, known)
        mixed = np.stack([np.interp(hours, known, part) for part in flow.T], axis=1)
        return np.where(near[:, None], mixed, np.nan)

    def _events(self, block: int) -> tuple[Times, Floats]:
        """Give moments at whole hours from each high water of a block, and the current then."""
        start = np.datetime64(0, "ns") + block * BLOCK
        begin, end = start - MARGIN, start + BLOCK + MARGIN
        tide = turns(self.heights, begin, end)
        high = tide["high"].to_numpy(bool)
        highs = as_utc(tide["time"])[high]
        if not len(highs):
            return highs, np.empty((0, 2))
        rates = np.array(self.rates)
        share = np.ones(len(highs))
        if (rates[:, 1] != rates[:, 2]).any():
            neaps, springs = self._levels(start)
            share = (_ranges(tide["height_m"].to_numpy(float), high) - neaps) / (springs - neaps)
        speed = np.maximum(rates[:, 2] + share[:, None] * (rates[:, 1] - rates[:, 2]), 0.0)
        flow = np.stack(vector(speed, rates[:, 3]), axis=-1)
        at = highs[:, None] + (rates[:, 0] * 3.6e12).astype("timedelta64[ns]")
        # an hour that is nearer to another high water is that one's
        own = np.argmin(np.abs(at[..., None] - highs), axis=-1) == np.arange(len(highs))[:, None]
        own &= np.isfinite(speed)
        order = np.argsort(at[own])
        return at[own][order], flow[own][order]

    def _levels(self, start: np.datetime64) -> tuple[float, float]:
        """Give the range of the tide at neaps and at springs in the weeks around a moment."""
        reach = FORTNIGHTS * FORTNIGHT
        near = turns(self.heights, start - reach, start + reach)
        high = near["high"].to_numpy(bool)
        ranges, times = _ranges(near["height_m"].to_numpy(float), high), as_utc(near["time"])[high]
        fortnights = (times - times[:1]) // FORTNIGHT
        parts = [
            np.sort(ranges[fortnights == number])
            for number in range(int((times[-1] - times[0]) // FORTNIGHT) if len(times) else 0)
        ]
        parts = [part for part in parts if len(part) >= FEWEST_TIDES]
        neaps = float(np.mean([part[:2].mean() for part in parts])) if parts else 0.0
        springs = float(np.mean([part[-2:].mean() for part in parts])) if parts else 0.0
        if not springs > neaps:
            raise WaterError(
                "rates at springs and at neaps take the tide heights of a whole fortnight, and "
                "there are fewer around that day",
                do="Name heights of more days, or give one rate an hour.",
            )
        return neaps, springs


def _ranges(height: Floats, high: Mask) -> Floats:
    """Give the range of the tide about each high water: the mean of its rise and its fall."""
    fall = np.abs(np.diff(height))
    sides = np.stack([np.append(np.nan, fall), np.append(fall, np.nan)])
    known = np.isfinite(sides).sum(axis=0)
    mean = np.divide(
        np.nansum(sides, axis=0), known, out=np.full(len(height), np.nan), where=known > 0
    )
    return np.asarray(mean[high], np.float64)


def are_hours(words: str) -> bool:
    """Whether words mean to be a current by hours from high water."""
    return re.match(r"\s*HW\b", words, re.IGNORECASE) is not None


def parse_hours(words: str, heights: Heights | None) -> HourlyCurrents:
    """Read a current by hours from high water.

    words: ``"HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, ..."``; with rates at springs and at
        neaps, ``"HW-5 0.8/0.4 kn toward 340, ..."``.
    """
    rates = []
    for part in re.split(r"[,;]\s*(?=HW\b)", words.strip().rstrip(",;"), flags=re.IGNORECASE):
        hour = _HOUR.fullmatch(part.strip())
        rate = _RATE.fullmatch(hour[3].strip()) if hour else None
        if hour is None or rate is None:
            raise WaterError(
                f"can't read the current {part.strip()!r}", do=f"Write it like {LIKE}."
            )
        hours = number(hour[2] or "0") * (-1.0 if hour[1] not in (None, "+") else 1.0)
        springs, neaps = (parse_speed(f"{one} {rate[3]}") for one in (rate[1], rate[2] or rate[1]))
        rates.append(HourRate(hours, springs, neaps, float(rate[4])))
    return _hourly(rates, heights, file=None)


def has_hours(path: Path) -> bool:
    """Whether a table has a column of hours from high water."""
    return {"hours", "toward", "springs"} <= set(headings_of(path, _meanings, error=WaterError)[1])


def read_hours(path: Path, heights: Heights | None, *, unit: str = "") -> HourlyCurrents:
    """Read a table of ``hours`` from high water, ``toward``, ``springs_kn`` and ``neaps_kn``."""
    table = read_text_table(path, _meanings, error=WaterError)
    rates = []
    for i, hours in enumerate(table.words("hours") or []):
        value = number(re.sub(r"^\s*HW\s*", "", hours.replace("−", "-"), flags=re.I) or "0")
        toward = number((table.words("toward") or [])[i].rstrip(" °"))
        if np.isnan(value) or np.isnan(toward):
            table.refuse(i, f"{hours!r} and its direction are not two numbers", meaning="hours",
                         do="Write hours like -3 or HW-3, and degrees true.")  # fmt: skip
        springs = _speed(table, "springs", i, unit)
        neaps = springs if table.words("neaps") is None else _speed(table, "neaps", i, unit)
        rates.append(HourRate(value, springs, neaps, toward))
    return _hourly(rates, heights, file=path)


def _speed(table: Any, meaning: str, i: int, unit: str) -> float:
    word = table.words(meaning)[i]
    try:
        return parse_speed(word, default=table.unit(meaning) or unit or None)
    except SeabedError as error:
        table.refuse(
            i, error.what, meaning=meaning, do=f"Name the unit in the heading, like {meaning}_kn."
        )
        raise


def _meanings(headings: Sequence[str]) -> list[str | None]:
    names = [plain(read_heading(heading).name) for heading in headings]
    return [
        next((meaning for meaning, known in _COLUMNS.items() if name in known), None)
        for name in names
    ]


def _hourly(rates: list[HourRate], heights: Heights | None, *, file: Path | None) -> HourlyCurrents:
    for one in rates:
        check_current(max(one.springs_mps, one.neaps_mps), f"HW{one.hours:+g}")
    hours = [one.hours for one in rates]
    wrong = None
    if len(rates) < 2:
        wrong = "one hour from high water is no current of a tide"
    elif sorted(set(hours)) != hours:
        wrong = "the hours from high water are not in order, each once"
    elif any(abs(one.hours) > FURTHEST_HOURS or not 0 <= one.toward_deg <= 360 for one in rates):
        wrong = "an hour is further than 13 from high water, or a direction beyond 360 degrees"
    elif any(one.neaps_mps > one.springs_mps for one in rates):
        wrong = "a rate at neaps is faster than that at springs"
    if wrong is not None:
        raise WaterError(wrong, file=file, do=f"Write it like {LIKE}; 1.2/0.6 kn is springs/neaps.")
    if heights is None:
        raise WaterError(
            "hours from high water need the tide that they count from",
            file=file,
            do="Name it with {water.heights}.",
        )
    return HourlyCurrents(tuple(rates), heights)
