"""The boat with its motor: held along the water at a wanted speed, where the motor can."""

from __future__ import annotations

import numpy as np

from layers.planning.drift import Floats, Times, Velocity
from layers.water import Currents, Leeway, Wind
from layers.water.times import as_utc

__all__ = ["held_along", "held_velocity"]


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
        return held_along(water, push, speed_mps=speed_mps, limit_mps=limit_mps)

    return velocity


def held_along(
    water: tuple[Floats, Floats],
    leeway: tuple[Floats, Floats],
    *,
    speed_mps: tuple[float, float],
    limit_mps: float,
) -> tuple[Floats, Floats]:
    """Velocity over the ground along the water with the least push; NaN where it can't be held.

    The same as `layers.water.trim` gives, without its angles, which cost more than all the rest.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        speed = np.hypot(*water)
        east, north = water[0] / speed, water[1] / speed
        free_east, free_north = water[0] + leeway[0], water[1] + leeway[1]
        ground = np.clip(free_east * east + free_north * north, *speed_mps)
        push = np.hypot(ground * east - free_east, ground * north - free_north)
        ground = np.where(push <= limit_mps, ground, np.nan)
    return ground * east, ground * north
