"""What may come otherwise than planned: wind, current, or the skipper."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from layers.planning.drift._setting import DayWater
from layers.planning.ground.proven_lines import RotatedCurrents
from layers.water import Wind
from seabed.array_types import Floats


@dataclass(frozen=True, slots=True)
class Scenario:
    """What may come otherwise.

    wind_shift_deg: right-handed (veering) above 0.
    wind_times, current_times: of their speeds.
    late_s: how much later every line is begun.
    """

    name: str
    wind_shift_deg: float = 0.0
    wind_times: float = 1.0
    current_times: float = 1.0
    late_s: float = 0.0

    def applied_to(self, water: DayWater) -> DayWater:
        """Give the water and wind as they then are."""
        wind = water.wind
        if wind is not None and (self.wind_shift_deg, self.wind_times) != (0.0, 1.0):
            wind = ShiftedWind(wind, self.wind_shift_deg, self.wind_times)
        currents = water.currents
        if self.current_times != 1.0:
            currents = RotatedCurrents(currents, complex(self.current_times))
        return replace(water, wind=wind, currents=currents)


SCENARIOS: Final = (
    Scenario("wind backs 45 degrees", wind_shift_deg=-45.0),
    Scenario("wind veers 45 degrees", wind_shift_deg=45.0),
    Scenario("wind freshens by half", wind_times=1.5),
    Scenario("an hour late", late_s=3600.0),
    Scenario("current 30 % stronger", current_times=1.3),
    Scenario("current 30 % weaker", current_times=0.7),
)


@dataclass(frozen=True, slots=True)
class ShiftedWind:
    """A wind turned and strengthened."""

    wind: Wind
    shift_deg: float
    times: float

    def at(self, times: Any) -> tuple[Floats, Floats]:
        """Speed and direction from, as `Wind.at`."""
        speed, from_deg = self.wind.at(times)
        return speed * self.times, (from_deg + self.shift_deg) % 360.0

    def gusts(self, times: Any) -> Floats:
        """Speed of the gusts, as `Wind.gusts`."""
        return self.wind.gusts(times) * self.times
