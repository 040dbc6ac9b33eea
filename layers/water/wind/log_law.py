"""Wind at the boat against wind 10 m up, as forecasts give it."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from seabed.array_types import Floats

KARMAN: Final = 0.4
CHARNOCK: Final = 0.011
AIR_VISCOSITY_M2S: Final = 1.5e-5
GRAVITY: Final = 9.81
AT_BOAT_M: Final = 2.0
"""Height over the water at which a skipper feels the wind, or holds a meter."""
LEAST_M, MOST_M = 0.5, 30.0
MOST_MPS: Final = 25.0
"""To which the law's roughness was fitted, about (Smith 1988)."""
ROUNDS: Final = 12


def wind_at(height_m: float, at_10_m_mps: Any) -> Floats:
    """Give the wind at a height over open water, of one at 10 m.

    The logarithmic law in neutral air; roughness of the waves with Charnock's 0.011, and of the
    smooth surface, after Smith (1988), "Coefficients for sea surface wind stress, heat flux, and
    wind profiles", J. Geophys. Res. 93, equations 4 to 6. In stable air, as over cold water in
    spring, there is less wind below than it says; near land more changes than the height. NaN
    beyond 0.5 to 30 m, or 25 m/s.
    """
    wind = np.asarray(at_10_m_mps, float)
    known = (wind >= 0) & (wind <= MOST_MPS) & (LEAST_M <= height_m <= MOST_M)
    share = _log_share(height_m, roughness(wind))
    return np.where(known, wind * share, np.nan)


def at_10_m(height_m: float, there_mps: Any) -> Floats:
    """Give the wind at 10 m of one at another height; the inverse of `wind_at`."""
    there = np.asarray(there_mps, float)
    wind = there
    for _ in range(ROUNDS):
        wind = there / _log_share(height_m, roughness(wind))
    known = (there >= 0) & (wind <= MOST_MPS) & (LEAST_M <= height_m <= MOST_M)
    return np.where(known, wind, np.nan)


def roughness(at_10_m_mps: Any) -> Floats:
    """Roughness length of the sea, metres, under a wind at 10 m."""
    wind = np.maximum(np.asarray(at_10_m_mps, float), 0.05)
    length = np.full(wind.shape, 1e-4)
    for _ in range(ROUNDS):
        friction = KARMAN * wind / np.log(10.0 / length)
        length = CHARNOCK * friction**2 / GRAVITY + 0.11 * AIR_VISCOSITY_M2S / friction
    return np.asarray(length, np.float64)


def _log_share(height_m: float, length: Floats) -> Floats:
    return np.asarray(np.log(max(height_m, 0.1) / length) / np.log(10.0 / length), np.float64)
