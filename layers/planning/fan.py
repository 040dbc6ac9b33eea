"""How far a drift may go astray: the same start under many waters and winds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from layers.planning.drift import DepthUnder, DriftTracks, Floats, Times, Velocity, drift_tracks
from layers.water import Currents, Leeway, Wind, set_and_drift, trim
from layers.water.currents import vector
from layers.water.times import as_utc

__all__ = ["Doubt", "fan", "share_in_band"]


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
    least_depth_m: float = 0.0,
    step_s: float = 30.0,
    held_mps: tuple[float, float] | None = None,
    motor_limit_mps: float = 1.0,
    seed: int = 0,
) -> DriftTracks:
    """Drift from one start under many draws of current, wind and leeway.

    With `held_mps` the motor holds each boat along the water that it meets, as far as its limit
    allows; beyond that the boat drifts free.

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
        held = trim(flow, air, speed_mps=held_mps, limit_mps=motor_limit_mps)
        along = vector(held.ground_mps, set_and_drift(*flow)[0])
        return np.where(held.held, along[0], free[0]), np.where(held.held, along[1], free[1])

    return drift_tracks(
        np.full(members, longitude), np.full(members, latitude), start, velocity,
        duration_s=duration_s, step_s=step_s, depth_under=depth_under, least_depth_m=least_depth_m,
    )  # fmt: skip


def share_in_band(tracks: DriftTracks, band_m: tuple[float, float]) -> float:
    """Share of all boats' points whose depth of water is in a band; NaN with no points."""
    afloat = np.isfinite(tracks.longitude)
    in_band = (tracks.depth_m >= band_m[0]) & (tracks.depth_m <= band_m[1])
    return float(in_band[afloat].mean()) if afloat.any() else float("nan")


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
