"""Where the boat was: soundings as tracks in metres, and the same a while earlier."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Pair
from seabed.compiled import compiled
from seabed.soundings.sounding_table import SOUNDINGS, degrees_of, metres_of, seconds_of

_MOST: Final = 1_000_000
_PIECE_M: Final = 8.0


@dataclass(frozen=True, slots=True)
class Track:
    """Good soundings: seconds, place, depth and line, arrays of one length."""

    seconds: Floats
    east: Floats
    north: Floats
    depth: Floats
    line: NDArray[np.int32]

    def taken(self, rows: Ints) -> Track:
        """Give some of them."""
        return Track(*(getattr(self, name)[rows] for name in self.__slots__))

    def moved(self, lag_s: float) -> Pair:
        """Places a lag earlier."""
        return (
            _earlier(self.seconds, self.east, self.line, lag_s),
            _earlier(self.seconds, self.north, self.line, lag_s),
        )


def without_lag(soundings: pd.DataFrame, lag_s: float) -> pd.DataFrame:
    """Move each sounding to where the boat was when its depth was true; a late sounder is positive.

    Moved along the line the boat sailed, beyond its end by its first or last step. ``time`` stays
    that of the log, and rows without a time or position are left as they are.
    """
    SOUNDINGS.check(soundings, "time", "longitude", "latitude", "line")
    if not lag_s or not len(soundings):
        return soundings
    seconds = seconds_of(soundings["time"])
    east, north = metres_of(soundings)
    known = np.flatnonzero(np.isfinite(seconds) & np.isfinite(east))
    line = soundings["line"].to_numpy()[known]
    for values in (east, north):
        values[known] = _earlier(seconds[known], values[known], line, lag_s)
    longitude, latitude = degrees_of(soundings, east, north)
    return soundings.assign(longitude=longitude, latitude=latitude)


def track_of(soundings: pd.DataFrame) -> Track:
    """Take the good soundings that have a time, a million at most."""
    seconds = seconds_of(soundings["time"])
    below = soundings["measured_m"].to_numpy(np.float64) + soundings["to_surface_m"].to_numpy()
    depth = soundings["depth_m"].to_numpy(np.float64)
    depth = np.where(np.isnan(depth), below, depth)
    east, north = metres_of(soundings)
    good = np.isfinite(depth) & np.isfinite(seconds) & np.isfinite(east + north)
    good &= (soundings["flag"] == "").to_numpy()
    rows = np.flatnonzero(good)
    rows = rows[:: len(rows) // _MOST + 1]
    line = soundings["line"].to_numpy()
    return Track(seconds, east, north, depth, line).taken(rows)


def pieces_of(track: Track) -> Track:
    """Take means over short pieces of lines, so that noise falls and there is less to compute."""
    step = np.hypot(np.diff(track.east, prepend=0.0), np.diff(track.north, prepend=0.0))
    fresh = np.diff(track.line, prepend=-1) != 0
    step[fresh] = 0.0
    length = np.cumsum(np.minimum(step, 10 * _PIECE_M))
    begun = length[np.maximum.accumulate(np.where(fresh, np.arange(len(length)), 0))]
    piece = np.cumsum(fresh | (np.diff(np.floor((length - begun) / _PIECE_M), prepend=0) > 0)) - 1
    count = np.bincount(piece)

    def mean(values: Floats) -> Floats:
        first = np.concatenate([[0], np.cumsum(count)[:-1]])
        origin = values[first]
        return np.asarray(origin + np.bincount(piece, values - origin[piece]) / count)

    line = track.line[np.concatenate([[0], np.cumsum(count)[:-1]])] if len(count) else track.line
    parts = (track.seconds, track.east, track.north, track.depth)
    seconds, east, north, depth = (mean(part) for part in parts) if len(count) else parts
    return Track(seconds, east, north, depth, line)


@compiled
def _earlier(seconds: Floats, values: Floats, line: NDArray[np.int32], lag_s: float) -> Floats:
    """Values a lag earlier on the same line; beyond its ends by the step there."""
    earlier = values.copy()
    size = len(values)
    first = 0
    while first < size:
        last = first
        while last + 1 < size and line[last + 1] == line[first]:
            last += 1
        k = first
        for i in range(first, last + 1):
            wanted = seconds[i] - lag_s
            while k < last - 1 and seconds[k + 1] < wanted:
                k += 1
            while k > first and seconds[k] > wanted:
                k -= 1
            if last > first:
                step = seconds[k + 1] - seconds[k]
                if step > 0:
                    share = (wanted - seconds[k]) / step
                    earlier[i] = values[k] + share * (values[k + 1] - values[k])
        first = last + 1
    return earlier
