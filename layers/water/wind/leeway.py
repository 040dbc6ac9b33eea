"""How the wind moves a boat through the water.

Linear leeway of drifting craft after the field experiments of Allen & Plourde (1999), "Review of
Leeway: Field Experiments and Implementation" (U.S. Coast Guard CG-D-08-99), and Allen (2005),
"Leeway Divergence" (CG-D-05-05).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from layers.water.currents.currents import vector
from seabed.array_types import Pair
from seabed.errors import WaterError

LIGHT_AIR_MPS: Final = 2.0
"""Below this the offset fades to nothing with the wind: no wind, no leeway.  Our choice, no source:
the experiments had more wind."""


@dataclass(frozen=True, slots=True)
class Leeway:
    """Leeway of one kind of craft, as a share of the wind at 10 m.

    Attributes
    ----------
    downwind_slope, crosswind_slope : float
        Metres a second for each metre a second of wind.
    downwind_offset_mps, crosswind_offset_mps : float
        Added to them.
    downwind_spread_mps, crosswind_spread_mps : float
        Standard deviation about them.
    left : (float, float, float) or None
        Crosswind slope, offset and spread of a boat that goes off to the left, positive to the
        right, where they are published apart; None is the mirror of the right.
    """

    downwind_slope: float
    downwind_offset_mps: float
    downwind_spread_mps: float
    crosswind_slope: float
    crosswind_offset_mps: float
    crosswind_spread_mps: float
    left: tuple[float, float, float] | None = None

    def velocity(self, wind_mps: Any, wind_from_deg: Any, *, crosswind: float = 0.0) -> Pair:
        """East and north of the leeway, m/s; NaN where the wind is.

        wind_mps, wind_from_deg: at 10 m, and the direction (degrees true) that it comes *from*.
        crosswind: 1 for a boat that drifts off to the right of downwind, -1 to the left, 0 for
        straight downwind: which side it takes can't be known beforehand.
        """
        wind = np.asarray(wind_mps, float)
        toward = np.asarray(wind_from_deg, float) + 180.0
        fade = np.clip(wind / LIGHT_AIR_MPS, 0.0, 1.0)
        along = self.downwind_slope * wind + self.downwind_offset_mps * fade
        slope, offset, _ = self._branch(left=crosswind < 0)
        across = abs(crosswind) * (slope * wind + offset * fade)
        east, north = vector(along, toward)
        side_east, side_north = vector(across, toward + 90.0)
        return east + side_east, north + side_north

    def spread(self, wind_mps: Any) -> Pair:
        """Give the standard deviation of the leeway, m/s: downwind; crosswind, to either side."""
        wind = np.asarray(wind_mps, float)
        fade = np.clip(wind / LIGHT_AIR_MPS, 0.0, 1.0)
        branches = (self._branch(left=False), self._branch(left=True))
        squares = [
            (slope * wind + offset * fade) ** 2 + (spread * fade) ** 2
            for slope, offset, spread in branches
        ]
        return self.downwind_spread_mps * fade, np.sqrt((squares[0] + squares[1]) / 2)

    def _branch(self, *, left: bool) -> tuple[float, float, float]:
        """Crosswind slope, offset and spread to one side, positive to the right of downwind."""
        if left and self.left is not None:
            return self.left
        sign = -1.0 if left else 1.0
        return (
            sign * self.crosswind_slope, sign * self.crosswind_offset_mps,
            self.crosswind_spread_mps,
        )  # fmt: skip


def _craft(*figures: float) -> Leeway:
    """Slopes in percent, offsets and spreads in cm/s, as printed."""
    plain = [figure / 100.0 for figure in figures]
    left = (plain[6], plain[7], plain[8]) if plain[6:] else None
    return Leeway(plain[0], plain[1], plain[2], plain[3], plain[4], plain[5], left)


CRAFT: Final[dict[str, Leeway]] = {
    "skiff, outboard": _craft(3.15, 0.0, 2.20, 1.29, 0.0, 2.20),
    "skiff, V-hull": _craft(2.87, 3.98, 3.33, 0.32, -2.93, 2.53, -0.62, 1.03, 3.05),
    "skiff, aluminium": _craft(2.52, 13.37, 3.87, 1.07, -3.58, 5.82),
    "sport boat": _craft(6.54, 0.0, 3.00, 2.19, 0.0, 2.80),
    "sport fisher": _craft(5.55, 0.0, 3.30, 2.27, 0.0, 3.00),
    "kayak with a person": _craft(1.16, 11.12, 4.12, 0.41, 0.0, 4.39),
}
"""Leeway by craft: downwind slope (%), offset, spread (cm/s); the same crosswind, to the right, and
to the left where it is not its mirror."""


def leeway_of(craft: str) -> Leeway:
    """Give the leeway of a craft of `CRAFT`, by name without regard to case.

    Raises
    ------
    WaterError
        If there is none of that name.

    Examples
    --------
    >>> leeway = leeway_of("skiff, V-hull")
    >>> east, north = leeway.velocity(4.0, 180.0)  # 4 m/s from the south
    >>> round(float(north), 2)
    0.15
    """
    names = {name.casefold(): name for name in CRAFT}
    name = names.get(craft.strip().casefold())
    if name is None:
        raise WaterError(f"unknown craft {craft!r}", do=f"Use one of: {'; '.join(CRAFT)}.")
    return CRAFT[name]
