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
from scipy.optimize import nnls

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled, inlined
from seabed.geodesy import sinusoidal_degrees
from seabed.notebook import NotebookTable
from seabed.robust import half_square
from seabed.soundings.checks.tracks import Track, pieces_of, track_of
from seabed.soundings.sounding_table import SOUNDINGS, middle_of
from seabed.soundings.surface._levels import outings_of
from seabed.soundings.surface._roughness import matern

_LONGEST_S: Final = 8.0
_COARSE_S, _FINE_S = 0.5, 0.1
_WINDOW_M: Final = 160.0
_PIECES: Final = 96  # of a window, at most
_WINDOWS: Final = 150
_FEWEST_WINDOWS: Final = 4
_BEYOND: Final = 40  # pieces: at 30 m/s the boat passes 34 in 9 s
_SURE_S: Final = 0.5
_GROUPS: Final = 20

FEWEST_PIECES: Final = 12
"""Of a window, to tell anything."""

RANGES_M: Final = (16.0, 64.0, 256.0, 1024.0)
_TIDE_M: Final = 0.2  # how far a table may be off, one standard deviation (common practice)
_VAGUE_M2: Final = 100.0  # variance of a window's own level
_THREADS: Final = 2

DepthsAt = Callable[[Floats, Floats], Floats]
"""From places, metres east and north or degrees, to depths; NaN if there is none."""


@dataclass(frozen=True, slots=True)
class LagFit(NotebookTable):
    """Seconds from when a depth was true to when it was logged; NaN if it can't be found.

    windows: of the ground, that show it: those passed in more than one direction.
    """

    lag_s: float
    sigma_s: float
    windows: int

    @property
    def sure(self) -> bool:
        """Whether the soundings show it to half a second."""
        return self.windows >= _FEWEST_WINDOWS and self.sigma_s < _SURE_S


UNKNOWN: Final = LagFit(np.nan, np.inf, 0)


def estimate_lag(soundings: pd.DataFrame, *, chart: DepthsAt | None = None) -> LagFit:
    """Estimate the lag of the sounder, from -8 to 8 s, by 150 windows of ground with most relief.

    soundings: where ``depth_m`` is NaN, the depth below the surface is taken; flagged ones are not
        used.
    chart: from longitudes and latitudes to the depths of a grid of the same ground, NaN off it.
        The bottom is then looked for about it: any slope it shows helps, even a coarse chart or one
        that is off by a constant.
    """
    SOUNDINGS.check(soundings)
    track = pieces_of(track_of(soundings))
    if len(track.seconds) < FEWEST_PIECES:
        return UNKNOWN
    windows = _windows(track)
    if len(windows) < _FEWEST_WINDOWS:
        return UNKNOWN
    outing, _ = outings_of(track.seconds)
    near = _round(windows, len(track.seconds))
    around, outing = track.taken(near), outing[near]
    windows_there = [np.searchsorted(near, window) for window in windows]
    charted = None if chart is None else _charted(chart, middle_of(soundings))
    coarse = np.arange(-_LONGEST_S, _LONGEST_S + 1e-9, _COARSE_S)
    best = 0.0
    for _ in range(2):  # the covariance about a chart fits best once positions are about right
        bottom = bottom_along(track, _left(track, charted, best))
        likely = likelihoods(around, windows_there, outing, bottom, coarse, charted)
        best = float(coarse[np.argmax(likely.sum(axis=0))])
        if charted is None:
            break
    if abs(best) >= _LONGEST_S:
        return UNKNOWN
    fine = best + np.arange(-1.0, 1.0 + 1e-9, _FINE_S)
    return _peak(fine, likelihoods(around, windows_there, outing, bottom, fine, charted))


def _windows(track: Track) -> list[Ints]:
    """Pieces of each window of the ground that was passed in more than one direction.

    Those with the most relief, and of each at most `_PIECES` pieces, in whole stretches.
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
    worth = np.where(mixed & (count >= FEWEST_PIECES), relief * square, 0.0)
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


def _charted(chart: DepthsAt, centre: tuple[float, float]) -> DepthsAt:
    """Depths of the chart at metres from a centre."""

    def at(east: Floats, north: Floats) -> Floats:
        return np.asarray(chart(*sinusoidal_degrees(east, north, centre=centre)), np.float64)

    return at


def _left(track: Track, charted: DepthsAt | None, lag_s: float) -> Floats:
    """Depths less those of the chart where the boat was a lag earlier; NaN off the chart."""
    return track.depth if charted is None else track.depth - charted(*track.moved(lag_s))


def _peak(lags: Floats, likely: Floats) -> LagFit:
    """Top of the summed likelihood, by a parabola, and its error."""
    top, curvature = _parabola(lags, likely.sum(axis=0))
    if not np.isfinite(top):
        return UNKNOWN
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


@dataclass(frozen=True, slots=True)
class LineCovariance:
    """Covariance along a line: a variance for each of `RANGES_M`, and noise; square metres."""

    variances: tuple[float, ...]
    noise: float


def bottom_along(track: Track, depth: Floats) -> LineCovariance:
    """Fit the covariance to the variogram along lines (Cressie & Hawkins 1980)."""
    distances, halves, counts = [], [], []
    for step in (1, 2, 3, 4, 6, 8, 12, 16, 24):
        same = track.line[step:] == track.line[:-step]
        apart = np.hypot(
            track.east[step:] - track.east[:-step], track.north[step:] - track.north[:-step]
        )[same]
        change = (depth[step:] - depth[:-step])[same]
        change, apart = change[np.isfinite(change)], apart[np.isfinite(change)]
        if len(change):
            distances.append(float(np.median(apart)))
            halves.append(half_square(change))
            counts.append(len(change))
    distance, gamma = np.array(distances), np.array(halves)
    weight = np.sqrt(np.array(counts)) / np.maximum(gamma, 1e-9)
    terms = np.column_stack(
        [np.ones(len(gamma)), *(1.0 - matern(distance / range_m) for range_m in RANGES_M)]
    )
    (noise, *variances), _ = nnls(terms * weight[:, None], gamma * weight)
    return LineCovariance(tuple(map(float, variances)), max(float(noise), 1e-4))


def likelihoods(  # noqa: PLR0917
    track: Track,
    windows: list[Ints],
    outing: Ints,
    bottom: LineCovariance,
    lags: Floats,
    charted: DepthsAt | None,
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
        if len(use) < FEWEST_PIECES:
            return np.zeros(len(lags))
        x, y, z = (np.ascontiguousarray(values[:, use]) for values in (east, north, depth))
        return _likely(x, y, z, outing[rows[use]], variances, bottom.noise)

    with ThreadPoolExecutor(_THREADS) as pool:
        return np.array(list(pool.map(of, range(len(windows)))))


@compiled
def _likely(  # noqa: PLR0917  (compiled functions take no keywords)
    east: Floats, north: Floats, depth: Floats, outing: Ints, variances: Floats, noise: float
) -> Floats:
    """Log likelihood of a window under each lag; arrays of shape (lags, pieces).

    The window's bottom may be rougher or smoother than most: its scale is fitted.
    """
    lags, size = depth.shape
    likely = np.empty(lags)
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
        likely[lag] = -0.5 * size * np.log(square / size) - spread
    return likely


@inlined
def _covariance(distance: float, variances: Floats) -> float:
    """Covariance at a distance; each of `RANGES_M` is a fourth of the next, so is its logarithm."""
    scaled = np.sqrt(3.0) * distance / RANGES_M[-1]
    fallen = np.exp(-scaled)
    total = 0.0
    for part in range(len(variances) - 1, -1, -1):
        total += variances[part] * (1.0 + scaled) * fallen
        scaled *= 4.0
        fallen = fallen * fallen
        fallen = fallen * fallen
    return total
