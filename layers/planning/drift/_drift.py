"""Boat tracks through set and drift: fourth-order Runge-Kutta on the WGS 84 ellipsoid.

Steps are taken in longitude and latitude with the ellipsoid's own radii of curvature, so that no
map projection's scale enters: a metre a second for an hour is 3,600 m over the ground.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Times
from seabed.compiled import compiled
from seabed.errors import WaterError
from seabed.geodesy import radii

Velocity = Callable[[Times, Floats, Floats], tuple[Floats, Floats]]
"""(times, longitude, latitude), each of shape (n,), to east and north over the ground, m/s."""

DepthUnder = Callable[[Times, Floats, Floats], Floats]
"""(times, longitude, latitude), each of shape (n,), to metres of water; NaN on land."""

Stops = Callable[[np.datetime64, np.datetime64, Floats], NDArray[np.int8]]
"""(begin, end, legs of shape (4, n)) to an `Ended` each, `Ended.TIME` where the way is clear.

Asked for all n boats, in their order, of which those that have stopped before stay where they are.
"""

_radii = compiled(radii)


MOST_KNOWN: Final = 512
"""Moments, or sets of them, whose velocity is kept."""


class Ended(IntEnum):
    """Why a track ended."""

    TIME = 0
    """It ran its whole time."""
    SHOAL = 1
    """Too little water, land, or the edge of the grid."""
    UNKNOWN_WATER = 2
    """The current or wind is not known there and then, or the motor can't hold the boat in it."""

    HAZARD = 3
    """Too near a charted hazard."""


@dataclass(frozen=True, slots=True)
class DriftTracks:
    """Tracks of n boats at m moments.

    times, shape (m,): UTC.
    longitude, latitude, shape (n, m): degrees, WGS 84; NaN after a track has ended.
    depth_m, shape (n, m): metres of water under the boat; NaN where not asked for, and after the
        end.
    ended, shape (n,): an `Ended` each.
    cells, shape (n, m): flat index of the grid cell under each point, -1 off the grid and after the
        end; shape (n, 0) where not looked at.
    """

    times: Times
    longitude: Floats
    latitude: Floats
    depth_m: Floats
    ended: NDArray[np.int8]
    cells: NDArray[np.int64]

    def until(self, last: int) -> DriftTracks:
        """Give the tracks up to a point."""
        to = last + 1
        return DriftTracks(
            self.times[:to], self.longitude[:, :to], self.latitude[:, :to], self.depth_m[:, :to],
            self.ended, self.cells[:, :to],
        )  # fmt: skip

    def of(self, rows: Any) -> DriftTracks:
        """Give the tracks of some boats, by their rows or a slice of them."""
        return DriftTracks(
            self.times, self.longitude[rows], self.latitude[rows], self.depth_m[rows],
            self.ended[rows], self.cells[rows],
        )  # fmt: skip


def even_steps(duration_s: float, step_s: float) -> Floats:
    """Seconds from 0 to the end of a drift; the last step is shortened to end on time.

    Raises WaterError if duration or step is not positive.
    """
    if not (duration_s > 0 and step_s > 0):
        raise WaterError(f"a drift of {duration_s} s in steps of {step_s} s can't be followed")
    return np.append(np.arange(0.0, duration_s - 1e-6, step_s), duration_s)


def tracks_at(
    longitude: Floats,
    latitude: Floats,
    start: np.datetime64,
    velocity: Velocity,
    seconds: Floats,
    *,
    depth_under: DepthUnder | None = None,
    least_depth_m: float = 0.0,
    stops: Stops | None = None,
) -> DriftTracks:
    """Integrate boat tracks through a velocity field, with points at seconds after the start.

    Classical fourth-order Runge-Kutta: global error falls with the fourth power of the step.

    velocity: over the ground (current and leeway); NaN is not known. It is always asked for all n
        boats, in their order, so that each may have a water and wind of its own.
    seconds, shape (m,): rising. The boats are at their places at the first of them.
    depth_under: metres of water. A track ends before its first step into less than `least_depth_m`,
        or into NaN (land, or off the grid).
    stops: what stops a boat on its way from one point to the next, as `SafeWater.stops`. The track
        ends before that step; a start that is itself stopped has a track of one point.
    """
    times = start.astype("datetime64[ns]") + np.round(seconds * 1e9).astype("timedelta64[ns]")
    count = len(longitude)
    track = np.full((3, count, len(times)), np.nan)
    ended = np.full(count, Ended.TIME, np.int8)
    here = np.array([longitude, latitude], float)
    track[:2, :, 0] = here
    alive = np.ones(count, bool)
    for index in range(len(times)):
        if index:
            moved = _step(velocity, times[index - 1], here, seconds[index] - seconds[index - 1])
            known = np.isfinite(moved).all(axis=0)
            ended[alive & ~known] = Ended.UNKNOWN_WATER
            alive &= known
            moved = np.where(alive, moved, here)
        else:
            moved = here
        if stops is not None:
            why = stops(times[max(index - 1, 0)], times[index], np.concatenate([here, moved]))
            stopped = alive & (why != Ended.TIME)
            ended[stopped] = why[stopped]
            alive &= ~stopped
        here = np.where(alive, moved, here)
        if depth_under is not None:
            depth = depth_under(np.full(count, times[index]), *here)
            afloat = depth >= least_depth_m
            ended[alive & ~afloat] = Ended.SHOAL
            alive &= afloat
            track[2, alive, index] = depth[alive]
        track[:2, alive, index] = here[:, alive]
        if not alive.any():
            break
    nothing = np.empty((count, 0), np.int64)
    return DriftTracks(times, track[0], track[1], track[2], ended, nothing)


class AtOnce:
    """A velocity that is the same everywhere, asked for once for all boats of a moment.

    A step asks twice for its middle, and for its end as the next step for its beginning.
    """

    def __init__(self, velocity: Velocity) -> None:
        self._velocity = velocity
        self._known: dict[bytes, tuple[Floats, Floats]] = {}

    def at_moments(self, moments: Times) -> tuple[Floats, Floats]:
        """East and north at moments, wherever."""
        nowhere = np.zeros(len(moments))
        key = moments.tobytes()
        if key not in self._known:
            if len(self._known) >= MOST_KNOWN:
                self._known.clear()
            self._known[key] = self._velocity(moments, nowhere, nowhere)
        return self._known[key]

    def __call__(self, times: Times, longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
        """East and north, as `Velocity`."""
        if len(times) and (times == times[0]).all():
            east, north = self.at_moments(times[:1])
            return np.full(times.shape, east[0]), np.full(times.shape, north[0])
        moments, which = np.unique(times, return_inverse=True)
        east, north = self.at_moments(moments)
        return east[which], north[which]


def _step(velocity: Velocity, time: np.datetime64, here: Floats, seconds: float) -> Floats:
    """Advance positions, shape (2, n) in degrees, by one Runge-Kutta step."""

    def rate(at: Floats, after: float) -> Floats:
        moment = time + np.timedelta64(round(after * 1e9), "ns")
        east, north = velocity(np.full(at.shape[1], moment), at[0], at[1])
        return np.array([east, north]) * degrees_per_metre(at[1])

    first = rate(here, 0.0)
    second = rate(here + first * (seconds / 2), seconds / 2)
    third = rate(here + second * (seconds / 2), seconds / 2)
    fourth = rate(here + third * seconds, seconds)
    return here + (first + 2 * second + 2 * third + fourth) * (seconds / 6)


def degrees_per_metre(latitude: Floats) -> Floats:
    """Degrees of longitude and latitude in a metre, shape (2, n), on WGS 84."""
    parallel, meridian = _radii(latitude)
    return np.asarray(np.degrees([1 / parallel, 1 / meridian]))
