"""The shape of a line with a lead at the bottom, in water that runs past it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from layers.water.motion import runge_kutta
from seabed.array_types import Floats

GRAVITY: Final = 9.81
SEA_DENSITY: Final = 1025.0
LEAD_DENSITY: Final = 11_340.0
VISCOSITY_M2S: Final = 1.2e-6
"""Of sea water of 13 degrees; of 5 degrees 1.6e-6, which adds some 5 % to a thin line's drag."""

SPHERE_DRAG: Final = 0.47
"""Of a sphere below the critical Reynolds number (Hoerner 1965, chapter 3)."""
RIG_DRAG: Final = 1.1
"""Of a plate across the flow, on the area of bait and blades (Hoerner 1965, chapter 3)."""
ALONG: Final = 0.02
"""Drag along a line over that across it, for the same speed (Pode 1951; Hoerner 1965)."""
DENSITIES: Final = {"braid": 970.0, "mono": 1140.0, "fluorocarbon": 1780.0}
"""Of the line's material, kg/m3: polyethylene, nylon, polyvinylidene fluoride."""

STEPS: Final = 16
MOST_ANGLE_DEG: Final = 75.0
"""Beyond this the lead hardly counts, and no figure is given."""


@dataclass(frozen=True, slots=True)
class Tackle:
    """Line and rig: a material of `DENSITIES`, and the area of bait and blades across the flow."""

    material: str = "braid"
    diameter_m: float = 0.25e-3
    rig_area_m2: float = 2e-4


def profile(share: Any) -> Floats:
    """Speed at a share of the depth over the bottom, over that at the surface.

    Soulsby (1997), "Dynamics of Marine Sands", equations 28 and 29: (z / 0.32 h)^(1/7) of the mean
    speed in the lower half, 1.07 of it above. For tidal currents, not near slack water.

    >>> profile([0.0, 0.02, 0.5, 1.0]).round(2).tolist()
    [0.0, 0.63, 1.0, 1.0]
    """
    return np.minimum((np.asarray(share, float) / 0.32) ** (1 / 7) / 1.07, 1.0)


def wire_drag(speed_mps: Any, diameter_m: float) -> Floats:
    """Drag coefficient of a smooth cylinder across the flow, by its Reynolds number.

    1 + 10 Re^(-2/3): White (1991), "Viscous Fluid Flow", equation 3-225, for Re of 1 to 200,000; it
    follows the measurements that Hoerner (1965, chapter 3) shows.
    """
    reynolds = np.maximum(np.asarray(speed_mps, float) * diameter_m / VISCOSITY_M2S, 1e-3)
    return np.asarray(1 + 10 * reynolds ** (-2 / 3), np.float64)


@dataclass(frozen=True, slots=True)
class Shape:
    """How a line hangs; NaN where the lead can't hold it.

    angle_deg: from straight down, at the surface.
    toward_deg: where the line goes to from the boat, degrees true.
    length_m: from the surface to the lead.
    """

    angle_deg: Floats
    toward_deg: Floats
    length_m: Floats


def shape_of(
    lead_kg: Any,
    depth_m: Any,
    water: tuple[Any, Any],
    boat: tuple[Any, Any] = (0.0, 0.0),
    *,
    tackle: Tackle = Tackle(),
    drag: float = 1.0,
) -> Shape:
    """Find the shape of a line whose lead just touches the bottom.

    Forces on a piece of line balance: tension, weight, drag across it and along it (Pode 1951;
    Berteaux 1976, "Buoy Engineering", chapter 4), in three dimensions, as water and boat need not
    go the same way. Integrated from the lead up, fourth order of Runge and Kutta.
    water, boat: (east, north), m/s: the current at the surface, below it follows `profile`; the
    boat with line and lead over the ground. drag: factor of all drag, for its doubt.

    >>> shape = shape_of(0.0425, 7.62, (0.0, 0.3))  # an ounce and a half, 25 ft, 0.6 kn
    >>> round(float(shape.angle_deg)), float(shape.toward_deg)
    (20, 0.0)
    """
    lead, depth, *flows = np.broadcast_arrays(
        *(np.asarray(part, float) for part in (lead_kg, depth_m, *water, *boat))
    )
    surface, ground = np.stack(flows[:2]), np.stack(flows[2:])
    weight = lead * GRAVITY * (1 - SEA_DENSITY / LEAD_DENSITY)
    own = GRAVITY * (DENSITIES[tackle.material] - SEA_DENSITY) * np.pi * tackle.diameter_m**2 / 4
    area = np.pi * (3 * lead / (4 * np.pi * LEAD_DENSITY)) ** (2 / 3)
    size = np.cbrt(3 * lead / (4 * np.pi * LEAD_DENSITY))
    half = SEA_DENSITY / 2 * drag
    by_lead = surface * profile(size / depth) - ground
    pull = half * (SPHERE_DRAG * area + RIG_DRAG * tackle.rig_area_m2) * np.hypot(*by_lead)
    # pull of the water on all below, east and north; pull down; length
    state = np.stack([*(pull * by_lead), weight, np.zeros(lead.shape)])

    def slope(root: float, now: Floats) -> Floats:
        share = root**3  # close steps at the bottom, where the profile is steep
        flow = np.stack([*(surface * profile(share) - ground), np.zeros(lead.shape)])
        up = np.stack([-now[0], -now[1], now[2]]) / np.sqrt((now[:3] ** 2).sum(axis=0))
        along = (flow * up).sum(axis=0) * up
        across = flow - along
        fast, slow = (np.sqrt((part**2).sum(axis=0)) for part in (across, along))
        wire = half * tackle.diameter_m * wire_drag(fast, tackle.diameter_m)
        force = wire * fast * across + ALONG * wire * slow * along
        rise = 3 * root**2 * depth / np.where(up[2] > 0.05, up[2], np.nan)
        return np.stack([force[0], force[1], own - force[2], np.ones(lead.shape)]) * rise

    for step in range(STEPS):
        state = runge_kutta(slope, step / STEPS, state, 1 / STEPS)
    side = np.hypot(state[0], state[1])
    angle = np.degrees(np.arctan2(side, state[2]))
    with np.errstate(invalid="ignore"):
        known = angle <= MOST_ANGLE_DEG
    toward = np.degrees(np.arctan2(state[0], state[1])) % 360.0
    return Shape(
        np.where(known, angle, np.nan),
        np.where(known & (side > 0), toward, np.nan),
        np.where(known, state[3], np.nan),
    )
