"""Every drift that could be made in one slot of time, and what each is worth an hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from layers.planning.drift._drift import DriftTracks
from layers.water.times import seconds_between
from seabed.array_types import Floats, Ints, Pair
from seabed.compiled import compiled
from seabed.errors import SeabedError
from seabed.geodesy import radii, to_degrees
from seabed.grid import cell_size, crs_of


@dataclass(frozen=True, slots=True)
class DriftLimits:
    """What a drift may be.

    Attributes
    ----------
    shortest_s, longest_s : float
        Seconds of drifting.
    set_up_s : float
        Seconds from the mark reached to the start of the drift: boat settled, lines down.
    lines_up_s : float
        Seconds from the end of a drift until the boat runs.
    running_mps : float
        Speed running back up to the start.
    step_s : float
        Seconds between points of the track.
    """

    shortest_s: float = 600.0
    longest_s: float = 1800.0
    set_up_s: float = 90.0
    lines_up_s: float = 0.0
    running_mps: float = 10.3
    step_s: float = 30.0


@dataclass(frozen=True, slots=True)
class Candidates:
    """Drifts from n starts, each cut off where it pays best.

    last, shape (n,): index of the last point worth drifting to; 0 where there is no drift.
    worth_per_hour, shape (n,): worth gathered for each hour of drifting, running back and setting
        up; 0 where there is no drift.
    """

    tracks: DriftTracks
    last: Ints
    worth_per_hour: Floats


def starts_over(worth: xr.DataArray, spacing_m: float, reach_m: float) -> Pair:
    """Lay starts on a lattice over all water from which something of worth is in reach.

    worth: 0 where there is nothing; SeabedError if it is so everywhere.
    spacing_m, reach_m: between starts; how far from worth a start may be.
    Returned: longitude, latitude, shape (n,).
    """
    size = cell_size(worth)
    middle = len(size.northing) // 2
    rows = max(1, round(spacing_m / size.northing[middle]))
    columns = max(1, round(spacing_m / size.easting[middle]))
    values = np.nan_to_num(worth.values)
    if not values.any():
        raise SeabedError(
            "there is no bottom in the depth band on this grid",
            file=worth.attrs.get("source") or None,
            do="Give another {band}, or a grid that holds such depths.",
        )
    coarse = values[rows // 2 :: rows, columns // 2 :: columns]
    within = 2 * int(np.ceil(reach_m / spacing_m)) + 1
    row, column = np.nonzero(maximum_filter(coarse, size=within) > 0)
    x = worth["x"].values[columns // 2 :: columns][column]
    y = worth["y"].values[rows // 2 :: rows][row]
    longitude, latitude = to_degrees(crs_of(worth)).transform(x, y)
    return np.asarray(longitude, float), np.asarray(latitude, float)


def cut_off(worth: xr.DataArray, tracks: DriftTracks, limits: DriftLimits) -> Candidates:
    """Cut each of the tracks off where worth an hour, over each cell, is greatest."""
    rate = worth_rates(worth, tracks, limits)
    rate[:, seconds_between(tracks.times[0], tracks.times) < limits.shortest_s] = 0.0
    last = np.argmax(rate, axis=1)
    best = rate[np.arange(len(rate)), last]
    return Candidates(tracks, np.where(best > 0, last, 0), best)


def worth_rates(
    worth: xr.DataArray,
    tracks: DriftTracks,
    limits: DriftLimits,
    *,
    idle_s: Floats | None = None,
) -> Floats:
    """Worth an hour of drifting to each point of each track, running straight back and setting up.

    0 after a track has ended.

    idle_s, shape (n,): seconds of running to each start, in place of those of running back.
    """
    seconds = seconds_between(tracks.times[0], tracks.times)
    metres = np.radians(np.stack(radii(np.asarray(tracks.latitude[:, 0]))))
    way = _Way(tracks.longitude, tracks.latitude, metres, seconds)
    back = 1.0 / limits.running_mps if idle_s is None else 0.0
    idle_s = np.zeros(len(tracks.cells)) if idle_s is None else idle_s
    idle_s = idle_s + limits.set_up_s + limits.lines_up_s
    return _rates(worth.values.ravel(), tracks.cells, way, idle_s, back)


def joined(parts: Sequence[Candidates]) -> Candidates:
    """Put candidates that were followed at the same moments into one table, in order."""
    tracks = [part.tracks for part in parts]
    return Candidates(
        DriftTracks(
            tracks[0].times,
            *(
                np.concatenate([getattr(track, name) for track in tracks])
                for name in ("longitude", "latitude", "depth_m", "ended", "cells")
            ),
        ),
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("last", "worth_per_hour")
        ),
    )


class _Way(NamedTuple):
    """Tracks, and metres of a degree along the parallel and the meridian at each start."""

    longitude: Floats
    latitude: Floats
    metres: Floats
    seconds: Floats


@compiled
def _rates(worth: NDArray[Any], cells: Ints, way: _Way, idle_s: Floats, back: float) -> Floats:
    """Worth an hour to each point: trapezoids over time, over the time that is spent."""
    rate = np.zeros(cells.shape)
    for boat in range(len(cells)):
        gathered = before = 0.0
        for at in range(len(way.seconds)):
            x, y, now = way.longitude[boat, at], way.latitude[boat, at], way.seconds[at]
            if not np.isfinite(x):
                break
            cell = cells[boat, at]
            here = float(worth[cell]) if cell >= 0 else 0.0
            here = here if np.isfinite(here) else 0.0
            if at:
                gathered += (here + before) / 2 * (now - way.seconds[at - 1])
            before = here
            east = (x - way.longitude[boat, 0] + 180.0) % 360.0 - 180.0
            north = y - way.latitude[boat, 0]
            back_m = np.hypot(east * way.metres[0, boat], north * way.metres[1, boat])
            rate[boat, at] = gathered / (now + idle_s[boat] + back_m * back)
    return rate
