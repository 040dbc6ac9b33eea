"""Boats that hold a printed trim in other waters than forecast, by other tools than the planner's.

Nothing here is shared with `layers`: the integrator is scipy's RK45, places are metres on a plane,
the water, wind, leeway and their errors are drawn here, and the hand is written from what
docs/methods.md says of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer
from scipy.integrate import solve_ivp

__all__ = ["SKIFF_V_HULL", "Shares", "Sheet", "World", "plane_at", "shares_of"]

Floats = NDArray[np.float64]

NODE_S = 30.0

SKIFF_V_HULL = (0.0287, 0.0398, 0.0333, 0.0032, -0.0293, 0.0253)
"""Allen & Plourde (1999): slope, offset (m/s) and standard deviation downwind, then crosswind."""


@dataclass(frozen=True)
class World:
    """Water as forecast, in seconds and metres.

    Attributes
    ----------
    current : callable
        (seconds, x, y) to east and north.
    wind : callable
        (seconds) to speed and direction from; None is no wind.
    depth : callable
        (x, y) to charted depth; NaN on land.
    tide : callable
        (seconds) to height above chart datum.
    leeway : six figures, as `SKIFF_V_HULL`
    own_root : callable or None
        (seconds) to the square root, 2 x 2, of the current's own covariance, which then takes the
        place of the share and the turn.
    wander_s : float
        The time in which errors forget what they were; infinity is never, as the planner assumes.
    times : float
        Of the errors that are stated.
    plotter_m : float
        Error, to each side, of the place that the skipper sees at a look; the planner has none.
    """

    current: Callable[..., Any]
    wind: Callable[..., Any] | None
    depth: Callable[..., Any]
    tide: Callable[..., Any] = lambda seconds: 0.0
    leeway: tuple[float, ...] = SKIFF_V_HULL
    own_root: Callable[..., Any] | None = None
    wander_s: float = np.inf
    times: float = 1.0
    plotter_m: float = 0.0


@dataclass(frozen=True)
class Sheet:
    """What a plan says of one drift.

    Attributes
    ----------
    begin_s, lasts_s : float
        Begin on the world's clock; how long the drift is.
    seconds, x, y : ndarray, shape (m,)
        Where the boat is to be when.
    push_start, push_end : (east, north)
        Of the motor, m/s.
    correct_every_s, motor_limit_mps : float
    free : bool
        Whether nothing is held.
    """

    begin_s: float
    lasts_s: float
    seconds: Floats
    x: Floats
    y: Floats
    push_start: Any
    push_end: Any
    correct_every_s: float = 300.0
    motor_limit_mps: float = 1.03
    free: bool = False


@dataclass(frozen=True)
class Shares:
    """What came of a drift: shares of time and of boats."""

    in_band: float
    stays: float
    stopped: float
    ends: Floats
    """Of the boats, shape (2, boats), metres."""


def plane_at(longitude: float, latitude: float) -> Transformer:
    """Give a plane in metres about a place, true to distances from it."""
    return Transformer.from_crs(
        "EPSG:4326",
        f"+proj=aeqd +lon_0={longitude} +lat_0={latitude} +ellps=WGS84 +units=m",
        always_xy=True,
    )


def shares_of(
    sheet: Sheet, world: World, band: tuple[float, float], *, boats: int = 400, seed: int = 1,
    least_water: float = 1.5,
) -> Shares:  # fmt: skip
    """Follow boats through a drift, each with errors of its own."""
    random = np.random.default_rng(seed)
    errors = errors_of(world, random, boats, sheet.lasts_s)
    lower = np.maximum(0.0, 0.15 * errors(0.0)[6])
    moments = np.linspace(0.0, sheet.lasts_s, 301)
    looks = [0.0, sheet.lasts_s]
    if not sheet.free and np.isfinite(sheet.correct_every_s):
        looks = [*np.arange(0.0, sheet.lasts_s - 1e-6, sheet.correct_every_s), sheet.lasts_s]
    place = np.array([np.full(boats, sheet.x[0]), np.full(boats, sheet.y[0])])
    added = np.zeros((2, boats))
    times, tracks = [np.zeros(1)], [place[:, :, None]]
    last_look: tuple[float, Floats] | None = None
    for begin, end in pairwise(looks):
        seen = place + world.plotter_m * random.normal(size=place.shape) * (begin > 0)
        if last_look is not None:
            added = hand(sheet, begin, seen, added, last_look)
        last_look = begin, seen
        inside = moments[(moments > begin + 1e-6) & (moments < end - 1e-6)]
        found = solve_ivp(
            lambda after, state, added=added: velocity(sheet, world, errors, added, after, state),
            (begin, end), place.ravel(), t_eval=[*inside, end], rtol=1e-6, atol=1e-3,
        )  # fmt: skip
        piece = found.y.reshape(2, boats, -1)
        place = piece[:, :, -1]
        times.append(found.t)
        tracks.append(piece)
    at = np.concatenate(times)
    whole = np.concatenate(tracks, axis=2)
    charted = world.depth(whole[0], whole[1])
    under = charted + world.tide(sheet.begin_s + at)[None] - lower[:, None]
    stopped = np.maximum.accumulate(~(under >= least_water), axis=1)
    good = ((charted >= band[0]) & (charted <= band[1]) & ~stopped).astype(float)
    share = (good[:, :-1] + good[:, 1:]) / 2 @ np.diff(at) / sheet.lasts_s
    return Shares(
        float(share.mean()), float((share >= 0.8).mean()),
        float(stopped[:, -1].mean()), whole[:, :, -1],
    )  # fmt: skip


def errors_of(
    world: World, random: np.random.Generator, boats: int, lasts_s: float
) -> Callable[[float], Floats]:
    """Give each boat's seven errors at seconds after the start, in standard deviations."""
    nodes = np.arange(0.0, lasts_s + NODE_S, NODE_S)
    steps = random.normal(size=(len(nodes), 7, boats))
    keep = np.exp(-NODE_S / world.wander_s)
    for node in range(1, len(nodes)):
        steps[node] = keep * steps[node - 1] + np.sqrt(1 - keep**2) * steps[node]
    steps *= world.times

    def errors(after: float) -> Floats:
        place = int(after // NODE_S)
        share = after / NODE_S - place
        later = steps[min(place + 1, len(steps) - 1)]
        return np.asarray(steps[place] + share * (later - steps[place]))

    return errors


def velocity(
    sheet: Sheet,
    world: World,
    errors_at: Callable[[float], Floats],
    added: Floats,
    after: float,
    state: Floats,
) -> Floats:
    """Of all boats over the ground."""
    x, y = state.reshape(2, -1)
    errors = errors_at(after)
    seconds = sheet.begin_s + after
    ahead = complex_of(*world.current(seconds, x, y))
    if world.own_root is not None:
        root = world.own_root(seconds)
        ahead = ahead + complex_of(*(root @ errors[:2]))
    else:
        # a bearing that grows turns a vector of east + i north clockwise
        turned = np.exp(-1j * np.radians(10.0 * errors[1]))
        ahead = ahead * np.maximum(0.0, 1 + 0.15 * errors[0]) * turned
    if world.wind is not None:
        ahead = ahead + leeway(world, errors, seconds)
    push = motor(sheet, after, added)
    return np.concatenate([ahead.real + push[0], ahead.imag + push[1]])


def leeway(world: World, errors: Floats, seconds: float) -> Any:
    """East + i north of each boat's leeway: the mean of both sides, and its published spread."""
    speed, from_deg = world.wind(seconds)  # type: ignore[misc]
    speed = speed * np.maximum(0.0, 1 + 0.20 * errors[2])
    downwind = 1j * np.exp(-1j * np.radians(from_deg + 15.0 * errors[3] + 180.0))
    slope, offset, spread, side_slope, side_offset, side_spread = world.leeway
    fade = np.clip(speed / 2.0, 0.0, 1.0)
    along = slope * speed + offset * fade + spread * fade * errors[4]
    either = np.sqrt((side_spread * fade) ** 2 + (side_slope * speed + side_offset * fade) ** 2)
    right = downwind * -1j
    return along * downwind + either * errors[5] * right


def motor(sheet: Sheet, after: float, added: Floats) -> Floats:
    """Push as printed and what the hand adds, within the limit."""
    share = after / sheet.lasts_s
    printed = (1 - share) * np.asarray(sheet.push_start) + share * np.asarray(sheet.push_end)
    push = printed[:, None] + added
    size = np.linalg.norm(push, axis=0)
    over = size > sheet.motor_limit_mps
    push[:, over] *= sheet.motor_limit_mps / size[over]
    return push


def hand(
    sheet: Sheet, now: float, place: Floats, added: Floats, last_look: tuple[float, Floats]
) -> Floats:
    """Give what each skipper adds to the printed push from this look to the next."""
    then, was = last_look
    every = sheet.correct_every_s

    def planned(after: float) -> Floats:
        after = min(after, sheet.lasts_s)
        return np.array([np.interp(after, sheet.seconds, sheet.x),
                         np.interp(after, sheet.seconds, sheet.y)])  # fmt: skip

    made = (place - was) / (now - then)
    wanted = ((planned(now) - planned(then)) / (now - then))[:, None]
    middle = (now + then) / 2
    given = motor(sheet, middle, added) - motor(sheet, middle, np.zeros_like(added))
    set_off = made - wanted - given
    way = planned(now + every) - planned(now)
    left = np.array([-way[1], way[0]]) / np.hypot(*way)
    off_line = left @ (place - planned(now)[:, None])
    return -set_off - off_line * left[:, None] / every


def complex_of(east: Any, north: Any) -> Any:
    """East + i north."""
    return np.asarray(east) + 1j * np.asarray(north)
