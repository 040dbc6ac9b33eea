"""How likely soundings are depths of one bottom: a Gaussian field, its covariance from lines."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import nnls

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled, inlined
from seabed.robust import half_square
from seabed.soundings.checks.tracks import Track
from seabed.soundings.surface._roughness import matern

FEWEST_PIECES: Final = 12
"""Of a window, to tell anything."""

RANGES_M: Final = (16.0, 64.0, 256.0, 1024.0)
_TIDE_M: Final = 0.2  # how far a table may be off, one standard deviation (common practice)
_VAGUE_M2: Final = 100.0  # variance of a window's own level
_THREADS: Final = 2

DepthsAt = Callable[[Floats, Floats], Floats]
"""From places, metres east and north or degrees, to depths; NaN if there is none."""


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
    """Covariance so far apart; each of `RANGES_M` is a fourth of the next, so is its logarithm."""
    scaled = np.sqrt(3.0) * distance / RANGES_M[-1]
    fallen = np.exp(-scaled)
    total = 0.0
    for part in range(len(variances) - 1, -1, -1):
        total += variances[part] * (1.0 + scaled) * fallen
        scaled *= 4.0
        fallen = fallen * fallen
        fallen = fallen * fallen
    return total
