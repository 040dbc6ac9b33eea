"""A current corrected by what is seen of it that day: Bayes, with the table as the prior."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from layers.water.currents.currents import Currents, own_spread
from layers.water.learned.against_table import FilledCurrent
from layers.water.learned.learned import LearnedCurrent
from layers.water.times import as_utc, hours_between
from seabed.array_types import Floats, Pair, Times
from seabed.errors import WaterError
from seabed.units import SPEED

Place = tuple[float | None, float | None]

FIVE_MINUTES: Final = np.timedelta64(300 * 10**9, "ns")
A_DAY: Final = np.timedelta64(24, "h")


@dataclass(frozen=True, slots=True)
class TableDoubt:
    """Standard deviations of what a table of currents has wrong on a day.

    Share and direction are those of the plan's own doubt.  Our choice, no source.

    share, deg, late_s: of its speed, direction and hours, all day.
    rest_mps: of each component of what else there is, which changes through the day.
    rest_hours: in which two such rests are still e^-1 alike.
    """

    share: float = 0.15
    deg: float = 10.0
    late_s: float = 20 * 60.0
    rest_mps: float = 0.1 * SPEED["kn"]
    rest_hours: float = 6.0


NO_OWN: Final = TableDoubt()
"""Of a source that does not know its own doubt."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """A current that was seen, at a UTC time.

    spread, shape (2, 2): covariance of its error.
    words: what was typed, or which drift it is.
    shared_mps: standard deviation of an error in common with others: of drifts, the leeway.
    """

    time: np.datetime64
    east_mps: float
    north_mps: float
    spread: Floats
    words: str
    shared_mps: float = 0.0


@dataclass(frozen=True, slots=True)
class CorrectedCurrents:
    """A source of currents, corrected by sightings.  Made by `corrected`.

    The error of the source is a normal process through the day; what was seen of it is taken off
    all day, the less the longer ago (Rasmussen & Williams 2006, "Gaussian Processes for Machine
    Learning", equations 2.23 and 2.24).

    doubt: of a source that does not know its own; a learned current does.
    place: (longitude, latitude) of the sightings; None where it does not matter.
    weights, inverse: (K + R)^-1 of what was seen less the prior, shape (2 m,); (K + R)^-1.
    sampled, shift: moments every five minutes, from a day before the sightings to two days after,
        and what is added to the prior then, east and north, m/s, shape (n, 2).
    """

    currents: Currents
    sightings: tuple[Sighting, ...]
    doubt: TableDoubt
    place: Place
    weights: Floats
    inverse: Floats
    sampled: Times
    shift: Floats

    @property
    def times(self) -> Any:
        """Hours of the table that it corrects; None of one without."""
        return getattr(self.currents, "times", None)

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s; NaN where the prior is."""
        east, north = self.currents.velocity(times, longitude, latitude)
        hours = hours_between(self.sampled[0], as_utc(times))
        known = hours_between(self.sampled[0], self.sampled)
        off = (np.interp(hours, known, part, left=0.0, right=0.0) for part in self.shift.T)
        return east + next(off), north + next(off)

    def spread(self, times: Any) -> Floats | None:
        """Covariance of east and north; None of a table, whose doubt is that of the plan."""
        if own_spread(self.currents, times) is None:
            return None
        return self.doubt_at(times)

    def doubt_at(self, times: Any) -> Floats:
        """Covariance of east and north at times of shape (n,), after the sightings: (n, 2, 2)."""
        moments, m = as_utc(times), len(self.sightings)
        seen = as_utc([one.time for one in self.sightings])
        across = self._between(moments, seen).reshape(len(moments), 2, 2 * m)
        own = [self._between(moments[[i]], moments[[i]]) for i in range(len(moments))]
        left = np.stack(own) - across @ self.inverse @ across.transpose(0, 2, 1)
        return np.asarray(left, np.float64)

    def changes(self) -> dict[str, tuple[float, float]] | None:
        """Say by what a table is wrong that day: value and standard deviation, by name.

        ``share`` of its speed (0.1 is a tenth faster), ``deg`` to the right, ``late_s``; None of a
        learned current, whose error has other parts.
        """
        if isinstance(self.currents, LearnedCurrent | FilledCurrent):
            return None
        seen = as_utc([one.time for one in self.sightings])
        parts = _parts(self.currents, seen, self.doubt, self.place)
        sizes = {"share": self.doubt.share, "deg": self.doubt.deg, "late_s": self.doubt.late_s}
        mean = parts.T @ self.weights
        left = np.sqrt(np.maximum(1.0 - np.diag(parts.T @ self.inverse @ parts), 0.0))
        return {
            name: (float(mean[i] * size), float(left[i] * size))
            for i, (name, size) in enumerate(sizes.items())
        }

    def _between(self, times: Times, others: Times) -> Floats:
        return _between(self.currents, times, others, self.doubt, self.place)


def corrected(
    currents: Currents,
    sightings: Sequence[Sighting],
    doubt: TableDoubt = NO_OWN,
    *,
    place: Place = (None, None),
) -> CorrectedCurrents:
    """Correct a source of currents by one or more sightings, those at hours at which it is known.

    place: where they were seen, of a source that varies from place to place.
    """
    east, north = _velocity(currents, as_utc([one.time for one in sightings]), place)
    used = [one for one, known in zip(sightings, np.isfinite(east), strict=True) if known]
    if not used:
        raise WaterError(
            "the current is not known at the hours at which it was seen",
            do="Name a source that covers them: {water.currents}.",
        )
    seen = as_utc([one.time for one in used])
    prior = np.stack([east, north], axis=-1)[np.isfinite(east)]
    off = np.array([(one.east_mps, one.north_mps) for one in used]) - prior
    shared = np.array([one.shared_mps for one in used])
    error = np.kron(np.outer(shared, shared), np.eye(2))
    for i, one in enumerate(used):
        error[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += one.spread
    inverse = np.linalg.inv(_between(currents, seen, seen, doubt, place) + error)
    weights = inverse @ off.ravel()
    sampled = np.arange(seen.min() - A_DAY, seen.max() + 2 * A_DAY, FIVE_MINUTES)
    shift = (_between(currents, sampled, seen, doubt, place) @ weights).reshape(-1, 2)
    return CorrectedCurrents(
        currents, tuple(used), doubt, place, weights, inverse, sampled, np.nan_to_num(shift)
    )


def _velocity(currents: Currents, times: Times, place: Place) -> Pair:
    if place[0] is None or place[1] is None:
        return currents.velocity(times)
    return currents.velocity(times, *(np.full(times.shape, part) for part in place))


def _between(
    currents: Currents, times: Times, others: Times, doubt: TableDoubt, place: Place
) -> Floats:
    """Covariance of the prior's errors at two sets of times, shape (2 n, 2 m)."""
    if isinstance(currents, LearnedCurrent | FilledCurrent):
        learned = currents if isinstance(currents, LearnedCurrent) else currents.learned
        return learned.between(times, others)
    parts = [_parts(currents, moments, doubt, place) for moments in (times, others)]
    hours = np.abs(hours_between(times[:1], times)[:, None] - hours_between(times[:1], others))
    rest = doubt.rest_mps**2 * np.exp(-hours / doubt.rest_hours)
    return np.asarray(parts[0] @ parts[1].T + np.kron(rest, np.eye(2)), np.float64)


def _parts(currents: Currents, times: Times, doubt: TableDoubt, place: Place) -> Floats:
    """Give what one standard deviation of speed, direction and hours does, shape (2 n, 3)."""
    east, north = _velocity(currents, times, place)
    before, after = (
        _velocity(currents, times + step, place) for step in (-FIVE_MINUTES, FIVE_MINUTES)
    )
    rate = [(b - a) / 600.0 for a, b in zip(before, after, strict=True)]
    turn = np.radians(doubt.deg)
    columns = (
        (doubt.share * east, doubt.share * north),
        (turn * north, -turn * east),
        (-doubt.late_s * rate[0], -doubt.late_s * rate[1]),
    )
    flat = [np.nan_to_num(np.stack(one, axis=-1).ravel()) for one in columns]
    return np.asarray(np.stack(flat, axis=-1), np.float64)
