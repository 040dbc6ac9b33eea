"""What a day's drifts are made in: the water, the boat, and where it may go."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from layers.planning.candidates import DriftLimits
from layers.planning.drift import DriftTracks, Floats, Times, Velocity, at_once, drift_tracks
from layers.planning.fan import Doubt, fan
from layers.planning.motor import held_velocity
from layers.planning.safe import SafeWater
from layers.water import Currents, Leeway, Trim, Wind, boat_velocity, trim
from layers.water.currents import same_everywhere
from layers.water.limits import LimitedCurrents
from layers.water.times import as_utc

__all__ = ["DayWater", "Setting"]


@dataclass(frozen=True, slots=True)
class DayWater:
    """What moves on the day, the tide's height apart.

    Attributes
    ----------
    currents : Currents
    leeway : Leeway
    wind : Wind or None
        None is no wind.
    doubt : Doubt
    held_mps : (float, float) or None
        Speed over the ground, least and greatest, at which the motor holds the boat along the
        water; None is a boat left to itself.
    motor_limit_mps : float
        The most the motor drives the boat through the water.
    along_deg : float or None
        A course to which the motor holds the boat, degrees true; None is the water's own.
    current_limit_mps : float
        No boat drifts where the current runs faster.
    """

    currents: Currents
    leeway: Leeway
    wind: Wind | None = None
    doubt: Doubt = field(default_factory=Doubt)
    held_mps: tuple[float, float] | None = None
    motor_limit_mps: float = 1.0
    along_deg: float | None = None
    current_limit_mps: float = float("inf")

    @property
    def velocity(self) -> Velocity:
        """Velocity over the ground of the boat, held or left to itself.

        NaN where current or wind is not known, or the current is beyond the limit.
        """
        currents = LimitedCurrents(self.currents, self.current_limit_mps)
        found = boat_velocity(currents, self.wind, self.leeway)
        if self.held_mps is not None:
            found = held_velocity(
                currents,
                self.wind,
                self.leeway,
                speed_mps=self.held_mps,
                limit_mps=self.motor_limit_mps,
                along_deg=self.along_deg,
            )
        return at_once(found) if same_everywhere(self.currents) else found

    def push_at(self, time: np.datetime64, longitude: float, latitude: float) -> Trim:
        """Motor trim at one time and place, each of its arrays of shape (1,)."""
        moment, place = np.array([time]), (np.array([longitude]), np.array([latitude]))
        water = self.currents.velocity(moment, *place)
        wind = (np.zeros(1), np.zeros(1))
        if self.wind is not None:
            wind = self.leeway.velocity(*self.wind.at(as_utc(moment)))
        wanted = self.held_mps or (0.0, np.inf)
        return trim(
            water, wind, speed_mps=wanted, limit_mps=self.motor_limit_mps, along_deg=self.along_deg
        )


@dataclass(frozen=True, slots=True)
class Setting:
    """All that decides how a drift from a place and time goes.

    Attributes
    ----------
    safe : SafeWater
    water : DayWater
    band_m : (float, float)
        Band of charted depth in which fish are looked for.
    limits : DriftLimits
    """

    safe: SafeWater
    water: DayWater
    band_m: tuple[float, float]
    limits: DriftLimits = field(default_factory=DriftLimits)

    def drifts(
        self,
        longitude: Floats,
        latitude: Floats,
        begins: Times,
        duration_s: float,
        *,
        step_s: float | None = None,
        depths: bool = True,
    ) -> DriftTracks:
        """Drift boats from places, each from a time of its own.

        Parameters
        ----------
        longitude, latitude : ndarray, shape (n,)
        begins : ndarray of datetime64, shape (n,)
            UTC.
        duration_s : float
        step_s : float, optional
            Else that of the limits.
        depths : bool
            Whether to tell the depth of water under them.

        Returns
        -------
        DriftTracks
            Its ``times`` are those of the first boat.
        """
        later = (begins - begins[0]).astype("timedelta64[ns]")
        velocity, watched = self.water.velocity, self.safe.watch()
        return drift_tracks(
            longitude, latitude, begins[0],
            lambda times, x, y: velocity(times + later, x, y),
            duration_s=duration_s, step_s=step_s or self.limits.step_s,
            depth_under=(lambda times, x, y: self.safe.depth(times + later, x, y))
            if depths else None,
            stops=lambda begin, end, legs: watched(begin + later, end + later, legs),
        )  # fmt: skip

    def fan(
        self, longitude: float, latitude: float, begin: np.datetime64, duration_s: float
    ) -> DriftTracks:
        """Drift 64 doubtful boats from a place, with the charted depth under each."""
        return fan(
            longitude, latitude, begin, currents=self.water.currents, wind=self.water.wind,
            leeway=self.water.leeway, duration_s=duration_s, doubt=self.water.doubt,
            depth_under=self.safe.charted, stops=self.safe.watch(), step_s=self.limits.step_s,
            held_mps=self.water.held_mps, motor_limit_mps=self.water.motor_limit_mps,
            along_deg=self.water.along_deg,
        )  # fmt: skip
