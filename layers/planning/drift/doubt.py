"""What is not known of current, wind, leeway and tide, drawn for many boats."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.special import ndtri

from layers.planning.drift._drift import Velocity
from layers.water import Currents, Leeway, Wind
from layers.water.currents.currents import own_spread, same_everywhere
from layers.water.learned.learned import too_doubtful
from layers.water.times import as_utc
from seabed.array_types import Floats, Pair, Times

PARTS: Final = 7
"""Rows of `draws`: current's speed and direction (or east and north), wind's speed and direction,
leeway downwind and crosswind, tide."""

RATIO_ROUNDS: Final = 60
LEAST_SHARE: Final = 1e-6
MOMENTS_KEPT: Final = 4


@dataclass(frozen=True, slots=True)
class Doubt:
    """Standard deviations of what is not known about water and wind.

    The defaults are common practice, no source; leeway brings its own published spread, and a
    current that was learned from drifts its own covariance in place of the two of the current here.

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
    height_m : float
        Of the tide's height, which air pressure and wind move.  It counts only downward, for the
        least water.
    """

    current_share: float = 0.15
    current_deg: float = 10.0
    wind_share: float = 0.20
    wind_deg: float = 15.0
    height_m: float = 0.15


@dataclass(frozen=True, slots=True)
class SureCurrents:
    """Currents that are unknown where they are too doubtful to plan by.

    A current that was learned from drifts says by its own covariance how doubtful it is: where 90 %
    of its speed takes in every direction, no drift is planned through it.
    """

    currents: Currents

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, as `Currents.velocity`."""
        east, north = self.currents.velocity(times, longitude, latitude)
        spread = own_spread(self.currents, times)
        if spread is None:
            return east, north
        sure = np.where(too_doubtful(east, north, spread), np.nan, 1.0)
        return east * sure, north * sure


def draws(members: int, seed: int = 0) -> Floats:
    """Draw standard normal deviates, a column a boat, shape (7, members).

    They are laid evenly over all seven at once, as steps round a circle for each, with a step that
    comes nowhere near a fraction of it (a Kronecker sequence: Niederreiter 1992, from a random
    place on).  A hundred boats then give a share as well as several hundred plain draws.
    """
    ratio = 2.0
    for _ in range(RATIO_ROUNDS):
        ratio = (1 + ratio) ** (1 / (PARTS + 1))
    steps = ratio ** -np.arange(1.0, PARTS + 1)
    first = np.random.default_rng(seed).uniform(size=PARTS)
    shares = (first[:, None] + steps[:, None] * np.arange(1, members + 1)) % 1.0
    return np.asarray(ndtri(np.clip(shares, LEAST_SHARE, 1 - LEAST_SHARE)), np.float64)


def lower_tides(doubt: Doubt, draw: Floats) -> Floats:
    """How many metres lower than predicted the tide is for each boat; never less than 0."""
    return np.asarray(np.maximum(0.0, doubt.height_m * draw[6]), np.float64)


def doubtful_velocity(
    currents: Currents, wind: Wind | None, leeway: Leeway, doubt: Doubt, draw: Floats
) -> Velocity:
    """Velocity over the ground, without a motor, of boats each in a water and wind of its own.

    draw, shape (7, members): from `draws`; each boat keeps its own through its drift.
    Returned: asked for n x members boats, those of the first drift first, where the boats of a
        drift have one time.
    """
    members = draw.shape[1]
    water = _water(currents, doubt, draw)
    air = _at_once(lambda moments: _air(wind, leeway, doubt, draw, moments))

    def velocity(times: Times, longitude: Floats, latitude: Floats) -> Pair:
        shape = -1, members
        flow = water(times.reshape(shape), longitude.reshape(shape), latitude.reshape(shape))
        push = air(times[::members])
        return (flow[0] + push[0]).ravel(), (flow[1] + push[1]).ravel()

    return velocity


def _water(currents: Currents, doubt: Doubt, draw: Floats) -> Any:
    """Give the current of each boat at times and places of shape (n, members)."""
    error = _at_once(lambda moments: _own_error(currents, draw, moments))
    share = np.maximum(0.0, 1 + doubt.current_share * draw[0])
    angle = np.radians(doubt.current_deg * draw[1])
    ahead, aside = share * np.cos(angle), share * np.sin(angle)

    def at(times: Times, longitude: Floats, latitude: Floats) -> Pair:
        moments = times[:, 0]
        if same_everywhere(currents):
            known = currents.velocity(moments, *np.zeros((2, len(moments))))
            east, north = np.stack(known)[:, :, None]
        else:
            east, north = (
                part.reshape(times.shape)
                for part in currents.velocity(times.ravel(), longitude.ravel(), latitude.ravel())
            )
        own = error(moments)
        if own is not None:
            return east + own[0], north + own[1]
        # a turn to the right is a growing bearing
        return ahead * east + aside * north, ahead * north - aside * east

    return at


def _own_error(currents: Currents, draw: Floats, moments: Times) -> Floats | None:
    """East and north error of a current that knows its own doubt, shape (2, n, members)."""
    spread = own_spread(currents, moments)
    if spread is None:
        return None
    known = np.isfinite(spread).all(axis=(1, 2))
    root = np.full(spread.shape, np.nan)
    root[known] = np.linalg.cholesky(spread[known])
    return np.asarray(np.einsum("nij,jm->inm", root, draw[:2]), np.float64)


def _air(wind: Wind | None, leeway: Leeway, doubt: Doubt, draw: Floats, moments: Times) -> Floats:
    """East and north of the leeway of each boat, shape (2, n, members)."""
    if wind is None:
        return np.zeros((2, len(moments), draw.shape[1]))
    speed_known, from_known = wind.at(as_utc(moments))
    speed = speed_known[:, None] * np.maximum(0.0, 1 + doubt.wind_share * draw[2])
    from_deg = from_known[:, None] + doubt.wind_deg * draw[3]
    east, north = leeway.velocity(speed, from_deg)
    downwind, crosswind = leeway.spread(speed)
    toward = np.radians(from_deg + 180.0)
    along, across = downwind * draw[4], crosswind * draw[5]
    return np.stack(
        [
            east + along * np.sin(toward) + across * np.cos(toward),
            north + along * np.cos(toward) - across * np.sin(toward),
        ]
    )


def _at_once(of: Callable[[Times], Any]) -> Callable[[Times], Any]:
    """Ask for a set of moments once: a step asks for its middle twice, and for its end again."""
    known: dict[bytes, Any] = {}

    def water_at(moments: Times) -> Any:
        key = moments.tobytes()
        if key not in known:
            if len(known) >= MOMENTS_KEPT:
                known.clear()
            known[key] = of(moments)
        return known[key]

    return water_at
