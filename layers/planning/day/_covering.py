"""Without knowledge of the fish: ground not yet passed first, while it is worth its time.

A pass over ground finds what is there with a chance that falls from pass to pass, by the law of
random search (Koopman 1956).  Which drift comes next, and where it ends, is what gives most worth
for the time from now to its end: running there, settling and drifting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import xarray as xr
from scipy.ndimage import uniform_filter

from layers.planning.day._passes import Pass, Place, Wanted
from layers.planning.day.choice import LEFT_AFTER_A_DRIFT, use_up
from layers.planning.day.slots import TRIED_STEP_S, Slot
from layers.planning.drift._candidates import Candidates, joined, worth_rates
from layers.planning.drift._setting import Setting
from layers.planning.ground.proven_lines import ProvenLine, setting_for
from layers.water.motion import set_and_drift
from layers.water.times import seconds_between
from seabed.array_types import Floats, Ints, Mask
from seabed.geodesy import ahead, local_metres
from seabed.grid import cell_size, degree_bounds

LONGEST_S: Final = 3600.0
"""No drift is planned longer.  Our choice, no source."""

DETOUR: Final = 1.2
"""A run counts as this many times its straight way before it is sought.  Our choice."""

REFINED: Final = 6
AROUND_M: Final = np.arange(-60.0, 61.0, 20.0)
"""About this many of the best starts others are tried, at these metres to each side."""

KEPT: Final = 30

GOOD: Final = 0.6
"""A drift begins where ground is worth this share of the best.  Our choice, no source."""

OFF_THE_WATER_DEG: Final = (-30.0, -15.0, 15.0, 30.0)
"""Courses that the motor holds, beside the water's own.  Our choice, no source."""


@dataclass(slots=True)
class Cover:
    """What to drift next on a day of passes over ground not yet passed.

    left: share of its worth that ground within the corridor keeps after each pass.
    """

    setting: Setting
    corridor_m: float
    left: float = LEFT_AFTER_A_DRIFT
    _known: dict[Any, list[Wanted]] = field(default_factory=dict)

    def best(
        self, slot: Slot, begin: np.datetime64, here: Place | None, passed: Sequence[Pass]
    ) -> list[Wanted]:
        """Give drifts to make next, the best first; none where too little of the slot is left.

        begin, here: when (UTC) and where the boat is free; None is at any start.
        passed: all passes made before.
        """
        key = begin, here, tuple((one.begin, *one.points[0]) for one in passed)
        if key not in self._known:
            self._known[key] = self._sought(slot, begin, here, passed)
        return self._known[key]

    def _sought(
        self, slot: Slot, begin: np.datetime64, here: Place | None, passed: Sequence[Pass]
    ) -> list[Wanted]:
        lasts_s = float(seconds_between(begin, slot.end))
        if lasts_s < self.setting.limits.shortest_s:
            return []
        fresh = np.ones(slot.worth.size)
        for one in passed:
            cells = one.tracks.cells[0]
            use_up(fresh, cells, slot.worth, corridor_m=self.corridor_m, left=self.left)
        ground = swept(slot.worth, fresh, self.corridor_m)
        tries = _Tries(
            self.setting, ground, begin, min(lasts_s, LONGEST_S), lasts_s, here,
            _courses(self.setting, begin),
        )  # fmt: skip
        tracks = slot.candidates.tracks
        starts = np.stack([tracks.longitude[:, 0], tracks.latitude[:, 0]])
        starts = starts[:, _good(ground, tracks.cells[:, 0])]
        tried = tries.of(*starts)
        best = np.argsort(-tried.worth_per_hour, kind="stable")[:REFINED]
        first = tried.tracks.of(best)
        east, north = (part.ravel() for part in np.meshgrid(AROUND_M, AROUND_M))
        angle, metres = np.degrees(np.arctan2(east, north)), np.hypot(east, north)
        around = [
            ahead(np.full(metres.shape, x), np.full(metres.shape, y), angle, metres)
            for x, y in zip(first.longitude[:, 0], first.latitude[:, 0], strict=True)
        ]
        tried = tries.of(*np.concatenate(around, axis=1)) if around else tried
        rows = _unlike(tried, len(AROUND_M) // 2 * 20.0)
        few, last = tried.tracks.of(rows), tried.last[rows]
        worth = worth_rates(slot.worth, few, self.setting.limits)
        courses = 1 + len(tries.courses)
        rest = replace(
            slot, begin=begin, lasts_s=lasts_s, proven=tries.courses,
            candidates=Candidates(few, last, worth[np.arange(len(rows)), last]),
            of_line=rows // max(len(tried.last) // courses, 1) - 1,
        )  # fmt: skip
        return [Wanted(rest, row, begin, followed=False) for row in range(len(rows))]


def _courses(setting: Setting, begin: np.datetime64) -> tuple[ProvenLine, ...]:
    """Give courses to hold beside the water's own: an edge is seldom drawn along the water."""
    if setting.water.held_mps is None:
        return ()
    middle = degree_bounds(setting.safe.grid).middle
    water = setting.water.currents.velocity(np.array([begin]), *np.array([middle]).T)
    toward = float(set_and_drift(*water)[0][0])
    if not np.isfinite(toward):
        return ()
    return tuple(ProvenLine.of_course(toward + angle) for angle in OFF_THE_WATER_DEG)


def _good(ground: xr.DataArray, cells: Ints) -> Mask:
    """Say which starts are on the better part of the ground."""
    value = np.where(cells >= 0, ground.values.ravel()[cells], 0.0)
    return np.asarray(value > GOOD * value.max(initial=0.0), np.bool_)


def _unlike(tried: Candidates, apart_m: float) -> Ints:
    """Keep the best drifts that neither begin nor end near those of a better one.

    Where one goes too near a hazard, one close by does too.
    """
    ends = np.stack([tried.tracks.longitude, tried.tracks.latitude])
    rows = np.argsort(-tried.worth_per_hour, kind="stable")
    rows = rows[tried.worth_per_hour[rows] > 0]
    ends = np.stack([ends[:, rows, 0], ends[:, rows, tried.last[rows]]])
    kept: list[int] = []
    free = np.ones(len(rows), bool)
    while free.any() and len(kept) < KEPT:
        place = int(np.argmax(free))
        kept.append(int(rows[place]))
        near = [
            np.hypot(*local_metres(*end, centre=tuple(end[:, place]))) <= apart_m for end in ends
        ]
        free &= ~(near[0] & near[1])
    return np.array(kept, np.int64)


def swept(worth: xr.DataArray, fresh: Floats, corridor_m: float) -> xr.DataArray:
    """Give the mean of what is left within the corridor of each cell; 0 where a cell has no worth.

    What a pass uses up is what it is made for; and lines fish nothing off the band.
    """
    width = 2 * max(1, round(corridor_m / cell_size(worth).typical)) + 1
    left = np.nan_to_num(worth.values) * fresh.reshape(worth.shape)
    mean = uniform_filter(left.astype(np.float32), size=width, mode="constant")
    return worth.copy(data=np.where(worth.values > 0, mean, np.float32(0.0)))


@dataclass(frozen=True, slots=True)
class _Tries:
    """Drifts tried from a moment on, over ground as fresh as it then is."""

    setting: Setting
    ground: xr.DataArray
    begin: np.datetime64
    longest_s: float
    lasts_s: float
    here: Place | None
    courses: tuple[ProvenLine, ...]

    def of(self, longitude: Floats, latitude: Floats) -> Candidates:
        """Follow starts on the water's own course, then on each of the others.

        Each is cut off where worth an hour, from now to the drift's end, is greatest.
        """
        idle_s = np.zeros(len(longitude))
        limits = self.setting.limits
        if self.here is not None:
            away_m = np.hypot(*local_metres(longitude, latitude, centre=self.here))
            idle_s = DETOUR * away_m / limits.running_mps
        ready_s = idle_s + (0.0 if self.here is None else limits.set_up_s)
        parts = []
        for course in (None, *self.courses):
            over = setting_for(course, self.setting)
            tracks = over.drifts(
                longitude, latitude, np.full(len(longitude), self.begin), self.longest_s,
                step_s=TRIED_STEP_S, depths=False,
            )  # fmt: skip
            gains = worth_rates(self.ground, tracks, limits, idle_s=idle_s)
            seconds = seconds_between(tracks.times[0], tracks.times)
            gains[:, seconds < limits.shortest_s] = 0.0
            gains[seconds[None, :] + ready_s[:, None] > self.lasts_s] = 0.0
            last = np.argmax(gains, axis=1)
            parts.append(Candidates(tracks, last, gains[np.arange(len(last)), last]))
        return joined(parts)
