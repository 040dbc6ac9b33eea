"""What a day takes of the battery and of the fuel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from seabed.array_types import Floats
from seabed.errors import WaterError

CUBE: Final = 3.0
"""Power of a hull that only displaces goes with the cube of its speed through the water: drag with
the square (Hoerner 1965, chapter 11)."""
STEEPEST: Final = 6.0
READING_DOUBT: Final = 0.1
"""Of a reading of speed and current, as a share of the current; an ampere-meter moves with waves.
Common practice, no source."""
WATER_DOUBT: Final = 0.15
"""Of the push that wind and water ask for, as a share: that of the plan's own current."""
FASTER: Final = 1.25
"""No current is given for a push this many times as fast as the fastest reading."""
NORMAL_80: Final = 1.2816


@dataclass(frozen=True, slots=True)
class MotorCurve:
    """Current of the motor by push through the water: ``amps = a v^power``, through two readings.

    power: 3 of one reading.  at_mps, at_amps: the faster reading.
    """

    power: float
    at_mps: float
    at_amps: float

    def amps(self, push_mps: Any) -> Floats:
        """Give the current of a push; NaN far beyond the fastest reading."""
        push = np.asarray(push_mps, float)
        amps = self.at_amps * (push / self.at_mps) ** self.power
        return np.where(push <= FASTER * self.at_mps, amps, np.nan)


def motor_curve(readings: Sequence[tuple[float, float]]) -> MotorCurve:
    """Fit the curve of a motor to the skipper's readings, each speed (m/s) and current (A).

    Raises WaterError if two readings contradict each other: more speed for less current.
    """
    ordered = sorted(readings)
    fast = ordered[-1]
    if len(ordered) == 1:
        return MotorCurve(CUBE, *fast)
    slow = ordered[0]
    if not (slow[0] < fast[0] and slow[1] < fast[1]):
        raise WaterError(
            "two readings of the motor contradict each other",
            key="motor_readings",
            do="Give two speeds through the water with their current, the faster with more.",
        )
    power = float(np.log(fast[1] / slow[1]) / np.log(fast[0] / slow[0]))
    return MotorCurve(min(power, STEEPEST), *fast)


@dataclass(frozen=True, slots=True)
class Charge:
    """What some hours take of a battery, ampere-hours: least and greatest in eight of ten cases."""

    low_ah: float
    mean_ah: float
    high_ah: float


def charge_of(curve: MotorCurve, push_mps: Any, seconds: Any) -> Charge:
    """Add up the current of pushes over their seconds; NaN if one is far beyond the readings.

    The interval takes in the doubt of the readings, and of the push that the day asks for.
    """
    hours = np.asarray(seconds, float) / 3600.0
    mean = float((curve.amps(push_mps) * hours).sum())
    spread = np.hypot(READING_DOUBT, curve.power * WATER_DOUBT)
    return Charge(
        mean * float(np.exp(-NORMAL_80 * spread)), mean, mean * float(np.exp(NORMAL_80 * spread))
    )
