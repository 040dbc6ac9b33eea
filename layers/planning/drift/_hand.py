"""The trim that a sheet prints, held by a hand that corrects it every few minutes.

A skipper can't see the water.  He sets the motor as the sheet says; every few minutes he sees on
the plotter how far he is off the line and what ground he made since he last looked, and from these
two alone he corrects the push for the minutes that follow.  How, `by_hand` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from layers.planning.drift._drift import DriftTracks, Look, Velocity, degrees_per_metre, tracks_at
from layers.planning.drift.safe_water import Ended
from layers.water.times import seconds_between
from seabed.array_types import Floats, Pair, Times

CORRECT_EVERY_S: Final = 300.0
"""A look at the plotter every five minutes.  Common practice, no source."""

NEVER_S: Final = float("inf")
SAME_MOMENT_S: Final = 1e-6
DIGITS: Final = 6
LEAST_WAY_M: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Hand:
    """How a trim is held: seconds between looks (infinity is never), and the motor's limit."""

    correct_every_s: float = CORRECT_EVERY_S
    limit_mps: float = 1.0


@dataclass(frozen=True, slots=True)
class Printed:
    """What a sheet says of n drifts: when and where they go, and the motor's push.

    begins, shape (n,): UTC.
    paths, shape (3, m): seconds from 0 to the drift's end, longitude and latitude.
    push_start_mps, push_end_mps, shape (2, n): east and north of the push through the water, which
        changes evenly between; 0 for a boat left alone.
    """

    begins: Times
    paths: Sequence[Floats]
    push_start_mps: Floats
    push_end_mps: Floats

    @classmethod
    def joined(cls, parts: Sequence[Printed]) -> Printed:
        """Put what sheets say of some drifts, one part or more, into one."""
        return cls(
            np.concatenate([part.begins for part in parts]),
            [path for part in parts for path in part.paths],
            np.concatenate([part.push_start_mps for part in parts], axis=1),
            np.concatenate([part.push_end_mps for part in parts], axis=1),
        )

    @property
    def lasts_s(self) -> Floats:
        """Seconds of each drift, shape (n,)."""
        return np.array([path[0, -1] for path in self.paths])

    def push(self, after_s: float) -> Floats:
        """East and north of the printed push so long after the start, shape (2, n)."""
        share = np.clip(after_s / self.lasts_s, 0.0, 1.0)
        return self.push_start_mps + share * (self.push_end_mps - self.push_start_mps)

    def place(self, after_s: float) -> Floats:
        """Longitude and latitude as planned so long after the start, or at the end, (2, n)."""
        return np.array(
            [[np.interp(after_s, path[0], path[row]) for path in self.paths] for row in (1, 2)]
        )


def by_hand(
    printed: Printed,
    velocity: Velocity,
    hand: Hand,
    *,
    members: int = 1,
    step_s: float = 30.0,
    look: Look | None = None,
    everywhere: bool = False,
) -> list[DriftTracks]:
    """Follow boats through their waters as a hand holds the printed trim of drifts.

    Until the first look the push is as printed.  At each look the hand compares the ground made
    since the last one with the ground that the plan makes in that time.  The difference, less what
    was already added to the printed push, is how the boat was set.  From now to the next look the
    opposite of it is added to the printed push, and what brings the boat back to the line by then:
    its distance from the line, square to the way that the plan goes next, over the time between two
    looks.  Along the line the boat keeps the plan's speed, and does not make good what it is ahead
    or behind.  The whole push is never more than the motor's limit: it is then cut short, in its
    direction.

    velocity: of a boat without its motor, over the ground.  It is asked for n x members boats,
        those of the first drift first.
    step_s: the most seconds of one step.
    look, everywhere: as `tracks_at`, for n x members boats at times of their own.
    Returned: `members` tracks of each drift, up to its own end.
    """
    boats = _Boats(printed, hand, np.repeat(np.arange(len(printed.lasts_s)), members))
    here, ended = boats.planned(0.0), np.zeros(len(boats.drift), np.int8)
    more, off = np.zeros_like(here), np.zeros_like(here)
    pieces: list[DriftTracks] = []
    for seconds in _stretches(printed.lasts_s, hand.correct_every_s, step_s):
        if pieces:
            before, off = off, boats.off(here, seconds[0])
            more = boats.corrected(more, before, off, seconds[0])
        piece = tracks_at(
            here[0], here[1], printed.begins[0], boats.pushed(velocity, more), seconds,
            look=boats.look_at_own_times(look), everywhere=everywhere,
        )  # fmt: skip
        ended = np.where(ended == Ended.TIME, piece.ended, ended)
        here = np.stack([piece.longitude[:, -1], piece.latitude[:, -1]])
        pieces.append(piece)
    return _own_parts(printed, hand, pieces, ended, step_s)


@dataclass(frozen=True, slots=True)
class _Boats:
    """All boats of all drifts, each at seconds after its own `drift` begins; shapes (2, boats)."""

    printed: Printed
    hand: Hand
    drift: NDArray[np.intp]

    def planned(self, after_s: float) -> Floats:
        """Longitude and latitude."""
        return self.printed.place(after_s)[:, self.drift]

    def off(self, here: Floats, after_s: float) -> Floats:
        """Metres east and north from where the plan has each boat."""
        away: Floats = (here - self.planned(after_s)) / degrees_per_metre(here[1])
        return away

    def push(self, after_s: float, more: Floats) -> Floats:
        """Add to the printed push, and cut it short at the motor's limit."""
        wanted = self.printed.push(after_s)[:, self.drift] + more
        size, limit = np.hypot(wanted[0], wanted[1]), self.hand.limit_mps
        return wanted * np.where(size > limit, limit / np.maximum(size, limit), 1.0)

    def corrected(self, more: Floats, before: Floats, off: Floats, now_s: float) -> Floats:
        """Give what to add to the printed push from now on; `before` is `off` one look ago."""
        every_s = self.hand.correct_every_s
        middle = now_s - every_s / 2
        added = self.push(middle, more) - self.printed.push(middle)[:, self.drift]
        set_off = (off - before) / every_s - added
        return -set_off - self._square_to_the_line(off, now_s) / every_s

    def _square_to_the_line(self, off: Floats, now_s: float) -> Floats:
        """Give the part of `off` that is square to the plan's way from now to the next look."""
        here, there = self.planned(now_s), self.planned(now_s + self.hand.correct_every_s)
        way = (there - here) / degrees_per_metre(here[1])
        length = np.hypot(way[0], way[1])
        along = way / np.where(length > LEAST_WAY_M, length, np.inf)
        square: Floats = off - along * (off * along).sum(axis=0)
        return square

    def pushed(self, velocity: Velocity, more: Floats) -> Velocity:
        """Velocity over the ground with the motor, where all drifts have one moment or several."""
        later, first = self._later(), self.printed.begins[0]

        def of(times: Times, longitude: Floats, latitude: Floats) -> Pair:
            moments = times[:: len(later)]
            pushes = [self.push(after, more) for after in seconds_between(first, moments)]
            push = np.concatenate(pushes, axis=1)
            east, north = velocity(times + np.tile(later, len(moments)), longitude, latitude)
            return east + push[0], north + push[1]

        return of

    def look_at_own_times(self, look: Look | None) -> Look | None:
        later = self._later()
        if look is None:
            return None
        return lambda times, path: look(times + later[:, None], path)

    def _later(self) -> Any:
        return (self.printed.begins - self.printed.begins[0])[self.drift]


def _stretches(lasts_s: Floats, every_s: float, step_s: float) -> list[Floats]:
    """Moments from one look to the next: on even steps, and at each drift's end."""
    longest = float(lasts_s.max())
    every = np.append(_even(longest, every_s, step_s), lasts_s)
    moments = np.asarray(np.unique(np.round(every, DIGITS)), np.float64)
    looks = [0.0, longest]
    if np.isfinite(every_s):
        looks = [*np.arange(0.0, longest - SAME_MOMENT_S, every_s), longest]
    return [
        moments[(moments >= begin - SAME_MOMENT_S) & (moments <= end + SAME_MOMENT_S)]
        for begin, end in pairwise(looks)
    ]


def _even(lasts_s: float, every_s: float, step_s: float) -> Floats:
    """Even steps of at most `step_s` that a whole number of takes from look to look."""
    if np.isfinite(every_s):
        step_s = every_s / np.ceil(every_s / step_s)
    return np.asarray(np.arange(0.0, lasts_s - SAME_MOMENT_S, step_s), np.float64)


def _own_parts(
    printed: Printed, hand: Hand, pieces: list[DriftTracks], ended: NDArray[np.int8], step_s: float
) -> list[DriftTracks]:
    """Part the tracks of all boats by drift, each at its own even steps and up to its own end."""
    first, *others = pieces
    times = np.concatenate([first.times, *(piece.times[1:] for piece in others)])
    seconds = np.round(seconds_between(printed.begins[0], times), DIGITS)
    whole: list[Floats] = []
    for name in ("longitude", "latitude", "depth_m"):
        tables = [getattr(first, name), *(getattr(piece, name)[:, 1:] for piece in others)]
        whole.append(np.concatenate(tables, axis=1))
    members = len(ended) // len(printed.lasts_s)
    parts = []
    for drift, lasts_s in enumerate(printed.lasts_s):
        own = np.append(_even(lasts_s, hand.correct_every_s, step_s), lasts_s)
        columns = np.searchsorted(seconds, np.round(own, DIGITS))
        rows = slice(drift * members, (drift + 1) * members)
        longitude, latitude, depth = (table[rows, columns] for table in whole)
        arrived = np.isfinite(longitude[:, -1])
        parts.append(
            DriftTracks(
                times[columns] + (printed.begins[drift] - printed.begins[0]),
                longitude, latitude, depth,
                np.where(arrived, np.int8(Ended.TIME), ended[rows]).astype(np.int8),
                first.cells[rows],
            )
        )  # fmt: skip
    return parts
