"""Pieces of the day, and every drift that could be made in each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.planning.drift._candidates import (
    Candidates,
    DriftLimits,
    cut_off,
    joined,
    starts_over,
)
from layers.planning.drift._setting import Setting
from layers.planning.ground._hot_stretches import hot_stretches_at, worth_over_hot
from layers.planning.ground.proven_lines import (
    ProvenLine,
    setting_for,
    setting_over,
    starts_on,
    tide_hour,
)
from layers.water import OpenHours
from layers.water.times import seconds_between, span
from seabed.array_types import Ints, Pair
from seabed.errors import SeabedError

SLOT_S: Final = 2700.0
"""Time spent on one line before the next.  Common practice, no source."""

WHOLE_SPAN_S: Final = 1e9
"""A slot of this length is a whole span of open hours."""

TRIED_STEP_S: Final = 60.0
"""Drifts are tried in steps of a minute, and followed in finer ones once they are chosen."""

WorthAt = Callable[[np.datetime64], xr.DataArray]
"""From a UTC moment to the worth of an hour over each cell then."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A piece of the day, and every drift that could be made in it.

    out_from, home_by: the hours about it within the boat's limits, UTC: no run begins before them,
        and no pass or run ends after them.
    worth: over each cell in its middle, hot stretches counted.
    hot_stretches: those that the water runs over as it did then.
    proven: lines of the logbook over which the tide then runs as it did.
    of_line, shape (n,): which of them each candidate drifts again, in their water; -1 for none.
    to_cover: whether ground not yet passed comes first in it.
    """

    begin: np.datetime64
    lasts_s: float
    out_from: np.datetime64
    home_by: np.datetime64
    worth: xr.DataArray
    hot_stretches: gpd.GeoDataFrame | None
    candidates: Candidates
    proven: tuple[ProvenLine, ...]
    of_line: Ints
    to_cover: bool = False

    @property
    def end(self) -> np.datetime64:
        """When it is over, UTC."""
        return self.begin + span(self.lasts_s)

    def line_of(self, row: int) -> ProvenLine | None:
        """Give the line that a candidate drifts again."""
        place = int(self.of_line[row])
        return self.proven[place] if place >= 0 else None


def worth_of(worth: xr.DataArray | WorthAt, time: np.datetime64) -> xr.DataArray:
    """Give the worth at a moment, of one that changes or one that does not."""
    return worth if isinstance(worth, xr.DataArray) else worth(time)


def slots_of_day(
    setting: Setting,
    worth: xr.DataArray | WorthAt,
    start: np.datetime64,
    end: np.datetime64,
    *,
    slot_s: float = SLOT_S,
    spacing_m: float = 40.0,
    stretches: gpd.GeoDataFrame | None = None,
    corridor_m: float = 40.0,
    proven: Sequence[ProvenLine] = (),
    hours: OpenHours | None = None,
) -> list[Slot]:
    """Try every drift in each slot from `start` to `end`; arguments as `plan_day`.

    Slots are within the spans of `hours`; those in which nothing is worth anything are left out.
    """
    if not end > start:
        raise SeabedError("the plan ends before it starts", do="Give a later end.")
    hours = hours or OpenHours.whole(start, end)
    pieces = [
        (begin, lasts_s, around)
        for span, around in zip(hours.spans, hours.around, strict=True)
        for begin, lasts_s in _pieces(*span, slot_s, setting.limits.shortest_s)
    ]

    def slot(
        begin: np.datetime64, lasts_s: float, around: tuple[np.datetime64, np.datetime64]
    ) -> Slot | None:
        middle = begin + np.timedelta64(int(lasts_s * 5e8), "ns")
        ground, hot = worth_of(worth, middle), None
        if stretches is not None and len(stretches):
            hot = hot_stretches_at(stretches, setting.water.currents, middle)
            ground = worth_over_hot(ground, hot, corridor_m)
        if not (ground.values > 0).any() and callable(worth):
            return None
        hour = tide_hour(middle, setting.safe.heights) if proven else None
        now = tuple(line for line in proven if line.runs_at(middle, setting.water.currents, hour))
        tried = _all_tried(ground, setting, begin, lasts_s, now=now, spacing_m=spacing_m)
        of_line = np.repeat(np.arange(-1, len(now)), [len(one.last) for one in tried])
        return Slot(begin, lasts_s, *around, ground, hot, joined(tried), now, of_line)

    with ThreadPoolExecutor(2) as threads:  # the inner loops let go of the interpreter
        return [one for one in threads.map(lambda piece: slot(*piece), pieces) if one is not None]


def to_be_covered(slots: Sequence[Slot], which: Sequence[bool]) -> list[Slot]:
    """Mark slots in which ground not yet passed comes first, and join those that follow on."""
    marked: list[Slot] = []
    for slot, to_cover in zip(slots, which, strict=True):
        last = marked[-1] if marked and to_cover and marked[-1].to_cover else None
        if last is not None and (last.end, last.home_by) == (slot.begin, slot.home_by):
            marked[-1] = replace(last, lasts_s=last.lasts_s + slot.lasts_s)
        else:
            marked.append(replace(slot, to_cover=to_cover))
    return marked


def _all_tried(
    ground: xr.DataArray,
    setting: Setting,
    begin: np.datetime64,
    lasts_s: float,
    *,
    now: Sequence[ProvenLine],
    spacing_m: float,
) -> list[Candidates]:
    """Try starts all over the ground, then those on each line that the water runs along now."""
    limits = replace(setting.limits, longest_s=min(setting.limits.longest_s, lasts_s))
    over_all = starts_over(ground, spacing_m, reach_m=4 * spacing_m)
    over_lines = [
        _tried(ground, setting_over(line, setting), begin, limits, starts_on(line)) for line in now
    ]
    return [_tried(ground, setting, begin, limits, over_all), *over_lines]


def rest_of(slot: Slot, begin: np.datetime64, setting: Setting) -> Slot | None:
    """Try the starts of a slot again from a later time to its end; None if that is too short."""
    lasts_s = float(seconds_between(begin, slot.end))
    if lasts_s < setting.limits.shortest_s:
        return None
    limits = replace(setting.limits, longest_s=min(setting.limits.longest_s, lasts_s))
    start = slot.candidates.tracks.longitude[:, 0], slot.candidates.tracks.latitude[:, 0]
    there = np.isfinite(start[0])
    kinds, tried = np.unique(slot.of_line[there]), []
    for kind in kinds:
        own = (slot.of_line == kind) & there
        over = setting_for(slot.proven[kind] if kind >= 0 else None, setting)
        tried.append(_tried(slot.worth, over, begin, limits, (start[0][own], start[1][own])))
    if not tried:
        return None
    of_line = np.repeat(kinds, [len(one.last) for one in tried])
    return replace(slot, begin=begin, lasts_s=lasts_s, candidates=joined(tried), of_line=of_line)


def _tried(
    ground: xr.DataArray,
    setting: Setting,
    begin: np.datetime64,
    limits: DriftLimits,
    starts: Pair,
) -> Candidates:
    begins = np.full(len(starts[0]), begin)
    tracks = setting.drifts(*starts, begins, limits.longest_s, step_s=TRIED_STEP_S, depths=False)
    return cut_off(ground, tracks, limits)


def _pieces(
    start: np.datetime64, end: np.datetime64, slot_s: float, shortest_s: float
) -> list[tuple[np.datetime64, float]]:
    """When each slot begins and how many seconds it lasts.

    The last is as short as `end` wants; one too short for a drift is none.
    """
    whole_s = float(seconds_between(start, end))
    first = start.astype("datetime64[ns]")
    begins_s = np.arange(0.0, whole_s, slot_s)
    lasts_s = np.minimum(slot_s, whole_s - begins_s)
    return [
        (first + span(begin_s), float(lasts))
        for begin_s, lasts in zip(begins_s, lasts_s, strict=True)
        if lasts >= shortest_s
    ]
