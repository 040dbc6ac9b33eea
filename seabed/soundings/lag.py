"""How late the sounder is against the receiver, found where lines cross or run side by side.

A sounder that is late puts the bottom behind the boat: lines run to and fro over a slope then show
it in two places.  (It is the latency part of the patch test of the hydrographic manuals, IHO C-13,
2005, chapter 3, spread over whatever lines there are.)  Here the lag is the one under which the
soundings of all lines, moved back along their tracks, are most likely depths of one bottom: a
Gaussian random field with a Matérn covariance (Matérn 1960; likelihood as in Mardia & Marshall
1984).  Covariance and noise are taken from how depth varies along single lines, which no lag and no
tide changes.  In each window of the ground an outing may be off by a constant of its own, as a
wrong tide makes it.  The standard error comes from leaving out windows (delete-a-group jackknife,
Efron & Stein 1981), and is not less than the curvature of the likelihood gives.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import nnls

from seabed.compiled import compiled, inlined
from seabed.soundings.levels import outings_of
from seabed.soundings.lines import centre_of
from seabed.soundings.plane import degrees_of, metres_of, seconds_of

__all__ = ["LagFit", "estimate_lag", "without_lag"]

_MOST: Final = 1_000_000
_LONGEST_S: Final = 8.0
_COARSE_S, _FINE_S = 0.5, 0.1
_PIECE_M: Final = 8.0
_WINDOW_M: Final = 160.0
_PIECES: Final = 96  # of a window, at most
_WINDOWS: Final = 150
_FEWEST_WINDOWS: Final = 4
_FEWEST_PIECES: Final = 12
_BEYOND: Final = 40  # pieces: at 30 m/s the boat passes 34 in 9 s
_TOLD_S: Final = 0.5
_GROUPS: Final = 20
_TIDE_M: Final = 0.2  # how far a table may be off, one standard deviation (common practice)
_RANGES_M: Final = (16.0, 64.0, 256.0, 1024.0)
_THREADS: Final = 2
_VAGUE_M2: Final = 100.0  # variance of a window's own level

Chart = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
Charted = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class LagFit:
    """How late the sounder is.

    Attributes
    ----------
    lag_s : float
        Seconds from the moment a depth was true to the moment it was logged; NaN if nothing
        tells.
    sigma_s : float
        Its standard error.
    windows : int
        Windows of the ground that tell of it: those passed in more than one direction.
    """

    lag_s: float
    sigma_s: float
    windows: int

    @property
    def told(self) -> bool:
        """Whether the soundings tell it to half a second."""
        return self.windows >= _FEWEST_WINDOWS and self.sigma_s < _TOLD_S


NOT_TOLD: Final = LagFit(float("nan"), float("inf"), 0)


@dataclass(frozen=True, slots=True)
class _Track:
    """Good soundings: seconds, place, depth and line, arrays of one length."""

    seconds: Floats
    east: Floats
    north: Floats
    depth: Floats
    line: NDArray[np.int32]

    def taken(self, rows: Ints) -> _Track:
        """Give some of them."""
        return _Track(*(getattr(self, name)[rows] for name in self.__slots__))

    def moved(self, lag_s: float) -> tuple[Floats, Floats]:
        """Places a lag earlier."""
        return (
            _earlier(self.seconds, self.east, self.line, lag_s),
            _earlier(self.seconds, self.north, self.line, lag_s),
        )


@dataclass(frozen=True, slots=True)
class _Bottom:
    """Covariance along a line: a variance for each of `_RANGES_M`, and noise; square metres."""

    variances: tuple[float, ...]
    noise: float


def estimate_lag(soundings: pd.DataFrame, *, chart: Chart | None = None) -> LagFit:
    """Estimate the lag of the sounder.

    Parameters
    ----------
    soundings : DataFrame
        With times, positions, and ``depth_m`` (where it is NaN, the depth below the surface is
        taken).  Flagged ones are not used.
    chart : callable, optional
        From longitudes and latitudes to the depths of a grid of the same ground, NaN off it.  The
        bottom is then looked for about it: any slope it shows helps, though it be coarse or off by
        a constant.

    Returns
    -------
    LagFit
        Looked for from -8 to 8 s.  At most 150 windows of 160 m are used, those with most relief.
    """
    track = _pieces(_track(soundings))
    if len(track.seconds) < _FEWEST_PIECES:
        return NOT_TOLD
    windows = _windows(track)
    if len(windows) < _FEWEST_WINDOWS:
        return NOT_TOLD
    outing, _ = outings_of(track.seconds)
    near = _round(windows, len(track.seconds))
    around, outing = track.taken(near), outing[near]
    windows_there = [np.searchsorted(near, window) for window in windows]
    charted = None if chart is None else _charted(chart, centre_of(soundings))
    coarse = np.arange(-_LONGEST_S, _LONGEST_S + 1e-9, _COARSE_S)
    best = 0.0
    for _ in range(2):  # the covariance about a chart is told best once positions are about right
        bottom = _bottom(track, _left(track, charted, best))
        likely = _likelihoods(around, windows_there, outing, bottom, coarse, charted)
        best = float(coarse[np.argmax(likely.sum(axis=0))])
        if charted is None:
            break
    if abs(best) >= _LONGEST_S:
        return NOT_TOLD
    fine = best + np.arange(-1.0, 1.0 + 1e-9, _FINE_S)
    return _peak(fine, _likelihoods(around, windows_there, outing, bottom, fine, charted))


def without_lag(soundings: pd.DataFrame, lag_s: float) -> pd.DataFrame:
    """Move each sounding to where the boat was when its depth was true.

    Parameters
    ----------
    soundings : DataFrame
    lag_s : float
        Seconds, positive if the sounder is late.

    Returns
    -------
    DataFrame
        A new table; ``longitude`` and ``latitude`` moved along the line the boat sailed, beyond the
        end of a line by its first or last step.  ``time`` stays that of the log, and rows without
        a time or position are left as they are.
    """
    if not lag_s or not len(soundings):
        return soundings
    seconds = seconds_of(soundings["time"])
    centre = centre_of(soundings)
    east, north = metres_of(
        soundings["longitude"].to_numpy(), soundings["latitude"].to_numpy(), centre=centre
    )
    known = np.flatnonzero(np.isfinite(seconds) & np.isfinite(east))
    line = soundings["line"].to_numpy()[known]
    for values in (east, north):
        values[known] = _earlier(seconds[known], values[known], line, lag_s)
    longitude, latitude = degrees_of(east, north, centre=centre)
    return soundings.assign(longitude=longitude, latitude=latitude)


def _track(soundings: pd.DataFrame) -> _Track:
    seconds = seconds_of(soundings["time"])
    below = soundings["measured_m"].to_numpy(np.float64) + soundings["to_surface_m"].to_numpy()
    depth = soundings["depth_m"].to_numpy(np.float64)
    depth = np.where(np.isnan(depth), below, depth)
    longitude, latitude = soundings["longitude"].to_numpy(), soundings["latitude"].to_numpy()
    good = np.isfinite(depth) & np.isfinite(seconds) & np.isfinite(longitude + latitude)
    good &= (soundings["flag"] == "").to_numpy()
    rows = np.flatnonzero(good)
    rows = rows[:: len(rows) // _MOST + 1]
    east, north = metres_of(longitude[rows], latitude[rows], centre=centre_of(soundings))
    line = soundings["line"].to_numpy()[rows]
    return _Track(seconds[rows], east, north, depth[rows], line)


def _pieces(track: _Track) -> _Track:
    """Means over short pieces of the lines, so that noise falls and there is less to reckon."""
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
    return _Track(seconds, east, north, depth, line)


def _windows(track: _Track) -> list[Ints]:
    """Pieces of each window of the ground that was passed in more than one direction.

    Those with the most relief, and of each at most so many pieces, whole stretches of them.
    """
    column, row = np.floor(track.east / _WINDOW_M), np.floor(track.north / _WINDOW_M)
    key = (row - row.min()) * (np.ptp(column) + 1) + column - column.min()
    _, window = np.unique(key, return_inverse=True)
    ahead, behind = track.moved(-1.0), track.moved(1.0)
    velocity = np.column_stack([ahead[0] - behind[0], ahead[1] - behind[1]]) / 2.0
    count = np.bincount(window)
    mean = [np.bincount(window, values) / count for values in velocity.T]
    square = np.bincount(window, (velocity**2).sum(axis=1)) / count
    relief = np.bincount(window, track.depth**2) / count
    relief -= (np.bincount(window, track.depth) / count) ** 2
    mixed = mean[0] ** 2 + mean[1] ** 2 < 0.8 * square
    worth = np.where(mixed & (count >= _FEWEST_PIECES), relief * square, 0.0)
    chosen = np.argsort(-worth)[:_WINDOWS]
    order = np.argsort(window, kind="stable")
    begins = np.concatenate([[0], np.cumsum(count)])
    return [
        _at_most(order[begins[number] : begins[number + 1]])
        for number in chosen
        if worth[number] > 0
    ]


def _round(windows: list[Ints], count: int) -> Ints:
    """Pieces of windows and, before and behind each, those that a lag may reach."""
    used = np.zeros(count + 2 * _BEYOND + 1, np.int64)
    rows = np.concatenate(windows)
    np.add.at(used, rows, 1)
    np.add.at(used, rows + 2 * _BEYOND + 1, -1)
    return np.flatnonzero(np.cumsum(used)[_BEYOND : count + _BEYOND] > 0)


def _at_most(rows: Ints) -> Ints:
    """Of too many pieces stretches of twelve, evenly spaced."""
    if len(rows) <= _PIECES:
        return rows
    stretches = np.linspace(0, len(rows) - 12, _PIECES // 12).astype(np.int64)
    return np.unique(rows[(stretches[:, None] + np.arange(12)).ravel()])


def _charted(chart: Chart, centre: tuple[float, float]) -> Callable[[Floats, Floats], Floats]:
    """Depths of the chart at metres from a centre."""

    def at(east: Floats, north: Floats) -> Floats:
        return np.asarray(chart(*degrees_of(east, north, centre=centre)), np.float64)

    return at


def _left(track: _Track, charted: Charted | None, lag_s: float) -> Floats:
    """Depths less those of the chart where the boat was a lag earlier; NaN off the chart."""
    return track.depth if charted is None else track.depth - charted(*track.moved(lag_s))


def _bottom(track: _Track, depth: Floats) -> _Bottom:
    """Fit the covariance to the variogram along lines (Cressie & Hawkins 1980)."""
    distances, halves, counts = [], [], []
    for step in (1, 2, 3, 4, 6, 8, 12, 16, 24):
        same = track.line[step:] == track.line[:-step]
        apart = np.hypot(
            track.east[step:] - track.east[:-step], track.north[step:] - track.north[:-step]
        )[same]
        root = np.sqrt(np.abs(depth[step:] - depth[:-step])[same])
        root, apart = root[np.isfinite(root)], apart[np.isfinite(root)]
        if len(root):
            distances.append(float(np.median(apart)))
            halves.append(0.5 * float(root.mean()) ** 4 / (0.457 + 0.494 / len(root)))
            counts.append(len(root))
    distance, gamma = np.array(distances), np.array(halves)
    weight = np.sqrt(np.array(counts)) / np.maximum(gamma, 1e-9)
    terms = np.column_stack(
        [np.ones(len(gamma)), *(1.0 - _matern(distance, range_m) for range_m in _RANGES_M)]
    )
    found, _ = nnls(terms * weight[:, None], gamma * weight)
    return _Bottom(tuple(found[1:].tolist()), max(float(found[0]), 1e-4))


def _matern(distance: Floats, range_m: float) -> Floats:
    """Correlation of smoothness 3/2."""
    scaled = np.sqrt(3.0) * distance / range_m
    return np.asarray((1.0 + scaled) * np.exp(-scaled))


def _likelihoods(  # noqa: PLR0917
    track: _Track,
    windows: list[Ints],
    outing: Ints,
    bottom: _Bottom,
    lags: Floats,
    charted: Charted | None,
) -> Floats:
    """Log likelihood of the depths of each window under each lag, shape (windows, lags)."""
    rows = np.concatenate(windows)
    moved = [track.moved(float(lag)) for lag in lags]
    east = np.array([place[0][rows] for place in moved])
    north = np.array([place[1][rows] for place in moved])
    depth = np.broadcast_to(track.depth[rows], east.shape)
    if charted is not None:
        depth = depth - charted(east.ravel(), north.ravel()).reshape(east.shape)
    known = np.asarray(np.isfinite(depth).all(axis=0))
    variances = np.array(bottom.variances)
    ends = np.cumsum([len(window) for window in windows])

    def of(number: int) -> Floats:
        first, end = int(ends[number]) - len(windows[number]), int(ends[number])
        use = first + np.flatnonzero(known[first:end])
        if len(use) < _FEWEST_PIECES:
            return np.zeros(len(lags))
        x, y, z = (np.ascontiguousarray(values[:, use]) for values in (east, north, depth))
        return _likely(x, y, z, outing[rows[use]], variances, bottom.noise)

    with ThreadPoolExecutor(_THREADS) as pool:
        return np.array(list(pool.map(of, range(len(windows)))))


@compiled
def _likely(  # noqa: PLR0917  (compiled functions take no keywords)
    east: Floats,
    north: Floats,
    depth: Floats,
    outing: Ints,
    variances: Floats,
    noise: float,
) -> Floats:
    """Log likelihood of a window under each lag; arrays of shape (lags, pieces).

    The window's bottom may be rougher or smoother than most: its scale is fitted.
    """
    lags, size = depth.shape
    found = np.empty(lags)
    root, white, column = np.empty((size, size)), np.empty(size), np.empty(size)
    for lag in range(lags):
        mean = depth[lag].mean()
        for i in range(size):
            white[i] = depth[lag, i] - mean
            for j in range(i + 1):
                step_e, step_n = east[lag, i] - east[lag, j], north[lag, i] - north[lag, j]
                distance = np.sqrt(step_e * step_e + step_n * step_n)
                fixed = _VAGUE_M2 + (_TIDE_M**2 if outing[i] == outing[j] else 0.0)
                root[i, j] = fixed + _covariance(distance, variances)
            root[i, i] += noise
        spread = square = 0.0
        for k in range(size):  # Cholesky, column by column, and the depths whitened with it
            pivot = np.sqrt(max(root[k, k], 1e-12))
            spread += np.log(pivot)
            white[k] /= pivot
            square += white[k] ** 2
            for i in range(k + 1, size):
                column[i] = root[i, k] / pivot
                white[i] -= column[i] * white[k]
            for i in range(k + 1, size):
                share = column[i]
                for j in range(k + 1, i + 1):
                    root[i, j] -= share * column[j]
        found[lag] = -0.5 * size * np.log(square / size) - spread
    return found


@inlined
def _covariance(distance: float, variances: Floats) -> float:
    """Covariance so far apart; each of `_RANGES_M` is a fourth of the next, so is its logarithm."""
    scaled = np.sqrt(3.0) * distance / _RANGES_M[-1]
    fallen = np.exp(-scaled)
    total = 0.0
    for part in range(len(variances) - 1, -1, -1):
        total += variances[part] * (1.0 + scaled) * fallen
        scaled *= 4.0
        fallen = fallen * fallen
        fallen = fallen * fallen
    return total


def _peak(lags: Floats, likely: Floats) -> LagFit:
    """Top of the summed likelihood, by a parabola, and its error."""
    top, curvature = _parabola(lags, likely.sum(axis=0))
    if not np.isfinite(top):
        return NOT_TOLD
    groups = min(_GROUPS, len(likely))
    left_out = np.array(
        [
            _parabola(lags, np.delete(likely, np.s_[group::groups], axis=0).sum(axis=0))[0]
            for group in range(groups)
        ]
    )
    left_out = np.where(np.isfinite(left_out), left_out, lags[-1])
    jackknife = float(np.sqrt((groups - 1) / groups * ((left_out - left_out.mean()) ** 2).sum()))
    return LagFit(top, max(jackknife, float(1.0 / np.sqrt(curvature))), len(likely))


def _parabola(lags: Floats, likely: Floats) -> tuple[float, float]:
    """Top of a parabola through the likelihoods around the greatest, and its curvature."""
    at = int(np.argmax(likely))
    if not 0 < at < len(lags) - 1:
        return float("nan"), 0.0
    near = slice(max(at - 4, 0), at + 5)
    bend, slope, _ = np.polyfit(lags[near] - lags[at], likely[near], 2)
    if bend >= 0:
        return float("nan"), 0.0
    return float(lags[at] - slope / (2 * bend)), float(-2 * bend)


@compiled
def _earlier(seconds: Floats, values: Floats, line: NDArray[np.int32], lag_s: float) -> Floats:
    """Values a lag earlier on the same line; beyond its ends by the step there."""
    found = values.copy()
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
                    found[i] = values[k] + share * (values[k + 1] - values[k])
        first = last + 1
    return found
