"""Stretches of one state, and where exactly they meet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from layers.tracks.motion import local_lines, smoothing_s
from layers.tracks.settings import CutSettings
from seabed.array_types import Floats, Pair
from seabed.compiled import compiled

RUN, DRIFT, HOLD, GAP, NOTHING = range(5)


_MOVE_S: Final = 60.0  # farthest that a bound is moved
_REACH_S: Final = {RUN: 20.0, DRIFT: 60.0, HOLD: 90.0}  # how much of a neighbour is looked at
_REACH_FIXES: Final = 3.5  # at the least, where fixes are far apart
_TRY_S: Final = 2.0
_STRAY_RADII: Final = 2.0  # a hold that ends this many radii away had a drift in it
_STRAY_GAIN: Final = 0.5  # and the drift must explain half of the scatter


@dataclass(frozen=True, slots=True)
class Path:
    """Fixes without a gap: seconds and metres, shape (n,); and the noise they had, metres."""

    time_s: Floats
    x: Floats
    y: Floats
    noise_m: float = 0.0

    def between(self, start: float, end: float) -> Path:
        """Take the fixes from one moment to another; at least two."""
        first = int(np.searchsorted(self.time_s, start))
        last = int(np.searchsorted(self.time_s, end, side="right"))
        if last - first < 2:
            first, last = max(0, first - 1), min(len(self.time_s), last + 1)
        part = slice(first, last)
        return Path(self.time_s[part], self.x[part], self.y[part], self.noise_m)

    @property
    def spacing_s(self) -> float:
        """Usual time between fixes."""
        return float(np.median(np.diff(self.time_s)))

    @property
    def half_s(self) -> float:
        """Half the window over which noise hardly counts in speeds."""
        return smoothing_s(self.time_s, self.noise_m)

    def velocities(self, moments: Floats, half_s: float) -> Pair:
        """Velocities of straight motion around moments, m/s."""
        _, _, vx, vy = local_lines(self.time_s, self.x, self.y, moments, half_s)
        return vx, vy

    def thinned(self, moments: Floats, half_s: float) -> Path:
        """Positions of straight motion around moments."""
        x, y, _, _ = local_lines(self.time_s, self.x, self.y, moments, half_s)
        return Path(moments, x, y, self.noise_m)


@dataclass(frozen=True, slots=True)
class Spell:
    """A state from one moment to another; open where the track itself begins or ends there."""

    state: int
    start: float
    end: float
    open_start: bool = False
    open_end: bool = False

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.end - self.start

    def divided(self, states: NDArray[np.int8], kinds: tuple[int, int]) -> list[Spell]:
        """Divide into stretches of equal states, given evenly over it."""
        bounds = np.concatenate([[0], np.flatnonzero(np.diff(states)) + 1, [len(states)]])
        at = (self.start + self.seconds * bounds / len(states)).tolist()
        last = len(bounds) - 2
        return [
            Spell(
                kinds[states[bounds[i]]],
                at[i],
                at[i + 1],
                self.open_start and i == 0,
                self.open_end and i == last,
            )
            for i in range(last + 1)
        ]


def at_knees(path: Path, stretches: list[Spell], settings: CutSettings) -> list[Spell]:
    """Move the bounds between stretches to where the motion itself bends.

    No stretch is made shorter than its least duration by it, unless it is open at the other end.
    """
    moved = list(stretches)
    for i in range(len(moved) - 1):
        at = _knee(path, moved[i], moved[i + 1], settings)
        moved[i], moved[i + 1] = replace(moved[i], end=at), replace(moved[i + 1], start=at)
    return moved


def split_strays(path: Path, stretches: list[Spell], settings: CutSettings) -> list[Spell]:
    """Cut off the part of a hold that strays from its place: a slow drift to or from it."""
    split: list[Spell] = []
    for stretch in stretches:
        split.extend(
            _without_stray(path, stretch, settings) if stretch.state == HOLD else [stretch]
        )
    return split


def _knee(path: Path, one: Spell, two: Spell, settings: CutSettings) -> float:
    guess = one.end
    least_reach = _REACH_FIXES * path.spacing_s
    low = max(one.start, guess - max(_REACH_S[one.state], least_reach))
    high = min(two.end, guess + max(_REACH_S[two.state], least_reach))
    part = path.between(low, high)
    first = one.start + (0.0 if one.open_start else min(_least(one, settings), one.seconds))
    last = two.end - (0.0 if two.open_end else min(_least(two, settings), two.seconds))
    tries = np.arange(max(first, guess - _MOVE_S), min(last, guess + _MOVE_S), _TRY_S)
    if len(part.time_s) < 6 or not len(tries):
        return guess
    misfit, _ = broken_lines(
        part.time_s, part.x, part.y, tries, one.state != HOLD, two.state != HOLD
    )
    return float(tries[int(np.argmin(misfit))])


def _without_stray(path: Path, hold: Spell, settings: CutSettings) -> list[Spell]:
    least = settings.shortest_slow_s
    tries = np.arange(hold.start + least, hold.end - least, 5 * _TRY_S)
    if not len(tries):
        return [hold]
    moments = np.arange(hold.start + 5.0, hold.end, 10.0)
    part = path.between(hold.start, hold.end).thinned(moments, 5.0)
    still = float(np.var(part.x) + np.var(part.y)) * len(moments)
    leaves, away = broken_lines(part.time_s, part.x, part.y, tries, False, True)
    comes, nearer = broken_lines(part.time_s, part.x, part.y, tries, True, False)
    far, slowest = _STRAY_RADII * settings.hold_radius_m, settings.drift_speed_mps[0]
    i, j = int(np.argmin(leaves)), int(np.argmin(comes))
    at = float(tries[i] if leaves[i] <= comes[j] else tries[j])
    if leaves[i] <= comes[j] and leaves[i] < _STRAY_GAIN * still:
        if away[i] > max(slowest, far / (hold.end - at)):
            return [replace(hold, end=at, open_end=False), replace(hold, state=DRIFT, start=at)]
    elif comes[j] < _STRAY_GAIN * still and nearer[j] > max(slowest, far / (at - hold.start)):
        return [replace(hold, state=DRIFT, end=at), replace(hold, start=at, open_start=False)]
    return [hold]


@compiled
def broken_lines(  # noqa: PLR0917  (compiled functions take no keyword-only ones)
    time_s: Floats, x: Floats, y: Floats, knees: Floats, before: bool, after: bool
) -> Pair:
    """Fit motion that is straight before and after a knee, for each of the knees.

    before, after: whether the boat moves at all before (after) the knee.
    misfit, speed: sum of squared distances, m²; speed after the knee (before it, if it stops
        there).
    """
    misfit, speed = np.empty(knees.size), np.empty(knees.size)
    count = time_s.size
    mean_x, mean_y = x.mean(), y.mean()
    for i in range(knees.size):
        total, sum_x, sum_y = 0.0, 0.0, 0.0
        # Sums over the fixes before (b) and after (a) the knee; no fix is of both, which leaves
        # the normal equations an arrow that solves in closed form.
        b, bb, bx, by = 0.0, 0.0, 0.0, 0.0
        a, aa, ax, ay = 0.0, 0.0, 0.0, 0.0
        for k in range(count):
            since, px, py = time_s[k] - knees[i], x[k] - mean_x, y[k] - mean_y
            total += px * px + py * py
            sum_x += px
            sum_y += py
            if before and since < 0.0:
                b += since
                bb += since * since
                bx += since * px
                by += since * py
            elif after and since > 0.0:
                a += since
                aa += since * since
                ax += since * px
                ay += since * py
        per_b = 1.0 / bb if bb > 0.0 else 0.0
        per_a = 1.0 / aa if aa > 0.0 else 0.0
        weight = max(count - b * b * per_b - a * a * per_a, 1e-9)
        x0 = (sum_x - b * bx * per_b - a * ax * per_a) / weight
        y0 = (sum_y - b * by * per_b - a * ay * per_a) / weight
        vbx, vby = (bx - b * x0) * per_b, (by - b * y0) * per_b
        vax, vay = (ax - a * x0) * per_a, (ay - a * y0) * per_a
        explained = x0 * sum_x + y0 * sum_y + vbx * bx + vby * by + vax * ax + vay * ay
        misfit[i] = max(0.0, total - explained)
        speed[i] = math.hypot(vax, vay) if after else math.hypot(vbx, vby)
    return misfit, speed


def _least(stretch: Spell, settings: CutSettings) -> float:
    return {
        RUN: settings.shortest_run_s,
        DRIFT: settings.shortest_slow_s,
        HOLD: settings.shortest_hold_s,
    }[stretch.state]
