"""Drifts in water and wind that are the same everywhere, followed in machine code.

A step is then Simpson's rule over its time (classical Runge-Kutta where place has no say), on the
radii of curvature at its middle.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from layers.planning.drift._cells import CellPolynomials, cell_at, flat_cell
from layers.planning.drift._drift import AtOnce, DriftTracks, Ended
from layers.planning.drift.safe_water import Closed, SafeWater, look_along
from seabed.array_types import Floats, Ints, Times
from seabed.compiled import compiled
from seabed.geodesy import radii
from seabed.grid.places import sample

UNKNOWN: Final = int(Ended.UNKNOWN_WATER)
_radii = compiled(radii)


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
    """Follow boats as `layers.planning.drift._drift.tracks_at`, each from a time of its own.

    seconds, shape (m,): rising, after each boat's begin.
    depths: whether to give the depth of water under them.

    Returned: its ``times`` are those of the first boat.
    """
    own, which = np.unique(begins.astype("datetime64[ns]"), return_inverse=True)
    after = np.round(seconds * 1e9).astype("timedelta64[ns]")
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
