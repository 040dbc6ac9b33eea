"""The boat with its motor: held along the water at a wanted speed, where the motor can."""

from __future__ import annotations

from typing import Final

import numpy as np

from layers.planning.drift._drift import Velocity
from layers.water import Currents, Leeway, Wind
from layers.water.currents.currents import vector
from layers.water.motion import Trim
from layers.water.times import as_utc
from seabed.array_types import Floats, Mask, Pair, Times
from seabed.units import SPEED, half_turned

CHANGE_MPS: Final = 0.1 * SPEED["kn"]
CHANGE_DEG: Final = 10.0
NO_HEADING_MPS: Final = 0.05 * SPEED["kn"]
"""A trim that changes by more than these along a drift is printed for its start and its end; a
push below the last is none, and has no heading to speak of.  Our choice, no source."""


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
    (`layers.water.motion.trim`).  Where even that push is beyond the motor's limit, or the water
    does not move and has no direction, the velocity is NaN: such a drift is not planned.  With
    `along_deg` the boat is held to that course instead, and only while the water does not run
    against it.
    """

    def velocity(times: Times, longitude: Floats, latitude: Floats) -> Pair:
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
    water: Pair,
    leeway: Pair,
    *,
    speed_mps: tuple[float, float],
    limit_mps: float,
    along_deg: float | None = None,
) -> Pair:
    """Velocity over the ground along the water, or a course, with the least push; NaN if not held.

    As `layers.water.motion.trim`, without its angles, which cost more than all the rest.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        east, north = _way(water, along_deg)
        free_east, free_north = water[0] + leeway[0], water[1] + leeway[1]
        ground = np.clip(free_east * east + free_north * north, *speed_mps)
        push = np.hypot(ground * east - free_east, ground * north - free_north)
        ground = np.where(push <= limit_mps, ground, np.nan)
    return ground * east, ground * north


def _way(water: Pair, along_deg: float | None) -> Pair:
    """East and north part of the direction to hold."""
    if along_deg is None:
        speed = np.hypot(*water)
        return water[0] / speed, water[1] / speed
    east, north = vector(1.0, along_deg)
    with_it = np.where(water[0] * east + water[1] * north >= 0, 1.0, np.nan)
    return with_it * east, with_it * north


def trim_changes(start: Trim, end: Trim) -> Mask:
    """Whether the trim changes so much along drifts that both ends of it are printed."""
    apart_deg = np.abs(half_turned(end.heading_deg - start.heading_deg))
    headed = np.minimum(start.push_mps, end.push_mps) > NO_HEADING_MPS
    other = np.abs(end.push_mps - start.push_mps) > CHANGE_MPS
    return np.asarray(other | (headed & (apart_deg > CHANGE_DEG)), np.bool_)


def printed_pushes(start: Trim, end: Trim) -> Pair:
    """East and north of the push printed for the start and the end of drifts, each shape (2, n)."""
    first = np.stack(vector(start.push_mps, np.nan_to_num(start.heading_deg)))
    last = np.stack(vector(end.push_mps, np.nan_to_num(end.heading_deg)))
    return first, np.where(trim_changes(start, end), last, first)
