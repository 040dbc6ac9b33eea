"""Poisson fits whose witnesses are lines and trips, not fish."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.special import fdtrc

from layers.scoring.samples import weights_of
from seabed.array_types import Floats, Ints, Pair

WITNESSES: Final = ("drift_id", "trip", "line", "rod_hours", "fish", "fish_weight")
"""Columns of samples that `SeasonFish` reads, some of them where they are there."""

ROWS: Final = 20_000
"""Summed at once."""

RIDGE: Final = 0.5
"""Holds coefficients of scaled columns where there are few fish."""


@dataclass(frozen=True, slots=True)
class SeasonFish:
    """What fits are made to: fish, hours, trip, line, drift and folds of each sample."""

    fish: Floats
    hours: Floats
    trip: Ints
    line: Ints
    drift: Ints
    folds: tuple[Ints, Ints]

    @classmethod
    def of(cls, use: pd.DataFrame, folds: int, seed: int) -> SeasonFish:
        """Take samples; a sample without a line is of a line of its drift's own."""
        named = use["line"] if "line" in use else use["drift_id"]
        drift, trip, line = (
            pd.factorize(column.astype(str), sort=True)[0]
            for column in (use["drift_id"], use["trip"], named.where(named != "", use["drift_id"]))
        )
        random = np.random.default_rng(seed)
        by_trip, by_line = (
            (random.permutation(own.max(initial=-1) + 1) % folds)[own] for own in (trip, line)
        )
        fish, hours = weights_of(use), use["rod_hours"].to_numpy(float)
        return cls(fish, hours, trip, line, drift, (by_trip, by_line))

    @property
    def trips(self) -> int:
        """How many."""
        return int(self.trip.max(initial=-1)) + 1

    @property
    def lines(self) -> int:
        """How many."""
        return int(self.line.max(initial=-1)) + 1


def fit_poisson(
    columns: Floats,
    fish: Floats,
    hours: Floats,
    *,
    ridge: float = RIDGE,
    start: Floats | None = None,
) -> Pair:
    """Fit log rate = columns x coefficients to fish in hours, by Newton's method.

    columns, shape (n, k): the first is 1.
    fish, hours, shape (n,): where both are 0 a row counts for nothing.
    ridge: added to the information of every coefficient but the first.
    start: coefficients near the answer.
    Returned: coefficients and their covariance.
    """
    penalty = np.full(columns.shape[1], ridge)
    penalty[0] = 0.0
    if start is None:
        at = np.zeros(columns.shape[1])
        at[0] = np.log(max(fish.sum(), 0.5) / hours.sum())
    else:
        at = start
    for _ in range(30):
        expected = hours * np.exp(np.clip(columns @ at, -20, 20))
        slope = columns.T @ (fish - expected) - penalty * at
        information = _information(columns, expected) + np.diag(penalty)
        step = np.linalg.solve(information, slope)
        step /= max(1.0, np.abs(step).max() / 2.0)
        at = at + step
        if np.abs(step).max() < 1e-6:  # what is left is of the order of its square
            break
    return at, np.asarray(np.linalg.inv(information), np.float64)


def _information(columns: Floats, weight: Floats) -> Floats:
    """Sum of weighted squares of columns, part by part: a season has many rows."""
    parts = [slice(at, at + ROWS) for at in range(0, len(columns), ROWS)]
    return np.asarray(sum((columns[part].T * weight[part]) @ columns[part] for part in parts))


def log_score(columns: Floats, fit: Floats, fish: Floats, hours: Floats) -> float:
    """Log likelihood, without terms of fish and hours alone."""
    log_rate = columns @ fit
    return float((fish * log_rate - hours * np.exp(log_rate)).sum())


def wald(  # noqa: PLR0917
    season: SeasonFish,
    columns: Floats,
    fit: Floats,
    covariance: Floats,
    group: Ints,
    new: Ints,
) -> float:
    """Chance of coefficients as far from 0, each group of samples being one witness."""
    groups = int(group.max()) + 1
    freedom = groups - len(new)
    if freedom < 1:
        return 1.0
    spread = jackknife(season, columns, fit, covariance, group)[np.ix_(new, new)]
    square = float(fit[new] @ np.linalg.pinv(spread) @ fit[new])
    return float(fdtrc(len(new), freedom, square * freedom / (len(new) * (groups - 1))))


def jackknife(
    season: SeasonFish,
    columns: Floats,
    fit: Floats,
    covariance: Floats,
    group: Ints,
) -> Floats:
    """Covariance of a fit by leaving out each group, a Newton step each (Bell & McCaffrey 2002)."""
    groups = int(group.max()) + 1
    expected = season.hours * np.exp(np.clip(columns @ fit, -20, 20))
    order = np.argsort(group, kind="stable")
    starts = np.searchsorted(group[order], np.arange(groups))
    above = season.fish - expected
    scores = np.column_stack([np.bincount(group, above * one, groups) for one in columns.T])
    whole = np.linalg.inv(covariance)
    moved = np.empty_like(scores)
    for i, rows in enumerate(np.split(order, starts[1:])):
        own = (columns[rows].T * expected[rows]) @ columns[rows]
        rest = whole - own
        moved[i] = np.linalg.lstsq(rest, scores[i], rcond=1e-9)[0]
    return np.asarray(moved.T @ moved * (groups - 1) / groups)


def covariance_of(season: SeasonFish, columns: Floats, fit: Floats, covariance: Floats) -> Floats:
    """Of lines or of trips as witnesses, whichever leaves more open."""
    both = [jackknife(season, columns, fit, covariance, own) for own in (season.line, season.trip)]
    return max(both, key=lambda one: float(np.trace(one)))


def left_out(season: SeasonFish, columns: Floats, start: Floats) -> Floats:
    """Log score of trips left out and of lines left out, fold by fold, shape (2,)."""
    totals = np.zeros(2)
    for i, folds in enumerate(season.folds):
        for fold in range(int(folds.max()) + 1):
            out = folds == fold
            stay = ~out
            fit, _ = fit_poisson(columns, season.fish * stay, season.hours * stay, start=start)
            totals[i] += log_score(columns[out], fit, season.fish[out], season.hours[out])
    return totals


def scale_of(season: SeasonFish, columns: Floats, fit: Floats) -> float:
    """Pearson's index of drifts or of trips, whichever is greater; at least 1."""
    expected = season.hours * np.exp(columns @ fit)
    greatest = 1.0
    for group in (season.drift, season.trip):
        due, came = np.bincount(group, expected), np.bincount(group, season.fish)
        freedom = len(due) - (columns.shape[1] if group is season.drift else 1)
        if freedom > 0:
            greatest = max(greatest, float(((came - due) ** 2 / due).sum() / freedom))
    return greatest
