"""Passes over chosen lines, one after the other: when each line begins, and how many there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from layers.planning.drift import DriftTracks
from layers.planning.paid import setting_for
from layers.planning.setting import Setting
from layers.planning.slots import Slot
from seabed.geodesy import distance_m

__all__ = ["Turn", "fit_passes"]


@dataclass(frozen=True, slots=True)
class Turn:
    """A line's turn in the day.

    Attributes
    ----------
    slot : Slot
    place : int
        Row of its candidate.
    setting : Setting
        In which it is drifted.
    tracks : DriftTracks
    row, last : int
        Which of the tracks; index of the last point of the drift.
    passes : int
    end : datetime64
        When the time for this line is over, UTC.
    """

    slot: Slot
    place: int
    setting: Setting
    tracks: DriftTracks
    row: int
    last: int
    passes: int
    end: np.datetime64

    @property
    def begin(self) -> np.datetime64:
        """When its first pass begins, UTC."""
        begin: np.datetime64 = self.tracks.times[0]
        return begin

    def point(self, at: int) -> tuple[float, float]:
        """Longitude and latitude of a point of its track."""
        return float(self.tracks.longitude[self.row, at]), float(self.tracks.latitude[self.row, at])

    @property
    def drift_s(self) -> float:
        """Seconds of a pass."""
        return _seconds(self.tracks.times[self.last] - self.begin)

    @property
    def again_s(self) -> float:
        """Seconds from the end of a pass to the end of the next."""
        limits = self.setting.limits
        back_m = distance_m(*self.point(self.last), *self.point(0))
        return float(self.drift_s + limits.set_up_s + back_m / limits.running_mps)


def fit_passes(slots: Sequence[Slot], chosen: Sequence[int | None], setting: Setting) -> list[Turn]:
    """Lay the passes of each line end to end, so that no part of a slot is waited through.

    A line has as many whole passes as come nearest to its slot; the next line begins when the boat
    is there, up to half a slot before or after its own slot does, if it can still be drifted then.
    The last passes end within the last slot.

    Parameters
    ----------
    slots : from `slots_of_day`
    chosen : from `choose`
    setting : Setting

    Returns
    -------
    list of Turn
        One for each slot with a line.
    """
    picked = [(slot, row) for slot, row in zip(slots, chosen, strict=True) if row is not None]
    turns: list[Turn] = []
    for slot, row in picked:
        own = _as_chosen(slot, row, setting)
        if turns:
            turns[-1], own = _joined_up(turns[-1], own)
        turns.append(_filled(own))
    return turns


def _as_chosen(slot: Slot, place: int, setting: Setting) -> Turn:
    """Give the turn of a line that begins with its slot."""
    found = slot.candidates
    turn = Turn(
        slot, place, setting_for(slot.line_of(place), setting), found.tracks, place,
        int(found.last[place]), 1, slot.begin + _span(slot.lasts_s),
    )  # fmt: skip
    return _begun_at(turn, slot.begin) or turn  # this time with the depth under it


def _filled(turn: Turn) -> Turn:
    """Give as many passes as end in time, one at least."""
    more = (_seconds(turn.end - turn.begin) - turn.drift_s) // turn.again_s
    return replace(turn, passes=max(1, 1 + int(more)))


def _joined_up(before: Turn, own: Turn) -> tuple[Turn, Turn]:
    """Let one line begin when the passes of the one before are over."""
    limits = own.setting.limits
    away_m = distance_m(*before.point(before.last), *own.point(0))
    away_s = away_m / limits.running_mps + limits.set_up_s
    more = (_seconds(own.slot.begin - before.begin) - away_s - before.drift_s) / before.again_s
    for count in (round(more), int(more)):
        passes = max(1, 1 + count)
        up_s = before.drift_s + (passes - 1) * before.again_s
        moved = _begun_at(own, before.begin + _span(np.ceil(up_s + away_s)))
        if moved is not None:
            return replace(before, passes=passes, end=before.begin + _span(up_s)), moved
    return replace(before, passes=max(1, 1 + int(more // 1))), own


def _begun_at(turn: Turn, begin: np.datetime64) -> Turn | None:
    """Begin a line at another time, from its mark; None if that is far off, or it is stopped."""
    if abs(_seconds(begin - turn.slot.begin)) > turn.slot.lasts_s / 2:
        return None
    if _seconds(turn.end - begin) < turn.drift_s:
        return None
    longitude, latitude = turn.point(0)
    tracks = turn.setting.drifts(
        np.array([longitude]), np.array([latitude]), np.array([begin]), turn.drift_s
    )
    last = len(tracks.times) - 1
    if not np.isfinite(tracks.longitude[0, last]):
        return None
    return replace(turn, tracks=tracks, row=0, last=last)


def _span(seconds: float) -> np.timedelta64:
    return np.timedelta64(round(seconds * 1e9), "ns")


def _seconds(span: np.timedelta64) -> float:
    return float(span / np.timedelta64(1, "s"))
