"""Set and drift of the boat, and the push that turns it into the drift that is wanted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from layers.water.currents.currents import Currents, vector
from layers.water.times import as_utc
from layers.water.wind._wind import Wind
from layers.water.wind.leeway import Leeway
from seabed.array_types import Floats, Mask, Pair
from seabed.units import half_turned

NO_PUSH_MPS: Final = 1e-9


def set_and_drift(east_mps: Any, north_mps: Any) -> Pair:
    """Direction toward (degrees true, 0 to 360; NaN of no speed) and speed (m/s) of a velocity."""
    east, north = np.asarray(east_mps, float), np.asarray(north_mps, float)
    speed = np.hypot(east, north)
    toward = np.degrees(np.arctan2(east, north)) % 360.0
    return np.where(speed > 0, toward, np.nan), speed


def boat_velocity(
    currents: Currents, wind: Wind | None, leeway: Leeway
) -> Callable[[Any, Any, Any], Pair]:
    """Give the velocity over the ground of a boat adrift, current + leeway, at times and places.

    NaN where current or wind is unknown; without a wind the current alone.
    """

    def velocity(times: Any, longitude: Any, latitude: Any) -> Pair:
        east, north = currents.velocity(times, longitude, latitude)
        if wind is None:
            return east, north
        speed, from_deg = wind.at(as_utc(times))
        leeway_east, leeway_north = leeway.velocity(speed, from_deg)
        return east + leeway_east, north + leeway_north

    return velocity


@dataclass(frozen=True, slots=True)
class Trim:
    """The motor's push.

    heading_deg: of the push through the water; NaN where none is needed.
    push_mps: NaN where current or wind is unknown.
    ground_mps: along the line.
    held: whether the push is within the limit.
    """

    heading_deg: Floats
    push_mps: Floats
    ground_mps: Floats
    held: Mask


def trim(
    water: tuple[Any, Any],
    leeway: tuple[Any, Any],
    *,
    speed_mps: tuple[float, float],
    limit_mps: float,
    along_deg: Any = None,
) -> Trim:
    """Find the least push that makes a boat go along a line at a wanted speed.

    Without the motor the boat goes with water + leeway, each (east, north), m/s.  The push is what
    is missing to a velocity along the line, at the boat's own speed along it, held within the
    speeds wanted.

    along_deg: the line's direction; by default the water's own (unknown where it does not move).
    """
    water_east, water_north = (np.asarray(part, float) for part in water)
    east = water_east + np.asarray(leeway[0], float)
    north = water_north + np.asarray(leeway[1], float)
    if along_deg is None:
        along_deg = set_and_drift(water_east, water_north)[0]
    line_east, line_north = vector(1.0, along_deg)
    ground = np.clip(east * line_east + north * line_north, *speed_mps)
    push_east, push_north = ground * line_east - east, ground * line_north - north
    heading, push = set_and_drift(push_east, push_north)
    return Trim(
        heading_deg=np.where(push > NO_PUSH_MPS, heading, np.nan),
        push_mps=push,
        ground_mps=ground,
        held=push <= limit_mps,
    )


def wind_and_water(current_toward_deg: float, wind_from_deg: float) -> str:
    """Say "wind with the tide" (within 45 degrees), "against" or "across"; ``""`` if unknown."""
    apart = abs(half_turned(wind_from_deg + 180.0 - current_toward_deg))
    if np.isnan(apart):
        return ""
    if apart <= 45.0:
        return "wind with the tide"
    return "wind against the tide" if apart >= 135.0 else "wind across the tide"


def runge_kutta(
    slope: Callable[[float, Floats], Floats], at: float, state: Floats, step: float
) -> Floats:
    """Advance a state by a classical fourth-order step; `slope` gives its rate at (at, state)."""
    first = slope(at, state)
    second = slope(at + step / 2, state + first * (step / 2))
    third = slope(at + step / 2, state + second * (step / 2))
    fourth = slope(at + step, state + third * step)
    return np.asarray(state + (first + 2 * second + 2 * third + fourth) * (step / 6), np.float64)
