"""A pass over a line, followed at its own hour; and whether it can be made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from layers.planning.day._slack import SameTide, same_tide
from layers.planning.day.slots import Slot
from layers.planning.drift._candidates import worth_rates
from layers.planning.drift._drift import DriftTracks
from layers.planning.drift._fan import too_many_stopped
from layers.planning.drift._hand import Printed
from layers.planning.drift._setting import Setting
from layers.planning.ground._hot_stretches import SAME_WAY_DEG
from layers.planning.ground.proven_lines import setting_for
from layers.water.times import HOUR, seconds_between, span
from seabed.array_types import Floats
from seabed.geodesy import bearing_deg
from seabed.units import half_turned

Place = tuple[float, float]
"""Longitude and latitude, degrees."""

STILL_GOOD: Final = 0.7
"""A pass is worth making while an hour of it is worth this share of what was planned for its slot.
Our choice, no source."""

LONGEST_TIDE: Final = 14 * HOUR
"""Diurnal currents run about twelve hours each way."""


_Water = tuple[str, float | None]
"""The line that is drifted again, and the course that is held."""

_Key = tuple[float, float, np.datetime64, np.datetime64, _Water]

ROUNDS: Final = 3


@dataclass(frozen=True, slots=True)
class Course:
    """The way a line is drifted, degrees true, and how long the water over it keeps to it."""

    bearing_deg: float
    tide: SameTide

    def holds(self, bearing_deg: Any, begin: Any, drift_s: float) -> Any:
        """Whether drifts, one or arrays of them, run the same way in the same tide."""
        same_way = np.abs(half_turned(bearing_deg - self.bearing_deg)) <= SAME_WAY_DEG
        return same_way & self.tide.holds(begin, drift_s)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A drift that was chosen for a slot.

    row: of its candidate.
    earliest: when its first pass may begin, UTC.
    followed: whether there is a line in the next slot, which begins at once: a pass may then run
        over the end of its own slot by half of itself.
    """

    slot: Slot
    row: int
    earliest: np.datetime64
    followed: bool

    @property
    def last(self) -> int:
        """Index of the last point of the candidate's drift."""
        return int(self.slot.candidates.last[self.row])

    @property
    def drift_s(self) -> float:
        """Seconds of a pass."""
        times = self.slot.candidates.tracks.times
        return float(seconds_between(times[0], times[self.last]))

    @property
    def points(self) -> Floats:
        """Longitude and latitude along the candidate's drift, shape (n, 2)."""
        return _points(self.slot.candidates.tracks, self.row, self.last)

    @property
    def planned_worth(self) -> float:
        """Worth of an hour, as it was chosen."""
        return float(self.slot.candidates.worth_per_hour[self.row])

    @property
    def bearing_deg(self) -> float:
        """Bearing from its first point to its last, degrees true."""
        points = self.points
        return float(bearing_deg(*points[0], *points[-1]))

    def in_time(self, begin: np.datetime64) -> bool:
        """Whether a pass that begins then ends in time."""
        share = 0.5 if self.followed else 1.0
        ends = begin + span(share * self.drift_s)
        return bool(ends <= self.slot.end)


@dataclass(frozen=True, slots=True)
class Pass:
    """A drift over a line at its own hour.

    way: 0 on the line itself; else which of the ways beside it, from 1.
    tracks: of one boat, whole, its points even in time.
    worth: of an hour of drifting, running straight back and setting up.
    """

    wanted: Wanted
    way: int
    setting: Setting
    tracks: DriftTracks
    worth: float

    @property
    def begin(self) -> np.datetime64:
        """When it begins, UTC."""
        begin: np.datetime64 = self.tracks.times[0]
        return begin

    @property
    def end(self) -> np.datetime64:
        """When it ends, UTC."""
        end: np.datetime64 = self.tracks.times[-1]
        return end

    @property
    def points(self) -> Floats:
        """Longitude and latitude along it, shape (n, 2)."""
        return _points(self.tracks)

    def course(self) -> Course:
        """Give the way it runs, and how long the water over it keeps to it."""
        points, bearing = self.points, float(bearings_of(self.tracks)[0])
        tide = same_tide(
            self.setting.water.currents, points[[0, len(points) // 2, -1]], bearing,
            self.begin, self.begin + LONGEST_TIDE,
        )  # fmt: skip
        return Course(bearing, tide)


def follow_pass(
    wanted: Wanted,
    start: Place,
    begin: np.datetime64,
    setting: Setting,
    *,
    course: Course | None,
    way: int,
) -> Pass | None:
    """Follow a pass from a place at its own hour, UTC.

    course: of the line's first pass; none for the first itself.  way: as `Pass`.
    Returned: None where it can't be made: the boat is stopped or not held, it is worth less than
        `STILL_GOOD` of what was planned for the slot (beside a line it may be), runs another way
        than the line's first, or the water over it turns before it ends.
    """
    over = setting_for(wanted.slot.line_of(wanted.row), setting)
    even_s = wanted.drift_s / np.ceil(wanted.drift_s / over.limits.step_s)
    tracks = over.drifts(
        np.array([start[0]]), np.array([start[1]]), np.array([begin]), wanted.drift_s,
        step_s=even_s,
    )  # fmt: skip
    if not np.isfinite(tracks.longitude).all():
        return None
    ground = wanted.slot.worth
    worth = float(worth_rates(ground, tracks, over.limits)[0, -1])
    if way == 0 and not worth >= STILL_GOOD * wanted.planned_worth:
        return None
    one = Pass(wanted, way, over, tracks, worth)
    same = (course or one.course()).holds(bearings_of(tracks)[0], begin, wanted.drift_s)
    return one if same else None


def bearings_of(tracks: DriftTracks) -> Floats:
    """Bearing from the first to the last point of each track, degrees true; NaN if it ended."""
    first, last = ((tracks.longitude[:, at], tracks.latitude[:, at]) for at in (0, -1))
    return np.asarray(bearing_deg(*first, *last))


def _points(tracks: DriftTracks, row: int = 0, last: int | None = None) -> Floats:
    along = slice(None if last is None else last + 1)
    return np.column_stack([tracks.longitude[row, along], tracks.latitude[row, along]])


class PassFans:
    """Fans of passes.

    A day is laid out in the hope that no pass is refused; the fans of all its passes are then
    followed at once, which costs little more than one; and it is laid out again without those from
    which too many boats are stopped.  After a few such rounds each pass is checked as it comes;
    with `as_they_come` from the first on.
    """

    def __init__(self, *, as_they_come: bool = False) -> None:
        self._known: dict[_Key, DriftTracks] = {}
        self._rounds = ROUNDS + 1 if as_they_come else 0

    def refuses(self, one: Pass) -> bool:
        """Whether too many boats of a pass are stopped; no, while its fan is not known."""
        if self._rounds > ROUNDS:
            self._follow([one])
        boats = self._known.get(_key(one))
        return boats is not None and too_many_stopped(boats)

    def agree(self, passes: Iterable[Pass]) -> bool:
        """Follow the fans of a day's passes; whether none of them is refused."""
        every = list(passes)
        self._follow(every)
        self._rounds += 1
        return not any(self.refuses(one) for one in every)

    def of(self, one: Pass) -> DriftTracks:
        """Give the fan of a pass."""
        self._follow([one])
        return self._known[_key(one)]

    def _follow(self, passes: Iterable[Pass]) -> None:
        """Follow the fans that are not known, at once those in the same water."""
        waters: dict[_Water, dict[_Key, Pass]] = defaultdict(dict)
        for one in passes:
            if _key(one) not in self._known:
                waters[_water_of(one)][_key(one)] = one
        for own in waters.values():
            setting = next(iter(own.values())).setting
            printed = Printed.joined([_printed(one) for one in own.values()])
            self._known.update(zip(own, setting.fans(printed), strict=True))


def _key(one: Pass) -> _Key:
    longitude, latitude = one.points[0]
    return float(longitude), float(latitude), one.begin, one.end, _water_of(one)


def _water_of(one: Pass) -> _Water:
    line = one.wanted.slot.line_of(one.wanted.row)
    return "" if line is None else line.name, one.setting.water.along_deg


def _printed(one: Pass) -> Printed:
    times = one.tracks.times
    return one.setting.water.printed(one.tracks, np.array([len(times) - 1]), times[:1])
