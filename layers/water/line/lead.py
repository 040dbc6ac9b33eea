"""How much lead holds the bottom, and what the angle of a line says of the current."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from layers.water.line.cable import MOST_ANGLE_DEG, Tackle, shape_of
from seabed.array_types import Floats
from seabed.errors import UnitError, WaterError
from seabed.units import parse_length, parse_weight

SPEEDS_MPS: Final = np.linspace(0.02, 2.0, 100)
LEADS_KG: Final = np.geomspace(0.003, 1.0, 24)
LEAST_DEPTH_M, MOST_DEPTH_M = 1.5, 60.0
"""Shallower, the rod and the waves count; deeper, no profile of one tidal current holds.  Our
choice, no source."""
LEAST_LEAD_KG, MOST_LEAD_KG = 0.002, 2.0

ANGLE_DOUBT_DEG: Final = 4.0
"""Of an angle by eye; of its direction 10 degrees.  Common practice, no source."""
TOWARD_DOUBT_DEG: Final = 10.0
DRAG_DOUBT: Final = 0.2
"""Of drag: the coefficient, a line that strums, and its diameter (Berteaux 1976, chapter 4, has 1.2
to 2 for strumming ropes)."""
RIG_DOUBT: Final = 0.5
DEPTH_DOUBT: Final = 0.05
NORMAL_80: Final = 1.2816


def least_lead_kg(
    depth_m: Any,
    water: tuple[Any, Any],
    boat: tuple[Any, Any],
    *,
    angle_deg: float,
    tackle: Tackle,
) -> Floats:
    """Find the least lead that touches the bottom with a line no further from straight down.

    3 g where less would do. NaN where a kilogram would not, where something is not known, and in
    water of less than 1.5 m or more than 60 m. water, boat: as `shape_of`, each of shape (n,).

    >>> kg = least_lead_kg([7.62], ([0.0], [0.31]), ([0.0], [0.0]), angle_deg=30, tackle=Tackle())
    >>> (kg / 0.02835).round(1).tolist()  # ounces
    [1.0]
    """
    depth, *flows = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(part, float)) for part in (depth_m, *water, *boat))
    )
    east, north, over_east, over_north = (part[:, None] for part in flows)
    angles = shape_of(
        LEADS_KG, depth[:, None], (east, north), (over_east, over_north), tackle=tackle
    ).angle_deg
    angles = np.where(np.isnan(angles), 90.0, angles)
    known = np.isfinite(depth + sum(flows)) & (depth >= LEAST_DEPTH_M) & (depth <= MOST_DEPTH_M)
    least = np.full(depth.shape, np.nan)
    for row in np.flatnonzero(known & (angles[:, -1] <= angle_deg)):
        least[row] = np.exp(np.interp(-angle_deg, -angles[row], np.log(LEADS_KG)))
    return least


def fastest_mps(
    leads_kg: Sequence[float], depth_m: float, *, angle_deg: float, tackle: Tackle
) -> Floats:
    """Give up to which speed of the water past the boat each lead holds the bottom at an angle."""
    angles = _angles(np.asarray(leads_kg, float)[:, None], depth_m, tackle)
    return np.array([np.interp(angle_deg, row, SPEEDS_MPS) for row in angles])


@dataclass(frozen=True, slots=True)
class LineSeen:
    """The line of a boat that holds still over the ground.

    angle_deg: from straight down, where it enters the water.
    toward_deg: from the boat, degrees true: where the water runs.
    """

    angle_deg: float
    toward_deg: float
    lead_kg: float
    depth_m: float


@dataclass(frozen=True, slots=True)
class CurrentSeen:
    """A current at the surface that a line shows, with its standard deviations."""

    speed_mps: float
    toward_deg: float
    speed_sd_mps: float
    toward_sd_deg: float

    @property
    def interval(self) -> tuple[float, float]:
        """The speed between which it is in eight of ten cases."""
        half = NORMAL_80 * self.speed_sd_mps
        return max(self.speed_mps - half, 0.0), self.speed_mps + half


def current_of(line: LineSeen, tackle: Tackle) -> CurrentSeen:
    """Find the current that a line at hold shows: the speed that gives `shape_of` its angle.

    Its doubt is that of angle, drag, rig and depth together.  Raises WaterError of an angle over 75
    degrees, a depth out of 1.5 to 60 m, or a weight that no lead has.
    """
    if not LEAST_DEPTH_M <= line.depth_m <= MOST_DEPTH_M:
        raise WaterError(
            f"a line does not show the current in water of {line.depth_m:.1f} m",
            do=f"Give a depth of {LEAST_DEPTH_M:g} to {MOST_DEPTH_M:g} m, with the lead at the "
            "bottom.",
        )
    if not LEAST_LEAD_KG <= line.lead_kg <= MOST_LEAD_KG:
        raise WaterError(
            f"a lead of {line.lead_kg * 1000:.0f} g can't be right", do="Give 2 g to 2 kg."
        )
    if not 0.0 <= line.angle_deg <= MOST_ANGLE_DEG:
        raise WaterError(
            f"an angle of {line.angle_deg:g} degrees does not show the current",
            do=f"Give the angle from straight down, at most {MOST_ANGLE_DEG:g} degrees; with more "
            "lead it is smaller.",
        )

    def speed(
        angle: float = line.angle_deg, drag: float = 1.0, rig: float = 1.0, deep: float = 1.0
    ) -> float:
        gear = replace(tackle, rig_area_m2=tackle.rig_area_m2 * rig)
        angles = _angles(np.array([[line.lead_kg]]), line.depth_m * deep, gear, drag)[0]
        return float(np.interp(max(angle, 0.0), angles, SPEEDS_MPS, left=0.0))

    best = speed()
    steps = [
        (speed(line.angle_deg + ANGLE_DOUBT_DEG) - speed(line.angle_deg - ANGLE_DOUBT_DEG)) / 2,
        (speed(drag=1 + DRAG_DOUBT) - speed(drag=1 - DRAG_DOUBT)) / 2,
        (speed(rig=1 + RIG_DOUBT) - speed(rig=1 - RIG_DOUBT)) / 2,
        (speed(deep=1 + DEPTH_DOUBT) - speed(deep=1 - DEPTH_DOUBT)) / 2,
    ]
    return CurrentSeen(
        best, line.toward_deg, float(np.sqrt(np.square(steps).sum())), TOWARD_DOUBT_DEG
    )


_LINE: Final = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s*(?:deg|degrees|°)\s+(?:to|toward|towards)\s+(\d+(?:\.\d+)?)\s*°?\s*,"
    r"\s*([^,]+?)\s*,\s*([^,]+?)\s*",
    re.I,
)


def parse_line(text: str) -> LineSeen:
    """Read a line at hold: ``"30 deg toward 160, 1.5 oz, 25 ft"``: angle, way, lead, depth."""
    match = _LINE.fullmatch(text)
    try:
        if match is None or float(match[2]) > 360:
            raise UnitError("no line")
        lead, depth = parse_weight(match[3]), parse_length(match[4])
    except UnitError as error:
        raise WaterError(
            f"can't read the line {text!r}",
            do='Write its angle from straight down, where it goes, the lead and the depth: "30 deg '
            'toward 160, 1.5 oz, 25 ft".',
        ) from error
    return LineSeen(float(match[1]), float(match[2]) % 360.0, lead, depth)


def _angles(lead_kg: Any, depth_m: float, tackle: Tackle, drag: float = 1.0) -> Floats:
    """Angles by the speeds of `SPEEDS_MPS`, rising; 90 where the lead does not hold."""
    flow = (np.zeros(SPEEDS_MPS.shape), SPEEDS_MPS)
    angle = shape_of(lead_kg, depth_m, flow, tackle=tackle, drag=drag).angle_deg
    return np.maximum.accumulate(np.where(np.isnan(angle), 90.0, angle), axis=-1)
