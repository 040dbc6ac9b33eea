"""How much less each pass over a line pays, the passes of one visit compared.

Fish that are caught are gone: the catch of a unit of effort falls in proportion to what was taken
(Leslie & Davis 1939), so that it falls by the same share with each pass of equal effort (DeLury
1947).  Visits differ in worth by a Gamma law, which is summed over (Moran 1951 conditions on the
catch instead, which goes wrong where a skipper leaves as soon as a pass gives nothing).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from scipy.optimize import minimize
from scipy.special import gammaln, stdtrit

from seabed.array_types import Floats, Ints

LEAST_TRIPS: Final = 6
LEAST_AGAIN: Final = 20  # passes over ground that was fished before on the same visit
LEAST_FISH: Final = 30
# Common practice, no source, all three.
SIGNIFICANT: Final = 0.02  # one-sided
STEP: Final = 1e-4
PASS_COLUMNS: Final = ("count", "hours", "line", "trip", "start")


@dataclass(frozen=True, slots=True)
class Depletion:
    """What the passes of a season's visits show.

    fall: log share by which a pass of `pass_hours` rod-hours pays less than the one before it.
    error: its standard error, trips being the witnesses.
    passes, visits, trips: that it rests on; visits of one pass are not counted, though they are in
        the fit.
    """

    fall: float
    error: float
    passes: int
    visits: int
    trips: int
    pass_hours: float

    @property
    def is_sure(self) -> bool:
        """Whether luck does not explain it."""
        return bool(self.fall > self.error * stdtrit(self.trips - 1, 1 - SIGNIFICANT))

    def share(self, number: int, *, level: float = 0.8) -> tuple[float, float, float]:
        """Give what a pass pays of the first, and the limits of that."""
        reach = stdtrit(self.trips - 1, 0.5 + level / 2) * self.error
        best, low, high = np.exp(-(number - 1) * (self.fall + np.array([0.0, reach, -reach])))
        return float(best), float(low), min(float(high), 1.0)

    def worth(self, drifts: pd.DataFrame) -> Floats:
        """Give what each drift, with `PASS_COLUMNS`, pays of a first pass."""
        passes = _passes_of(*(drifts[name] for name in PASS_COLUMNS))["passes"]
        share = np.exp(-self.fall * passes.reindex(range(len(drifts)), fill_value=0.0))
        return np.asarray(share, np.float64)

    def sentence(self) -> str:
        """Say it; ``""`` where luck explains it."""
        if not self.is_sure:
            return ""
        number, word = (4, "fourth") if self.passes >= 2.5 * self.visits else (3, "third")
        best, low, high = self.share(number)
        return (
            f"The {word} pass of a visit pays {best:.0%} of the first ({low:.0%} to {high:.0%}; "
            f"{self.visits} visits of several passes)."
        )


def fit_depletion(count: Any, hours: Any, line: Any, trip: Any, start: Any) -> Depletion | None:
    """Estimate how the passes of a visit pay less and less; None where there are too few to say.

    Drifts of one trip that follow each other on one line are a visit.
    """
    table = _passes_of(count, hours, line, trip, start)
    again, trips = int((table["passes"] > 0).sum()), table["trip"].nunique()
    if again < LEAST_AGAIN or trips < LEAST_TRIPS or table["count"].sum() < LEAST_FISH:
        return None
    # visits of one pass stay in: to leave those out that were ended by a blank would flatter others
    visits = _Visits.of(table)
    pooled = table["count"].sum() / table["hours"].sum()
    begin = np.array([0.1, np.log(1.5), np.log(pooled)])
    best = minimize(lambda at: -visits.likelihood(at).sum(), begin, method="BFGS").x
    pass_hours = float(table["pass_hours"].iloc[0])
    error = float(np.sqrt(_sandwich(visits, best)[0, 0]))
    several = int(((table["passes"] > 0).groupby(table["visit"]).sum() > 0).sum())
    return Depletion(float(best[0]), error, again + several, several, trips, pass_hours)


def _passes_of(count: Any, hours: Any, line: Any, trip: Any, start: Any) -> pd.DataFrame:
    """Give each drift its visit and ``passes``, the effort before it in passes of mean length."""
    table = pd.DataFrame(
        {
            "count": np.asarray(count, float), "hours": np.asarray(hours, float),
            "line": np.asarray(line), "trip": np.asarray(trip), "start": np.asarray(start),
        }
    )  # fmt: skip
    table = table[table["hours"] > 0]
    table = table.sort_values(["trip", "start"], kind="stable")
    moved = (table[["trip", "line"]] != table[["trip", "line"]].shift()).any(axis=1)
    table["visit"] = moved.cumsum()
    before = table.groupby("visit")["hours"].cumsum() - table["hours"]
    table["pass_hours"] = table["hours"].mean()
    table["passes"] = before / table["pass_hours"]
    return table


@dataclass(frozen=True, slots=True)
class _Visits:
    """Passes as columns, and the sums of visits that do not change with the fit."""

    passes: Floats
    hours: Floats
    visit: Ints
    fish: Floats
    fished: Floats
    trip: Ints

    @classmethod
    def of(cls, table: pd.DataFrame) -> _Visits:
        """Take the passes of visits."""
        visit, first = np.unique(table["visit"], return_index=True)
        own = np.searchsorted(visit, table["visit"])
        count, passes = table["count"].to_numpy(), table["passes"].to_numpy()
        trip = pd.factorize(table["trip"])[0][first]
        fish, fished = (
            np.bincount(own, column).astype(float) for column in (count, count * passes)
        )
        return cls(passes, table["hours"].to_numpy(), own, fish, fished, trip)

    @property
    def count(self) -> int:
        """How many visits."""
        return len(self.fish)

    def likelihood(self, at: Floats) -> Floats:
        """Log likelihood of each visit, for a fall and the logs of shape and mean of its worth."""
        fall, (shape, mean) = at[0], np.exp(np.clip(at[1:], -6, 6))
        due = np.bincount(self.visit, self.hours * np.exp(-fall * self.passes))
        total = shape + self.fish
        return np.asarray(
            -fall * self.fished + gammaln(total) - gammaln(shape) + shape * np.log(shape / mean)
            - total * np.log(shape / mean + due)
        )  # fmt: skip


def _sandwich(visits: _Visits, at: Floats) -> Floats:
    """Covariance of a fit whose witnesses are trips (White 1982; Liang & Zeger 1986)."""
    steps = np.eye(len(at)) * STEP
    slopes = [(visits.likelihood(at + s) - visits.likelihood(at - s)) / (2 * STEP) for s in steps]
    scores = np.column_stack([np.bincount(visits.trip, slope) for slope in slopes])
    trips = len(scores)

    def slope(point: Floats) -> Floats:
        up, down = ([visits.likelihood(point + k * s).sum() for s in steps] for k in (1, -1))
        return np.asarray((np.array(up) - np.array(down)) / (2 * STEP), np.float64)

    bend = np.array([(slope(at + s) - slope(at - s)) / (2 * STEP) for s in steps])
    inverse = np.linalg.pinv(-(bend + bend.T) / 2)
    return np.asarray(inverse @ (scores.T @ scores) @ inverse * trips / (trips - 1))
