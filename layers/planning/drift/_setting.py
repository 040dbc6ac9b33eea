"""What a day's drifts are made in: the water, the boat, and where it may go."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from layers.planning.drift._candidates import DriftLimits
from layers.planning.drift._cells import cell_index
from layers.planning.drift._drift import (
    AtOnce,
    DriftTracks,
    Velocity,
    even_steps,
    tracks_at,
    uniform_tracks,
)
from layers.planning.drift._fan import fans
from layers.planning.drift._hand import CORRECT_EVERY_S, NEVER_S, Hand, Printed
from layers.planning.drift._motor import held_velocity, printed_pushes
from layers.planning.drift.doubt import Doubt, SureCurrents
from layers.planning.drift.safe_water import SafeWater
from layers.water import Currents, Leeway, Wind
from layers.water.currents.currents import same_everywhere
from layers.water.day.limits import LimitedCurrents
from layers.water.motion import Trim, boat_velocity, trim
from layers.water.sea.sea import Sea
from layers.water.times import as_utc, seconds_between
from seabed.array_types import Floats, Ints, Times
from seabed.grid.places import row_column


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
        water; None is a boat left alone.
    motor_limit_mps : float
        The most the motor drives the boat through the water.
    along_deg : float or None
        A course to which the motor holds the boat, degrees true; None is the water's own.
    current_limit_mps : float
        No boat drifts where the current runs faster.
    sea : Sea or None
        The waves; None is not known.
    correct_every_s : float
        How often the skipper corrects the trim that the sheet prints; infinity is never.
    """

    currents: Currents
    leeway: Leeway
    wind: Wind | None = None
    doubt: Doubt = field(default_factory=Doubt)
    held_mps: tuple[float, float] | None = None
    motor_limit_mps: float = 1.0
    along_deg: float | None = None
    current_limit_mps: float = float("inf")
    correct_every_s: float = CORRECT_EVERY_S
    sea: Sea | None = None

    @property
    def hand(self) -> Hand:
        """How the printed trim is held; a boat left alone is not corrected."""
        every_s = NEVER_S if self.held_mps is None else self.correct_every_s
        return Hand(every_s, self.motor_limit_mps)

    @property
    def velocity(self) -> Velocity:
        """Velocity over the ground of the boat, held or left alone, as it is planned.

        NaN where current or wind is not known, the current is beyond the limit, or one that was
        learned is too doubtful to say which way it runs.
        """
        currents = LimitedCurrents(SureCurrents(self.currents), self.current_limit_mps)
        velocity = boat_velocity(currents, self.wind, self.leeway)
        if self.held_mps is not None:
            velocity = held_velocity(
                currents,
                self.wind,
                self.leeway,
                speed_mps=self.held_mps,
                limit_mps=self.motor_limit_mps,
                along_deg=self.along_deg,
            )
        return AtOnce(velocity) if same_everywhere(self.currents) else velocity

    def trims(self, times: Times, longitude: Floats, latitude: Floats) -> Trim:
        """Motor trim at times and places, each of shape (n,)."""
        water = self.currents.velocity(times, longitude, latitude)
        wind = np.zeros((2, len(times)))
        if self.wind is not None:
            wind = np.stack(self.leeway.velocity(*self.wind.at(as_utc(times))))
        return trim(
            water, (wind[0], wind[1]), speed_mps=self.held_mps or (0.0, np.inf),
            limit_mps=self.motor_limit_mps, along_deg=self.along_deg,
        )  # fmt: skip

    def push_at(self, time: np.datetime64, longitude: float, latitude: float) -> Trim:
        """Motor trim at one time and place, each of its arrays of shape (1,)."""
        return self.trims(np.array([time]), np.array([longitude]), np.array([latitude]))

    def printed(self, tracks: DriftTracks, last: Ints, begins: Times) -> Printed:
        """Give what a sheet says of planned drifts that begin at UTC times.

        last, shape (n,): index of the last point of each, 1 or more.
        """
        rows = np.arange(len(last))
        seconds = seconds_between(tracks.times[0], tracks.times)
        ends = begins + (tracks.times[last] - tracks.times[0])
        start, end = np.zeros((2, 2, len(last)))
        if self.held_mps is not None:
            start, end = printed_pushes(
                self.trims(begins, tracks.longitude[:, 0], tracks.latitude[:, 0]),
                self.trims(ends, tracks.longitude[rows, last], tracks.latitude[rows, last]),
            )
        paths = [
            np.stack([seconds, tracks.longitude[row], tracks.latitude[row]])[:, : last[row] + 1]
            for row in rows
        ]
        return Printed(begins, paths, start, end)


@dataclass(frozen=True, slots=True)
class Setting:
    """All that decides how a drift from a place and time goes.

    Attributes
    ----------
    safe : SafeWater
    water : DayWater
    band_m : (float, float)
        Band of charted depth in which fish are sought.
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
        """Drift n boats from places, each from a time of its own, UTC.

        step_s: by default that of the limits.
        depths: whether to give the depth of water under them.
        Returned: its ``times`` are those of the first boat, its ``cells`` of the grid.
        """
        velocity, polynomials = self.water.velocity, self.safe.polynomials
        seconds = even_steps(duration_s, step_s or self.limits.step_s)
        if isinstance(velocity, AtOnce) and polynomials is not None and len(begins):
            return uniform_tracks(
                longitude, latitude, begins, velocity, seconds, safe=self.safe,
                polynomials=polynomials, depths=depths,
            )  # fmt: skip
        later = (begins - begins[0]).astype("timedelta64[ns]")
        tracks = tracks_at(
            longitude, latitude, begins[0],
            lambda times, x, y: velocity(times + later, x, y), seconds,
            look=lambda times, path: self.safe.look(times + later[:, None], path),
        )  # fmt: skip
        height = self.safe.height_at(tracks.times + later[:, None])
        return self.over_cells(replace(tracks, depth_m=tracks.depth_m + height))

    def over_cells(self, tracks: DriftTracks) -> DriftTracks:
        """Look at which cells of the grid tracks go over."""
        grid, places = self.safe.grid, (tracks.longitude, tracks.latitude)
        if self.safe.polynomials is None:
            return replace(tracks, cells=cell_index(grid.values.shape, *row_column(grid, *places)))
        return replace(tracks, cells=self.safe.polynomials.cells(grid.shape, *places))

    def fan(
        self, longitude: float, latitude: float, begin: np.datetime64, duration_s: float
    ) -> DriftTracks:
        """Drift 256 doubtful boats from a place, with the charted depth under each.

        Each holds the trim that is printed for the drift as planned from there.
        """
        begins = np.array([begin]).astype("datetime64[ns]")
        tracks = self.drifts(
            np.array([longitude]), np.array([latitude]), begins, duration_s, depths=False
        )
        (boats,) = self.fans(self.water.printed(tracks, np.array([len(tracks.times) - 1]), begins))
        return boats

    def fans(self, printed: Printed) -> list[DriftTracks]:
        """Drift doubtful boats along each of n drifts, as `fans` of `_fan`."""
        return fans(
            printed, currents=self.water.currents, wind=self.water.wind,
            leeway=self.water.leeway, hand=self.water.hand, doubt=self.water.doubt,
            safe=self.safe, step_s=self.limits.step_s,
        )  # fmt: skip
