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
    along_deg: float | None = None,
) -> Velocity:
    """Give the velocity over the ground of a boat held to the water's line.

    Along the direction the water runs, at the speed within `speed_mps` that needs the least push
    (`layers.water.trim`).  Where even that push is beyond the motor's limit, or the water stands
    still and has no direction, the velocity is NaN: such a drift is not planned.  With `along_deg`
    the boat is held to that course instead.

    Parameters
    ----------
    currents, wind, leeway
        As `layers.water.boat_velocity`.
    speed_mps : (least, greatest)
        Wanted speed over the ground.
    limit_mps : float
        The most the motor drives the boat through the water.
    along_deg : float, optional
        A course, degrees true.
    """

    def velocity(times: Times, longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
        water = currents.velocity(times, longitude, latitude)
        push = (np.zeros_like(water[0]), np.zeros_like(water[1]))
        if wind is not None:
            speed, from_deg = wind.at(as_utc(times))
            push = leeway.velocity(speed, from_deg)
        return held_along(
            water, push, speed_mps=speed_mps, limit_mps=limit_mps, along_deg=along_deg
        )

    return velocity


def held_along(
    water: tuple[Floats, Floats],
    leeway: tuple[Floats, Floats],
    *,
    speed_mps: tuple[float, float],
    limit_mps: float,
    along_deg: float | None = None,
) -> tuple[Floats, Floats]:
    """Velocity over the ground along the water, or a course, with the least push.

    NaN where it can't be held.

    The same as `layers.water.trim` gives, without its angles, which cost more than all the rest.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        east, north = _way(water, along_deg)
        free_east, free_north = water[0] + leeway[0], water[1] + leeway[1]
        ground = np.clip(free_east * east + free_north * north, *speed_mps)
        push = np.hypot(ground * east - free_east, ground * north - free_north)
        ground = np.where(push <= limit_mps, ground, np.nan)
    return ground * east, ground * north


def _way(water: tuple[Floats, Floats], along_deg: float | None) -> tuple[Floats, Floats]:
    """East and north part of the direction to hold."""
    if along_deg is None:
        speed = np.hypot(*water)
        return water[0] / speed, water[1] / speed
    known = np.where(np.isfinite(water[0]), 1.0, np.nan)
    along = np.radians(along_deg)
    return known * np.sin(along), known * np.cos(along)
