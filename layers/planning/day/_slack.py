"""Slack water, and how long the water over a line runs as it does now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.planning.drift._setting import Setting
from layers.water import Currents
from layers.water.times import MINUTE, runs_of, span, stamp
from seabed.array_types import Floats, Mask
from seabed.units import SPEED

SLACK_BELOW_MPS: Final = 0.2 * SPEED["kn"]
"""Water slower than this is slack.  Common practice, no source."""


@dataclass(frozen=True, slots=True)
class SameTide:
    """How long a line can be drifted before the water over it turns.

    begin_by: the last minute before the water turns back or goes slack after it ran: no later drift
        of this tide begins.
    end_by: the last minute before it turns back: every drift of this tide has ended.
    """

    begin_by: np.datetime64
    end_by: np.datetime64

    def holds(self, begins: Any, drift_s: float) -> Any:
        """Whether drifts from UTC times, of so many seconds, are within it."""
        return (begins <= self.begin_by) & (begins + span(drift_s) <= self.end_by)


def same_tide(
    currents: Currents,
    line: Floats,
    bearing_deg: float,
    begin: np.datetime64,
    until: np.datetime64,
) -> SameTide:
    """Find when the water over a line turns between two UTC times, to the minute.

    It turns back where its part along the bearing changes its sign at any of the places, or is not
    known any more.  It goes slack where the mean of all places is slower than `SLACK_BELOW_MPS`
    after it was faster.  `until` where neither happens.

    line, shape (n, 2): longitude and latitude of places on it.
    """
    minutes = np.append(np.arange(begin, until, MINUTE), until).astype("datetime64[ns]")
    shape = len(minutes), len(line)
    at = (np.broadcast_to(line[:, column], shape).ravel() for column in (0, 1))
    east, north = (
        part.reshape(shape) for part in currents.velocity(np.repeat(minutes, len(line)), *at)
    )
    bearing = np.radians(bearing_deg)
    along = east * np.sin(bearing) + north * np.cos(bearing)
    back = ~(along * np.where(along[0] >= 0, 1.0, -1.0) >= 0).all(axis=1)
    slow = np.hypot(east.mean(axis=1), north.mean(axis=1)) < SLACK_BELOW_MPS
    slack_again = slow & np.logical_or.accumulate(~slow)
    return SameTide(_before(back | slack_again, minutes), _before(back, minutes))


def slack_periods(
    setting: Setting, start: np.datetime64, end: np.datetime64, place: tuple[float, float]
) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Find when the water at a place runs slower than `SLACK_BELOW_MPS`, to the minute, UTC."""
    minutes = np.arange(start, end, MINUTE).astype("datetime64[ns]")
    at = np.full(len(minutes), place[0]), np.full(len(minutes), place[1])
    slow = np.hypot(*setting.water.currents.velocity(minutes, *at)) < SLACK_BELOW_MPS
    return [(stamp(minutes[a]), stamp(minutes[b - 1] + MINUTE)) for a, b in runs_of(slow)]


def _before(changed: Mask, minutes: NDArray[np.datetime64]) -> np.datetime64:
    """Give the last minute before the first that has turned; the last of all if none has."""
    first = int(np.argmax(changed)) if changed.any() else len(changed)
    last: np.datetime64 = minutes[max(first - 1, 0)]
    return last
