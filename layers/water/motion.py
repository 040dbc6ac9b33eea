"""Set and drift of the boat, and the push that turns it into the drift that is wanted."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.water.currents import Currents
from layers.water.leeway import Leeway
from layers.water.times import as_utc
from layers.water.wind import Wind

__all__ = ["boat_velocity", "set_and_drift"]

Floats = NDArray[np.float64]


def set_and_drift(east_mps: Any, north_mps: Any) -> tuple[Floats, Floats]:
    """Direction toward (degrees true, 0 to 360) and speed (m/s) of a velocity.

    The direction of no speed at all is NaN.
    """
    east, north = np.asarray(east_mps, float), np.asarray(north_mps, float)
    speed = np.hypot(east, north)
    toward = np.degrees(np.arctan2(east, north)) % 360.0
    return np.where(speed > 0, toward, np.nan), speed


def boat_velocity(
    currents: Currents, wind: Wind | None, leeway: Leeway, *, crosswind: float = 0.0
) -> Callable[[Any, Any, Any], tuple[Floats, Floats]]:
    """Give the velocity over the ground of a boat that lies to: current + leeway.

    Parameters
    ----------
    currents : Currents
    wind : Wind or None
        None is no wind.
    leeway : Leeway
    crosswind : float
        As `Leeway.velocity`.

    Returns
    -------
    callable
        (times, longitude, latitude) to east and north, m/s; NaN where current or wind is unknown.
    """

    def velocity(times: Any, longitude: Any, latitude: Any) -> tuple[Floats, Floats]:
        east, north = currents.velocity(times, longitude, latitude)
        if wind is None:
            return east, north
        speed, from_deg = wind.at(as_utc(times))
        leeway_east, leeway_north = leeway.velocity(speed, from_deg, crosswind=crosswind)
        return east + leeway_east, north + leeway_north

    return velocity
