"""How far a drift may go astray: the same start under many waters and winds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.planning.drift import (
    DepthUnder,
    DriftTracks,
    Floats,
    Stops,
    Times,
    Velocity,
    drift_tracks,
)
from layers.planning.motor import held_along
from layers.water import Currents, Leeway, Wind
from layers.water.times import as_utc

__all__ = ["Doubt", "chance_of_staying", "fan", "share_in_band"]


@dataclass(frozen=True, slots=True)
class Doubt:
    """Standard deviations of what is not known about water and wind.

    The defaults are common practice, no source; leeway brings its own published spread.

    Attributes
    ----------
    current_share : float
        Of the current's speed.
    current_deg : float
        Of its direction.
    wind_share : float
        Of the wind's speed.
    wind_deg : float
        Of its direction.
    """

    current_share: float = 0.15
    current_deg: float = 10.0
    wind_share: float = 0.20
    wind_deg: float = 15.0


def fan(
    longitude: float,
    latitude: float,
    start: np.datetime64,
    *,
    currents: Currents,
    wind: Wind | None,
    leeway: Leeway,
    duration_s: float,
    members: int = 64,
    doubt: Doubt | None = None,
    depth_under: DepthUnder | None = None,
    stops: Stops | None = None,
    step_s: float = 30.0,
    held_mps: tuple[float, float] | None = None,
    motor_limit_mps: float = 1.0,
    along_deg: float | None = None,
    seed: int = 0,
) -> DriftTracks:
    """Drift from one start under many draws of current, wind and leeway.

    With `held_mps` the motor holds each boat along the water that it meets, or to the course
    `along_deg`, as far as its limit allows; beyond that the boat drifts free.

    Returns
    -------
    DriftTracks
        `members` tracks.  The same seed gives the same fan.
    """
    draw = np.random.default_rng(seed).standard_normal((6, members))
    water, push = _doubtful(currents, wind, leeway, doubt or Doubt(), draw)

    def velocity(times: Times, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        flow, air = water(times, x, y), push(times)
        free = flow[0] + air[0], flow[1] + air[1]
        if held_mps is None:
            return free
        along = held_along(
            flow, air, speed_mps=held_mps, limit_mps=motor_limit_mps, along_deg=along_deg
        )
        held = np.isfinite(along[0])
        return np.where(held, along[0], free[0]), np.where(held, along[1], free[1])

    return drift_tracks(
        np.full(members, longitude), np.full(members, latitude), start, velocity,
        duration_s=duration_s, step_s=step_s, depth_under=depth_under,
        least_depth_m=-np.inf, stops=stops,
    )  # fmt: skip


def share_in_band(tracks: DriftTracks, band_m: tuple[float, float]) -> float:
    """Share of all boats' time whose depth is in a band; a boat that was stopped is out of it.

    NaN without boats.
    """
    inside = _inside(tracks, band_m)
    return float(inside.mean()) if inside.size else float("nan")


def chance_of_staying(
    tracks: DriftTracks, band_m: tuple[float, float], *, of_time: float = 0.8
) -> float:
    """Chance that a boat spends a share of its drift in the band; NaN without boats."""
    inside = _inside(tracks, band_m)
    return float((inside.mean(axis=1) >= of_time).mean()) if inside.size else float("nan")


def _inside(tracks: DriftTracks, band_m: tuple[float, float]) -> NDArray[np.bool_]:
    with np.errstate(invalid="ignore"):
        inside: NDArray[np.bool_] = (tracks.depth_m >= band_m[0]) & (tracks.depth_m <= band_m[1])
    return inside


def _doubtful(
    currents: Currents, wind: Wind | None, leeway: Leeway, doubt: Doubt, draw: Floats
) -> tuple[Velocity, Callable[[Times], tuple[Floats, Floats]]]:
    """One water, and one leeway, for each boat (columns of `draw`), held through its drift."""
    current_share = np.maximum(0.0, 1 + doubt.current_share * draw[0])
    turn = np.radians(doubt.current_deg * draw[1])
    wind_share = np.maximum(0.0, 1 + doubt.wind_share * draw[2])

    def water(times: Times, longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
        east, north = currents.velocity(times, longitude, latitude)
        # a turn to the right is a growing bearing
        return (
            current_share * (east * np.cos(turn) + north * np.sin(turn)),
            current_share * (north * np.cos(turn) - east * np.sin(turn)),
        )

    def push(times: Times) -> tuple[Floats, Floats]:
        if wind is None:
            return np.zeros(draw.shape[1]), np.zeros(draw.shape[1])
        speed, from_deg = wind.at(as_utc(times))
        speed, from_deg = speed * wind_share, from_deg + doubt.wind_deg * draw[3]
        east, north = leeway.velocity(speed, from_deg)
        downwind, crosswind = leeway.spread(speed)
        toward = np.radians(from_deg + 180.0)
        along, across = downwind * draw[4], crosswind * draw[5]
        return (
            east + along * np.sin(toward) + across * np.cos(toward),
            north + along * np.cos(toward) - across * np.sin(toward),
        )

    return water, push
