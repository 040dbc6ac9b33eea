"""Slow legs there and back: which of them the boat drifted, and on which it motored back up.

A boat that motors back at drifting speed leaves no run.  What it leaves are sharp reversals: the
set of the water never turns about within a minute.  Between them are legs, found along a local
axis, since the set itself turns slowly.  The slower way is the drift, the way that follows a run as
well; where both go at one speed, every leg counts as a drift and the cut says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

import numpy as np

from layers.tracks.settings import CutSettings
from layers.tracks.spells import DRIFT, RUN, Path, Spell, at_knees
from layers.tracks.viterbi import most_likely_states
from seabed.array_types import Floats

# Common practice, no source: tuned on simulated boats (benchmarks/worlds/boats.py).
_STEP_S: Final = 4.0
_AXIS_S: Final = 600.0  # either side, over which the axis of a place is the mean
_LEAST_S: Final = 16.0  # of a leg
_LEAST_RADII: Final = 1.0  # that a leg leads away, in radii of a hold
_BESIDE_S: Final = 45.0  # before and after a reversal, where the boat must go at half its pace
_LEAST_NOISES: Final = 2.0  # and of the receiver's noise
_STRAIGHT: Final = 0.6  # of the way that a leg made good, in steps of half a minute
_STRAIGHT_S: Final = 30.0
_REVERSED: Final = -0.5  # cosine between two legs, at most
_LEAST_REVERSALS: Final = 2
_MOSTLY: Final = 0.6
_FASTER: Final = 1.2  # by which returns must be faster than drifts
_CLEARLY: Final = 1.5  # by which they are where both ways are fast, or it is said
_FAST_MPS: Final = 0.65  # of the slower way
_AGREE: Final = 0.75  # share of neighbouring legs that must agree on which is faster


@dataclass(frozen=True, slots=True)
class Leg:
    """Straight on between two reversals: its stretch, velocity and whether it begins sharply."""

    stretch: Spell
    velocity: tuple[float, float]
    sharp: bool = False

    @property
    def speed(self) -> float:
        """Mean over the ground, m/s."""
        return float(np.hypot(*self.velocity))


def legs_of(path: Path, slow: Spell, half_s: float, settings: CutSettings) -> list[Leg]:
    """Divide a slow stretch where the boat turns about; one leg where it never does."""
    moments = np.arange(slow.start + _STEP_S / 2, slow.end, _STEP_S)
    if len(moments) < 2 * round(_LEAST_S / _STEP_S):
        return [_leg(path, slow)]
    vx, vy = path.velocities(moments, max(half_s, 10.0))
    onward = _along_axis(vx, vy, round(_AXIS_S / _STEP_S))
    pace = max(float(np.median(np.abs(onward))), 0.05)
    evidence = np.clip(onward / pace, -1.5, 1.5) * (_STEP_S / 10.0)
    least = np.full(2, max(1, round(_LEAST_S / _STEP_S)), np.int64)
    states = most_likely_states(np.column_stack([evidence, -evidence]), least, 2.0, True, True)
    least_m = _LEAST_RADII * settings.hold_radius_m + _LEAST_NOISES * path.noise_m
    parts = _far_enough(path, slow.divided(states, (DRIFT, RUN)), least_m)
    parts = at_knees(path, parts, settings)
    legs = [_leg(path, part) for part in parts]
    return [
        Leg(leg.stretch, leg.velocity, i > 0 and _turns_sharply(path, legs[i - 1], leg))
        for i, leg in enumerate(legs)
    ]


def labelled(
    stretches: Sequence[Sequence[Leg]], limit: float, settings: CutSettings
) -> tuple[list[list[Spell]], str]:
    """Say of the legs of each slow stretch of an outing which are drifts and which are returns.

    Legs faster than the limit between slow and under way are always runs.

    stretches: of state `DRIFT` or `RUN`; neighbours of state `DRIFT` are two drifts.
    doubt: what the track leaves open, a sentence; ``""`` for nothing.
    """
    grouped = [
        [(fast, list(legs)) for fast, legs in groupby(own, key=lambda leg: leg.speed > limit)]
        for own in stretches
    ]
    apart = [[(fast, _joined(legs)) for fast, legs in groups] for groups in grouped]
    reversals = sum(len(legs) - 1 for groups in apart for fast, legs in groups if not fast)
    many = any(
        len(legs) > _LEAST_REVERSALS for groups in apart for fast, legs in groups if not fast
    )
    doubts: set[str] = set()
    out = []
    for groups in apart:
        parts: list[Spell] = []
        for fast, legs in groups:
            alone = len(legs) <= _LEAST_REVERSALS and not many
            if fast or alone or reversals < _LEAST_REVERSALS:
                parts.append(_whole(legs, RUN if fast else DRIFT))
                continue
            own, doubt = _drifts_and_returns(legs, settings)
            parts += own
            doubts.add(doubt)
        out.append(parts)
    return out, " ".join(sorted(doubts - {""}))


def _drifts_and_returns(legs: Sequence[Leg], settings: CutSettings) -> tuple[list[Spell], str]:
    if settings.drift_toward_deg is not None:
        return _by_course(legs, settings.drift_toward_deg), ""
    first, doubt = _first_is_drift(legs)
    states = [DRIFT if first is None or i % 2 != first else RUN for i in range(len(legs))]
    return [replace(leg.stretch, state=own) for leg, own in zip(legs, states, strict=True)], doubt


def _first_is_drift(legs: Sequence[Leg]) -> tuple[bool | None, str]:
    """Whether the legs begin with a drift, by speed; None where speed does not decide."""
    if len(legs) < 2:
        return True, ""
    speed = np.log([leg.speed for leg in legs])
    step = np.diff(speed) * np.where(np.arange(len(legs) - 1) % 2, -1.0, 1.0)
    middle = float(np.median(step))
    if abs(middle) < np.log(_FASTER):
        return None, (
            "Slow legs there and back go at one speed: each counts as a drift. If one way is a "
            "return under motor, set {tracks.drift_toward} to where the drifts go."
        )
    if np.mean(step * np.sign(middle) > 0) < _AGREE:
        return None, (
            "Slow legs there and back change which way is faster, as where the tide turns: each "
            "counts as a drift. Write the returns as runs into a file of corrections."
        )
    if middle < 0 and not legs[0].stretch.open_start and len(legs) > 2 and len(legs) % 2:
        return None, (
            "The faster way comes first after a run, though a drift should: each slow leg counts "
            "as a drift. If one way is a return, set {tracks.drift_toward} to where they go."
        )
    slower = min(float(np.median(speed[i::2])) for i in range(2))
    if abs(middle) < np.log(_CLEARLY) and slower > np.log(_FAST_MPS):
        return middle > 0, (
            "Slow legs there and back are both fast: the faster way counts as the return. If it "
            "is not, set {tracks.drift_toward} to where the drifts go."
        )
    return middle > 0, ""


def _by_course(legs: Sequence[Leg], toward_deg: float) -> list[Spell]:
    way = np.array([np.sin(np.radians(toward_deg)), np.cos(np.radians(toward_deg))])
    return [
        replace(leg.stretch, state=DRIFT if np.dot(leg.velocity, way) >= 0 else RUN) for leg in legs
    ]


def _whole(legs: Sequence[Leg], state: int = DRIFT) -> Spell:
    first, last = legs[0].stretch, legs[-1].stretch
    return Spell(state, first.start, last.end, first.open_start, last.open_end)


def _joined(legs: Sequence[Leg]) -> list[Leg]:
    """Join legs that no sharp reversal parts, unless most of their neighbours are so parted."""
    sharp = sum(leg.sharp for leg in legs)
    if sharp >= _LEAST_REVERSALS and sharp >= _MOSTLY * (len(legs) - 1):
        return list(legs)
    joined: list[Leg] = []
    for leg in legs:
        if joined and not leg.sharp:
            before = joined.pop()
            whole = _whole([before, leg])
            share = before.stretch.seconds / max(whole.seconds, 1e-9)
            x, y = (
                share * one + (1 - share) * two
                for one, two in zip(before.velocity, leg.velocity, strict=True)
            )
            joined.append(Leg(whole, (x, y), before.sharp))
        else:
            joined.append(leg)
    return joined


def _along_axis(vx: Floats, vy: Floats, reach: int) -> Floats:
    """Speed along the local axis of motion, of one sign one way and of the other back."""
    double = (vx + 1j * vy) ** 2
    total = np.concatenate([[0.0], np.cumsum(double)])
    at = np.arange(len(vx))
    mean = total[np.minimum(at + reach + 1, len(vx))] - total[np.maximum(at - reach, 0)]
    angle = np.unwrap(np.angle(mean)) / 2.0
    return np.asarray(vx * np.cos(angle) + vy * np.sin(angle))


def _leg(path: Path, part: Spell) -> Leg:
    own = path.between(part.start, part.end)
    took = max(float(own.time_s[-1] - own.time_s[0]), 1.0)
    ends = [(values[-1] - values[0]) / took for values in (own.x, own.y)]
    return Leg(part, (float(ends[0]), float(ends[1])))


def _far_enough(path: Path, parts: list[Spell], least_m: float) -> list[Spell]:
    """Join legs that lead nowhere to the one before (the first to the one after)."""
    while len(parts) > 1:
        away = [leg.speed * leg.stretch.seconds for leg in (_leg(path, part) for part in parts)]
        short = int(np.argmin(away))
        if away[short] >= least_m:
            break
        first, last = max(short - 1, 0), min(short + 1, len(parts) - 1)
        state = parts[first if short else last].state
        joined = Spell(
            state, parts[first].start, parts[last].end, parts[first].open_start,
            parts[last].open_end,
        )  # fmt: skip
        parts = [*parts[:first], joined, *parts[last + 1 :]]
    return parts


def _turns_sharply(path: Path, before: Leg, after: Leg) -> bool:
    """Whether two legs turn about at once, each at half its pace or more beside the turn."""
    cosine = np.dot(before.velocity, after.velocity) / max(before.speed * after.speed, 1e-9)
    if cosine > _REVERSED:
        return False
    for leg, (start, end) in (
        (before, (max(before.stretch.start, before.stretch.end - _BESIDE_S), before.stretch.end)),
        (after, (after.stretch.start, min(after.stretch.end, after.stretch.start + _BESIDE_S))),
    ):
        near = _leg(path, Spell(DRIFT, start, end))
        if np.dot(near.velocity, leg.velocity) < 0.5 * leg.speed**2:
            return False
        if not _straight(path, leg):
            return False
    return True


def _straight(path: Path, leg: Leg) -> bool:
    """Whether a leg makes up for most of its way: a boat that swings about an anchor does not."""
    count = max(2, 1 + round(leg.stretch.seconds / _STRAIGHT_S))
    moments = np.linspace(leg.stretch.start, leg.stretch.end, count)
    thin = path.thinned(moments, _STRAIGHT_S / 2)
    way = float(np.hypot(np.diff(thin.x), np.diff(thin.y)).sum())
    return float(np.hypot(thin.x[-1] - thin.x[0], thin.y[-1] - thin.y[0])) > _STRAIGHT * way
