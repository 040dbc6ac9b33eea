"""Hours in which a ramp or a beach can be used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from layers.water.heights._heights import Heights
from layers.water.times import MINUTE, as_utc, runs_of
from layers.water.wind._wind import Wind
from seabed.array_types import Times

Span = tuple[np.datetime64, np.datetime64]
"""Begin and end, UTC."""

LOW: Final = "too little water"
UNKNOWN: Final = "the tide is not known"
ONSHORE: Final = "wind onto the shore"


@dataclass(frozen=True, slots=True)
class LaunchNeeds:
    """What a launch needs to be used.

    least_height_m: height of the tide over its datum; None is any.
    faces_deg: direction out to sea, degrees true; None is not known, and no wind shuts it.
    onshore_limit_mps: the most wind straight onto the shore; of other wind its part that way
        counts.
    """

    least_height_m: float | None = None
    faces_deg: float | None = None
    onshore_limit_mps: float = float("inf")

    @property
    def any(self) -> bool:
        """Whether there is something to keep to."""
        return self.least_height_m is not None or self.faces_deg is not None


@dataclass(frozen=True, slots=True)
class LaunchHours:
    """When a launch can be used, every minute (UTC): what shuts it then, ``""`` for nothing."""

    times: Times
    why: NDArray[np.object_]

    @property
    def spans(self) -> tuple[Span, ...]:
        """Begin and end of each stretch in which it can be used."""
        return self.spans_of("")

    def spans_of(self, why: str) -> tuple[Span, ...]:
        """Begin and end of each stretch that is shut for one reason."""
        return tuple((self.times[a], self.times[b - 1]) for a, b in runs_of(self.why == why))

    def shut_at(self, time: Any) -> str:
        """Say what shuts it at a UTC time; ``""`` where nothing does, or the time is not in it."""
        moment = as_utc([time])[0]
        at = int(np.searchsorted(self.times, moment, side="right")) - 1
        inside = at >= 0 and moment <= self.times[-1]
        return str(self.why[at]) if inside else ""

    def last_before(self, time: Any) -> np.datetime64 | None:
        """Give the last moment before a UTC time at which it can be used; None for none."""
        ends = [min(b, as_utc([time])[0]) for a, b in self.spans if a <= as_utc([time])[0]]
        return ends[-1] if ends else None


def launch_hours(
    start: np.datetime64,
    end: np.datetime64,
    needs: LaunchNeeds,
    *,
    heights: Heights | None,
    wind: Wind | None,
) -> LaunchHours:
    """Find when a launch can be used.

    A launch that needs a height is shut where the height is not known; a wind that is not known
    shuts nothing.
    """
    times = np.arange(start, end + MINUTE, MINUTE).astype("datetime64[ns]")
    why = np.full(times.shape, "", object)
    if wind is not None and needs.faces_deg is not None:
        speed, from_deg = wind.at(times)
        onto = speed * np.cos(np.radians(from_deg - needs.faces_deg))
        with np.errstate(invalid="ignore"):
            why[onto > needs.onshore_limit_mps] = ONSHORE
    if needs.least_height_m is not None:
        height = np.full(times.shape, np.nan) if heights is None else heights.height_m(times)
        why[height < needs.least_height_m] = LOW
        why[np.isnan(height)] = UNKNOWN
    return LaunchHours(times, why)
