"""Rates of lines and worth of days, told apart: a line that was fished on good days is no better.

Fish of a visit are Poisson on rate of the line x worth of the day x hours; both are Gamma laws
across lines and across days, fitted by empirical Bayes in turn (two-way; Maunder & Punt 2004), and
drawn together by Gibbs sampling (Gelfand & Smith 1990), since each leaves the other open.  What
bunches beyond that is reckoned as in `layers.scoring.dispersion`: counts and hours weigh less.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.special import chdtrc

from layers.scoring.dispersion import dispersion
from layers.scoring.rates import Prior, fit_prior

__all__ = ["DayRates", "rates_with_days"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DAY_GUESS: Final = 4.0  # shape of the days' law: worth that differs by half.  Common practice
TURNS: Final = 8
SWEEPS: Final = 1200
BURNT: Final = 200
SIGNIFICANT: Final = 0.05
LEAST_FREEDOM: Final = 5


@dataclass(frozen=True, slots=True)
class DayRates:
    """Rates of n lines, fish a rod-hour on a day of average worth.

    Attributes
    ----------
    mean, low, high : ndarray, shape (n,)
        Posterior mean and the ends of its central interval.
    draws : ndarray, shape (m, n)
    ratio : float
        Variance over mean of the counts, that of lines and days taken out; 1 is Poisson.
    prior : Prior
        Of the lines' rates.
    """

    mean: Floats
    low: Floats
    high: Floats
    draws: Floats
    ratio: float
    prior: Prior

    def draw(self, random: np.random.Generator, draws: int) -> Floats:
        """Draw rates of all lines together, shape (draws, n)."""
        return self.draws[random.integers(0, len(self.draws), draws)]


def rates_with_days(
    count: Any, hours: Any, line: Any, day: Any, *, level: float = 0.8, seed: int = 0
) -> DayRates:
    """Rates of lines from drifts on several days.

    Parameters
    ----------
    count, hours : array, shape (n,)
        Fish and rod-hours of each drift.
    line, day : array of int, shape (n,)
        From 0, each without a gap.
    level : float
        Of the interval.
    seed : int
        Of the draws.

    Examples
    --------
    >>> import numpy as np
    >>> line, day = np.array([0, 0, 1, 1]), np.array([0, 1, 1, 2])
    >>> rates = rates_with_days([4, 12, 3, 1], np.ones(4), line, day)
    >>> bool(rates.mean[0] > rates.mean[1])
    True
    """
    count, hours = np.asarray(count, float), np.asarray(hours, float)
    shape = int(np.max(line)) + 1, int(np.max(day)) + 1
    cell = np.asarray(line) * shape[1] + np.asarray(day)
    fish, effort = (
        np.bincount(cell, column, shape[0] * shape[1]).reshape(shape).astype(np.float64)
        for column in (count, hours)
    )
    ratio = dispersion(count, hours, cell).ratio
    lines, days, rate, worth = _in_turn(fish / ratio, effort / ratio)
    ratio = max(ratio, _of_visits(fish, effort * rate[:, None] * worth))
    if ratio > 1.0:
        lines, days, rate, worth = _in_turn(fish / ratio, effort / ratio)
    draws = _sampled(fish / ratio, effort / ratio, lines, days, worth, seed)
    tail = (1 - level) / 2
    low, high = np.quantile(draws, [tail, 1 - tail], axis=0)
    return DayRates(draws.mean(axis=0), low, high, draws, ratio, lines)


def _in_turn(fish: Floats, effort: Floats) -> tuple[Prior, float, Floats, Floats]:
    """Fit lines given days, days given lines: law of lines, shape of days, means of both."""
    worth = np.ones(fish.shape[1])
    shape = DAY_GUESS
    visits = csr_array(effort)  # few lines are fished on a day
    for _ in range(TURNS):
        hours = visits @ worth
        lines = fit_prior(fish.sum(axis=1), hours)
        rate = (lines.shape + fish.sum(axis=1)) / (lines.hours + hours)
        due = visits.T @ rate
        shape = fit_prior(fish.sum(axis=0), due, guess=DAY_GUESS).shape
        worth = (shape + fish.sum(axis=0)) / (shape + due)
        share = effort.sum(axis=0) / effort.sum()
        worth = worth / (share @ worth)
    return lines, shape, rate, worth


def _of_visits(fish: Floats, due: Floats) -> float:
    """Pearson's index of visits about what line and day have them be; 1 where chance does it."""
    some = due > 0
    freedom = int(some.sum()) - some.any(axis=1).sum() - some.any(axis=0).sum() + 1
    if freedom < LEAST_FREEDOM:
        return 1.0
    pearson = float(((fish - due)[some] ** 2 / due[some]).sum())
    return max(1.0, pearson / freedom) if chdtrc(freedom, pearson) < SIGNIFICANT else 1.0


def _sampled(  # noqa: PLR0917
    fish: Floats, effort: Floats, lines: Prior, shape: float, worth: Floats, seed: int
) -> Floats:
    """Draw rates and worths in turn; the rates, of days of average worth, shape (m, lines)."""
    random = np.random.default_rng(seed)
    shapes, prior_hours, weights = lines.nodes()
    node = random.choice(len(weights), SWEEPS, p=weights)
    of_line, of_day = fish.sum(axis=1), fish.sum(axis=0)
    share = effort.sum(axis=0) / effort.sum()
    visits = csr_array(effort)
    by_day = csr_array(visits.T)
    out = np.empty((SWEEPS, len(of_line)))
    for i in range(SWEEPS):
        hours = visits @ worth
        rate = random.gamma(shapes[node[i]] + of_line) / (prior_hours[node[i]] + hours)
        worth = random.gamma(shape + of_day) / (shape + by_day @ rate)
        level = share @ worth
        worth, out[i] = worth / level, rate * level
    return out[BURNT:]
