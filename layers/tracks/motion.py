"""Positions to metres, and speeds that noise does not make."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from seabed.array_types import Floats
from seabed.compiled import compiled

_SPEED_ERROR: Final = 0.25  # m/s, wanted of short speeds


def seconds_of(time: Any) -> Floats:
    """Seconds since 1970 of a column of UTC times."""
    stamps = np.asarray(time.dt.tz_convert(None).to_numpy(), "datetime64[ns]")
    return stamps.astype(np.int64) / 1e9


def noise_of(time_s: Floats, x: Floats, y: Floats) -> float:
    """Estimate the standard deviation of the positions' fast noise along one axis, metres.

    From the median size of second differences of time-weighted neighbours (a robust form of
    Rice's estimator), so that speed and outliers hardly count.  Zero with fewer than three fixes.
    """
    if len(time_s) < 3:
        return 0.0
    before, after = np.diff(time_s)[:-1], np.diff(time_s)[1:]
    whole = np.where(before + after > 0, before + after, 1.0)
    share = after / whole
    scale = np.sqrt(1.0 + share**2 + (1.0 - share) ** 2)
    sizes = [np.abs(v[1:-1] - share * v[:-2] - (1.0 - share) * v[2:]) / scale for v in (x, y)]
    return float(np.median(np.concatenate(sizes)) / 0.6745)


def smoothing_s(time_s: Floats, noise_m: float) -> float:
    """Half the window that brings noise in speed down to a quarter of a metre a second.

    The slope of a straight line through n points spaced by dt with noise s has the standard
    deviation s * sqrt(12 / n**3) / dt.
    """
    spacing = float(np.median(np.diff(time_s)))
    wanted = float(np.cbrt(12.0 * spacing * (noise_m / _SPEED_ERROR) ** 2))
    return min(max(wanted, 12.0), 90.0) / 2.0


@compiled
def running_median(values: Floats, half: int) -> Floats:
    """Median of each value and `half` neighbours either side; fewer at the ends, evenly."""
    count = values.size
    smooth = np.empty(count)
    sorted_values = np.empty(2 * half + 1)
    for i in range(count):
        reach = min(half, i, count - 1 - i)
        size = 2 * reach + 1
        for k in range(size):
            value = values[i - reach + k]
            at = k
            while at > 0 and sorted_values[at - 1] > value:
                sorted_values[at] = sorted_values[at - 1]
                at -= 1
            sorted_values[at] = value
        smooth[i] = sorted_values[reach]
    return smooth


@compiled
def local_lines(
    time_s: Floats, x: Floats, y: Floats, centres: Floats, half_s: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Fit straight motion around moments, rising: positions and velocities by least squares.

    half_s: fixes within this many seconds of a moment count; always at least two either side of or
        next to it.
    """
    count, moments = time_s.size, centres.size
    px, py = np.empty(moments), np.empty(moments)
    vx, vy = np.empty(moments), np.empty(moments)
    low = 0
    high = 0
    for i in range(moments):
        centre = centres[i]
        while low < count and time_s[low] < centre - half_s:
            low += 1
        while high < count and time_s[high] <= centre + half_s:
            high += 1
        first, last = low, high
        while last - first < 2:
            if first == 0:
                last += 1
            elif last == count or centre - time_s[first - 1] <= time_s[last] - centre:
                first -= 1
            else:
                last += 1
        size = last - first
        mean_t, mean_x, mean_y = 0.0, 0.0, 0.0
        for k in range(first, last):
            mean_t += time_s[k] - centre
            mean_x += x[k]
            mean_y += y[k]
        mean_t /= size
        mean_x /= size
        mean_y /= size
        stt, stx, sty = 0.0, 0.0, 0.0
        for k in range(first, last):
            dt = time_s[k] - centre - mean_t
            stt += dt * dt
            stx += dt * (x[k] - mean_x)
            sty += dt * (y[k] - mean_y)
        vx[i] = stx / stt
        vy[i] = sty / stt
        px[i] = mean_x - vx[i] * mean_t
        py[i] = mean_y - vy[i] * mean_t
    return px, py, vx, vy
