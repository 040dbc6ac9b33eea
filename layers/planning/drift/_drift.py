"""Boat tracks through set and drift: fourth-order Runge-Kutta on the WGS 84 ellipsoid.

Steps are taken in longitude and latitude with the ellipsoid's own radii of curvature, so that no
map projection's scale enters: a metre a second for an hour is 3,600 m over the ground.  In water
and wind that are the same everywhere a step is Simpson's rule over its time, on the radii at its
middle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from layers.planning.drift._cells import CellPolynomials, cell_at, flat_cell
from layers.planning.drift.safe_water import Closed, Ended, SafeWater, look_along
from layers.water.motion import runge_kutta
from layers.water.times import span, spans
from seabed.array_types import Floats, Ints, Pair, Times
from seabed.compiled import compiled
from seabed.errors import WaterError
from seabed.geodesy import radii
from seabed.grid.places import sample

Velocity = Callable[[Times, Floats, Floats], Pair]
"""(times, longitude, latitude), each of shape (n,), to east and north over the ground, m/s."""

Look = Callable[[Times, Floats], tuple[NDArray[np.int8], Floats]]
"""(times, shape (n, m), path, shape (2, n, m)) to what stops n boats at m moments, and their depth.

What stops a boat on its way from the point before is an `Ended`, `Ended.TIME` where the way is
clear.  The first point has no way: it counts by itself.  Depth is in metres; NaN on land.
"""

_radii = compiled(radii)

MOST_KNOWN: Final = 512
"""Moments, or sets of them, whose velocity is kept."""

UNKNOWN: Final = int(Ended.UNKNOWN_WATER)


@dataclass(frozen=True, slots=True)
class DriftTracks:
    """Tracks of n boats at m moments.

    times, shape (m,): UTC.
    longitude, latitude, shape (n, m): degrees, WGS 84; NaN after a track has ended.
    depth_m, shape (n, m): metres of water under the boat; NaN if not computed, and after the end.
    ended, shape (n,): an `Ended` each.
    cells, shape (n, m): flat index of the grid cell under each point, -1 off the grid and after the
        end; shape (n, 0) where not computed.
    """

    times: Times
    longitude: Floats
    latitude: Floats
    depth_m: Floats
    ended: NDArray[np.int8]
    cells: Ints

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
    """Seconds from 0 to the end of a drift; the last step is shortened to end on time."""
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
    look: Look | None = None,
    everywhere: bool = False,
) -> DriftTracks:
    """Integrate boat tracks through a velocity field, with points at seconds after the start.

    Classical fourth-order Runge-Kutta: global error falls with the fourth power of the step.

    velocity: over the ground; NaN is not known.  It is always asked for all n boats, in their
        order, so that each may have a water and wind of its own.
    seconds, shape (m,): rising.  The boats are at their places at the first of them.
    look: what stops boats, and the depth under them.  A track ends before the step that it stops; a
        start that is itself stopped has a track of one point.
    everywhere: whether the velocity is the same everywhere.  It is then asked once, for the n boats
        of the first moment, then of the next.
    """
    times = start.astype("datetime64[ns]") + spans(seconds)
    here = np.array([longitude, latitude], float)
    integrate = _integrated_everywhere if everywhere else _integrated
    path = integrate(velocity, times, here, seconds)
    why = np.zeros(path.shape[1:], np.int8)
    depth = np.full(why.shape, np.nan)
    if look is not None:
        why, depth = look(np.broadcast_to(times, why.shape), path)
    why[:, 1:][~np.isfinite(path[:, :, 1:]).all(axis=0)] = Ended.UNKNOWN_WATER
    stopped = why != Ended.TIME
    ended = why[np.arange(len(why)), stopped.argmax(axis=1)]
    over = np.logical_or.accumulate(stopped, axis=1)
    depth[over] = np.nan
    path[:, :, 1:][:, over[:, 1:]] = np.nan
    nothing = np.empty((len(why), 0), np.int64)
    return DriftTracks(times, path[0], path[1], depth, ended, nothing)


def _integrated(velocity: Velocity, times: Times, here: Floats, seconds: Floats) -> Floats:
    """Longitude and latitude at each moment, shape (2, n, m)."""
    path = np.empty((*here.shape, len(times)))
    path[:, :, 0] = here
    for index, step in enumerate(np.diff(seconds)):
        path[:, :, index + 1] = _step(velocity, times[index], path[:, :, index], step)
    return path


def _integrated_everywhere(
    velocity: Velocity, times: Times, here: Floats, seconds: Floats
) -> Floats:
    """As `_integrated`, in machine code."""
    moments = np.repeat(times, 2)[:-1]
    moments[1::2] += spans(np.diff(seconds) / 2)
    asked = np.repeat(moments, here.shape[1])
    speed = np.array(velocity(asked, *np.zeros((2, len(asked)))))
    return _carried(here, speed.reshape(2, len(moments), -1), seconds)


@compiled
def _carried(here: Floats, speed: Floats, seconds: Floats) -> Floats:
    """Step n boats; `speed`, shape (2, 2 m - 1, n), is at each moment and halfway to the next."""
    path = np.empty((2, here.shape[1], len(seconds)))
    for boat in range(here.shape[1]):
        x, y = here[0, boat], here[1, boat]
        path[0, boat, 0], path[1, boat, 0] = x, y
        for at in range(1, len(seconds)):
            step = seconds[at] - seconds[at - 1]
            along = across = east = north = 0.0
            for part in range(4):
                moment = 2 * at - 2 + (part + 1) // 2
                share = 0.0 if part == 0 else (1.0 if part == 3 else 0.5)
                parallel, meridian = _radii(y + north * (step * share))
                east = speed[0, moment, boat] * np.degrees(1 / parallel)
                north = speed[1, moment, boat] * np.degrees(1 / meridian)
                weight = 2.0 if share == 0.5 else 1.0
                across += weight * east
                along += weight * north
            x += across * (step / 6)
            y += along * (step / 6)
            path[0, boat, at], path[1, boat, at] = x, y
    return path


class AtOnce:
    """A velocity that is the same everywhere, asked for once for all boats of a moment.

    A step asks twice for its middle, and for its end as the next step for its beginning.
    """

    def __init__(self, velocity: Velocity) -> None:
        self._velocity = velocity
        self._known: dict[bytes, Pair] = {}

    def at_moments(self, moments: Times) -> Pair:
        """East and north at moments, wherever."""
        nowhere = np.zeros(len(moments))
        key = moments.tobytes()
        if key not in self._known:
            if len(self._known) >= MOST_KNOWN:
                self._known.clear()
            self._known[key] = self._velocity(moments, nowhere, nowhere)
        return self._known[key]

    def __call__(self, times: Times, longitude: Floats, latitude: Floats) -> Pair:
        """East and north, as `Velocity`."""
        if len(times) and (times == times[0]).all():
            east, north = self.at_moments(times[:1])
            return np.full(times.shape, east[0]), np.full(times.shape, north[0])
        moments, which = np.unique(times, return_inverse=True)
        east, north = self.at_moments(moments)
        return east[which], north[which]


def _step(velocity: Velocity, time: np.datetime64, here: Floats, seconds: float) -> Floats:
    """Advance positions, shape (2, n) in degrees, by one Runge-Kutta step."""

    def rate(after: float, at: Floats) -> Floats:
        moment = time + span(after)
        east, north = velocity(np.full(at.shape[1], moment), at[0], at[1])
        return np.array([east, north]) * degrees_per_metre(at[1])

    return runge_kutta(rate, 0.0, here, seconds)


def degrees_per_metre(latitude: Floats) -> Floats:
    """Degrees of longitude and latitude in a metre, shape (2, n), on WGS 84."""
    parallel, meridian = _radii(latitude)
    return np.asarray(np.degrees([1 / parallel, 1 / meridian]))


def uniform_tracks(
    longitude: Floats,
    latitude: Floats,
    begins: Times,
    velocity: AtOnce,
    seconds: Floats,
    *,
    safe: SafeWater,
    polynomials: CellPolynomials,
    depths: bool = False,
) -> DriftTracks:
    """Follow boats as `tracks_at`, each from a time of its own.

    seconds, shape (m,): rising, after each boat's begin.
    depths: whether to give the depth of water under them.
    Returned: its ``times`` are those of the first boat.
    """
    own, which = np.unique(begins.astype("datetime64[ns]"), return_inverse=True)
    after = spans(seconds)
    moments = own[:, None] + after
    halves = moments[:, :-1] + np.diff(moments, axis=1) // 2
    ends, middles = (_velocity_at(velocity, times) for times in (moments, halves))
    steps = np.diff(seconds)
    moved = (ends[:, :, :-1] + 4 * middles + ends[:, :, 1:]) * (steps / 6)
    height = safe.height(moments.ravel()).reshape(moments.shape)
    lower = np.minimum(height, np.concatenate([height[:, :1], height[:, :-1]], axis=1))
    wanted = (safe.least_water_m - lower).astype(np.float32)
    starts = np.stack([np.asarray(longitude, float), np.asarray(latitude, float)])
    moves = _Moves(moved, wanted)
    track, ended, cells = _followed(starts, which, moves, polynomials, safe.closed)
    depth = np.full(track.shape[1:], np.nan)
    if depths:
        there = np.isfinite(track[0])
        depth[there] = sample(safe.grid, track[0][there], track[1][there]) + height[which][there]
    return DriftTracks(begins[0] + after, track[0], track[1], depth, ended, cells)


def _velocity_at(velocity: AtOnce, times: Any) -> Floats:
    """East and north at moments, shape (2, begins, m)."""
    return np.stack(velocity.at_moments(times.ravel())).reshape(2, *times.shape)


class _Moves(NamedTuple):
    """How boats that begin at one time move, a row a begin.

    moved, shape (2, begins, m - 1): metres east and north a step.
    wanted, shape (begins, m): least charted depth at the start, then on each step.
    """

    moved: Floats
    wanted: NDArray[np.float32]


@compiled
def _followed(
    starts: Floats,
    which: Ints,
    moves: _Moves,
    polynomials: CellPolynomials,
    closed: Closed,
) -> tuple[Floats, NDArray[np.int8], Ints]:
    """Follow each boat until it stops; `which`, shape (n,), says whose way it goes."""
    rows, columns = closed.shoalest.shape
    many, points = starts.shape[1], moves.wanted.shape[1]
    track = np.full((2, many, points), np.nan)
    ended = np.zeros(many, np.int8)
    cells = np.full((many, points), -1)
    for boat in range(many):
        begin, x, y = which[boat], starts[0, boat], starts[1, boat]
        here = cell_at(x, y, polynomials)
        track[0, boat, 0], track[1, boat, 0] = x, y
        cells[boat, 0] = flat_cell(rows, columns, here)
        for at in range(points):
            before = here
            if at:
                east, north = moves.moved[0, begin, at - 1], moves.moved[1, begin, at - 1]
                if not (np.isfinite(east) and np.isfinite(north)):
                    ended[boat] = UNKNOWN
                    break
                meridian = _radii(y)[1]
                parallel, meridian = _radii(y + np.degrees(north / meridian) / 2)
                x += np.degrees(east / parallel)
                y += np.degrees(north / meridian)
                here = cell_at(x, y, polynomials)
            why = look_along(closed, before, here, moves.wanted[begin, at])
            if why:
                ended[boat] = why
                break
            track[0, boat, at] = x
            track[1, boat, at] = y
            cells[boat, at] = flat_cell(rows, columns, here)
    return track, ended, cells
