"""Wind waves by fetch, depth and current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Pair

GRAVITY: Final = 9.81

LEAST_WIND_MPS, MOST_WIND_MPS = 3.0, 20.0
"""Winds to which the growth curves were fitted, about; from memory.  Outside no number is given."""
STEEP: Final = 1 / 20
"""Height over length from which waves are short and steep: a wind sea in still water has some 1/27
(Young & Verhagen's curves at 10 m/s over 5 km).  Our choice, no source."""
HIGHEST: Final = 1.67
"""The highest of a hundred waves over their significant height (Longuet-Higgins 1952)."""
MICHE: Final = 0.142
"""Height over length at which a wave breaks in deep water (Miche 1944)."""
HEIGHT_DOUBT: Final = 0.3
"""Standard deviation of a wave height, as a share: a fifth for the curves' own spread (from
memory), and a fifth of the wind, which goes in to the power 1.2."""
ROUNDS: Final = 60
LEAST_SEA_M: Final = 0.25
"""Lower waves put no open boat of 5-6 m in danger.  Our choice, no source."""

RIPPLES: Final = "ripples"
UNKNOWN_GALE: Final = "beyond what is known"
BREAKING: Final = "breaking"
SHORT: Final = "short and steep"
NO_WAVES: Final = ""
SEA_WORDS: Final = (BREAKING, SHORT, UNKNOWN_GALE, RIPPLES)
"""The worst first."""


@dataclass(frozen=True, slots=True)
class Waves:
    """Waves, each array of one shape.

    height_m: significant height, the mean of the highest third; NaN where no number is known.
    period_s, length_m: of the peak, over the ground; on the current.
    words: "ripples" (below 3 m/s of wind), "short and steep", "breaking", "beyond what is known"
        (more wind than the curves know) or ``""``.
    still_m: significant height without the current.
    """

    height_m: Floats
    period_s: Floats
    length_m: Floats
    words: NDArray[np.object_]
    still_m: Floats

    @property
    def steepness(self) -> Floats:
        """Height over length."""
        return self.height_m / self.length_m


def grown(wind_mps: Any, fetch_m: Any, depth_m: Any) -> Pair:
    """Give significant height and peak period of waves grown over a fetch of some depth.

    Young & Verhagen (1996), "The growth of fetch limited waves in water of finite depth", Coastal
    Engineering 29, equations 25 to 29, fitted on Lake George: constants from memory. wind_mps: at
    10 m. NaN outside 3 to 20 m/s of wind, and without fetch or depth.

    >>> height, period = grown(20 * 0.514444, 5000.0, 10.0)
    >>> round(float(height), 2), round(float(period), 1)
    (0.36, 2.5)
    """
    wind, fetch, depth = np.broadcast_arrays(
        *(np.asarray(part, float) for part in (wind_mps, fetch_m, depth_m))
    )
    known = (wind >= LEAST_WIND_MPS) & (wind <= MOST_WIND_MPS) & (fetch > 0) & (depth > 0)
    wind, fetch, depth = (np.where(known, part, np.nan) for part in (wind, fetch, depth))
    far, deep = GRAVITY * fetch / wind**2, GRAVITY * depth / wind**2
    by_depth = np.tanh(0.493 * deep**0.75)
    energy = 3.64e-3 * (by_depth * np.tanh(3.13e-3 * far**0.57 / by_depth)) ** 1.74
    by_depth = np.tanh(0.331 * deep**1.01)
    peak = 0.133 * (by_depth * np.tanh(5.215e-4 * far**0.73 / by_depth)) ** -0.37
    return 4 * np.sqrt(energy) * wind**2 / GRAVITY, wind / (GRAVITY * peak)


def wave_number(period_s: Any, depth_m: Any, along_mps: Any = 0.0) -> Floats:
    """Give the wave number of a period over the ground, on a current along the waves.

    The root of (omega - k U)^2 = g k tanh(k d) whose energy goes with the waves (Phillips 1977,
    chapter 3); NaN where an opposing (negative) current leaves none: the waves are blocked.
    """
    omega = 2 * np.pi / np.asarray(period_s, float)
    depth, along = np.asarray(depth_m, float), np.asarray(along_mps, float)
    k = np.maximum(omega**2 / GRAVITY, omega / np.sqrt(GRAVITY * depth)) * np.ones(
        np.broadcast(omega, depth, along).shape
    )
    for flow in (0.0, along):  # Newton on a concave function comes to its first root from below
        for _ in range(ROUNDS):
            own, group = _own(k, depth)
            rising = group + flow
            step = (omega - own - k * flow) / np.where(rising > 0, rising, np.nan)
            k = k + step
    own, _ = _own(k, depth)
    with np.errstate(invalid="ignore"):
        held = np.abs(own + k * along - omega) < 1e-6 * omega
    return np.where(held & (k > 0), k, np.nan)


def on_current(height_m: Any, period_s: Any, depth_m: Any, along_mps: Any) -> Pair:
    """Give height and wave number of waves that come out of still water onto a current.

    The period over the ground stays, and wave action is conserved along the way: height^2 (cg + U)
    / sigma (Longuet-Higgins & Stewart 1961; Bretherton & Garrett 1968; Phillips 1977, chapter 3).
    NaN where the current blocks the waves.

    >>> height, _ = on_current(0.36, 2.5, 10.0, -0.5144)  # against 1 kn
    >>> round(float(height), 2)
    0.51
    """
    still = wave_number(period_s, depth_m)
    there = wave_number(period_s, depth_m, along_mps)
    depth = np.asarray(depth_m, float)
    own, group = _own(there, depth)
    own_still, group_still = _own(still, depth)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (own / own_still) * group_still / (group + np.asarray(along_mps, float))
    return np.asarray(height_m, float) * np.sqrt(share), there


def waves(wind_mps: Any, fetch_m: Any, depth_m: Any, along_mps: Any) -> Waves:
    """Give the waves that a wind at 10 m raises over a fetch of a mean depth, on a current.

    Heights are held down to what does not break: where the highest of a hundred waves is as high as
    Miche (1944) lets one be, 0.142 of its length times tanh(k d), the sea is breaking. along_mps:
    current the way that the wind blows, negative against it; NaN is taken as none.
    """
    shape = np.broadcast(wind_mps, fetch_m, depth_m, along_mps).shape
    wind, fetch, depth, along = (
        np.broadcast_to(np.asarray(part, float), shape)
        for part in (wind_mps, fetch_m, depth_m, along_mps)
    )
    still_m, period = grown(wind, fetch, depth)
    height, k = on_current(still_m, period, depth, np.nan_to_num(along))
    blocked = np.isfinite(still_m) & np.isnan(k)
    most = MICHE * (2 * np.pi / k) * np.tanh(k * depth) / HIGHEST
    with np.errstate(invalid="ignore"):
        breaking = blocked | (height > most)
        steep = height * k / (2 * np.pi) >= STEEP
        calm = (wind < LEAST_WIND_MPS) & (fetch > 0)
        gale = (wind > MOST_WIND_MPS) & (fetch > 0)
    words = np.select(
        [breaking, steep, calm, gale], [BREAKING, SHORT, RIPPLES, UNKNOWN_GALE], NO_WAVES
    ).astype(object)
    return Waves(np.minimum(height, most), period, 2 * np.pi / k, words, still_m)


def _own(k: Floats, depth: Floats) -> Pair:
    """Give frequency and group speed in the water's own frame."""
    deep = np.minimum(k * depth, 300.0)
    own = np.sqrt(GRAVITY * k * np.tanh(deep))
    group = own / (2 * k) * (1 + 2 * deep / np.sinh(2 * deep))
    return own, group
