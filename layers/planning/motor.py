"""The boat with its motor: held along the water at a wanted speed, where the motor can."""

from __future__ import annotations

import numpy as np

from layers.planning.drift import Floats, Times, Velocity
from layers.water import Currents, Leeway, Wind, set_and_drift, trim
from layers.water.currents import vector
from layers.water.times import as_utc

__all__ = ["held_velocity"]


def held_velocity(
    currents: Currents,
    wind: Wind | None,
    leeway: Leeway,
    *,
    speed_mps: tuple[float, float],
    limit_mps: float,
) -> Velocity:
    """Give the velocity over the ground of a boat held to the water's line.

    Along the direction the water runs, at the speed within `speed_mps` that needs the least push
    (`layers.water.trim`).  Where even that push is beyond the motor's limit, or the water stands
    still and has no direction, the velocity is NaN: such a drift is not planned.

    Parameters
    ----------
    currents, wind, leeway
        As `layers.water.boat_velocity`.
    speed_mps : (least, greatest)
        Wanted speed over the ground.
    limit_mps : float
        The most the motor drives the boat through the water.
    """

    def velocity(times: Times, longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
        water = currents.velocity(times, longitude, latitude)
        push = (np.zeros_like(water[0]), np.zeros_like(water[1]))
        if wind is not None:
            speed, from_deg = wind.at(as_utc(times))
            push = leeway.velocity(speed, from_deg)
        held = trim(water, push, speed_mps=speed_mps, limit_mps=limit_mps)
        ground = np.where(held.held, held.ground_mps, np.nan)
        return vector(ground, set_and_drift(*water)[0])

    return velocity
