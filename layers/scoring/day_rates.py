"""Rates of lines, apart from the worth of days: a line that was fished on good days is no better.

Fish of a visit are Poisson on rate of the line x worth of the day x hours; both are Gamma laws
across lines and across days, fitted by empirical Bayes in turn (two-way; Maunder & Punt 2004), and
drawn together by Gibbs sampling (Gelfand & Smith 1990), since each leaves the other open.  The days
of a season are some of all: how good all are is drawn too.  What bunches beyond that is measured by
`dispersion`: counts and hours weigh less.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.sparse import csr_array
from scipy.special import chdtrc, gammaln

from layers.scoring.rates import Prior, fit_prior
from seabed.array_types import Floats, Ints, Pair
from seabed.compiled import compiled, inlined

# the days' law: worth that differs by half; perhaps far less, or more.  Common practice, no source
fit_days: Final = partial(fit_prior, guess=4.0, factor=5.0)
TURNS: Final = 8
SWEEPS: Final = 1200
BURNT: Final = 200
SIGNIFICANT: Final = 0.05
LEAST_FREEDOM: Final = 5
MOST: Final = 20.0  # variance over mean that is looked for


@dataclass(frozen=True, slots=True)
class DayRates:
    """Rates of n lines, fish a rod-hour on a day of average worth.

    mean, low, high, shape (n,): posterior mean and the ends of its central interval.
    draws, shape (m, n): of the posterior.
    ratio: variance over mean of the counts, that of lines and days taken out; 1 is Poisson.
    prior: of the lines' rates.
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
    """Rates of lines from drifts on several days: fish, rod-hours, line and day from 0 of each."""
    count, hours = np.asarray(count, float), np.asarray(hours, float)
    shape = int(np.max(line)) + 1, int(np.max(day)) + 1
    cell = np.asarray(line) * shape[1] + np.asarray(day)
    fish, effort = (
        np.bincount(cell, column, shape[0] * shape[1]).reshape(shape).astype(np.float64)
        for column in (count, hours)
    )
    ratio = dispersion(count, hours, cell).ratio
    lines, days, rate, worth = _in_turn(fish / ratio, effort / ratio)
    # of the freedom, by lines and days that are drawn toward their mean: the trace of the smoother
    spent = 1.0 + _spent(effort @ worth / ratio, lines.hours)
    spent += _spent(rate @ effort / ratio, days.shape)
    ratio = max(ratio, _of_visits(fish, effort * rate[:, None] * worth, spent))
    if ratio > 1.0:
        lines, days, rate, worth = _in_turn(fish / ratio, effort / ratio)
    draws = _sampled(fish / ratio, effort / ratio, lines, days, worth, seed)
    tail = (1 - level) / 2
    low, high = np.quantile(draws, [tail, 1 - tail], axis=0)
    return DayRates(draws.mean(axis=0), low, high, draws, ratio, lines)


def _in_turn(fish: Floats, effort: Floats) -> tuple[Prior, Prior, Floats, Floats]:
    """Fit lines given days, days given lines: both laws, and the means of both."""
    of_line, of_day = fish.sum(axis=1), fish.sum(axis=0)
    share = effort.sum(axis=0) / effort.sum()
    worth = np.ones(fish.shape[1])
    visits = csr_array(effort)  # few lines are fished on a day
    lines: Prior | None = None
    days: Prior | None = None
    for _ in range(TURNS):
        hours = visits @ worth
        lines = fit_prior(of_line, hours, near=lines)
        rate = (lines.shape + of_line) / (lines.hours + hours)
        due = visits.T @ rate
        days = fit_days(of_day, due, near=days)
        worth = (days.shape + of_day) / (days.shape + due)
        worth = worth / (share @ worth)
    return fit_prior(of_line, hours), fit_days(of_day, due), rate, worth


def _spent(evidence: Floats, prior: float) -> float:
    """Degrees of freedom that rates drawn toward their mean take beside it."""
    weight = evidence / (evidence + prior)
    return float(weight.sum() - weight.mean())


def _of_visits(fish: Floats, due: Floats, spent: float) -> float:
    """Pearson's index of visits about what line and day have them be; 1 where chance does it."""
    some = due > 0
    freedom = float(some.sum()) - spent
    if freedom < LEAST_FREEDOM:
        return 1.0
    pearson = float(((fish - due)[some] ** 2 / due[some]).sum())
    return pearson / freedom if chdtrc(freedom, pearson) < SIGNIFICANT else 1.0


def _sampled(  # noqa: PLR0917
    fish: Floats, effort: Floats, lines: Prior, days: Prior, worth: Floats, seed: int
) -> Floats:
    """Draw rates and worths in turn; the rates, of days of average worth, shape (m, lines)."""
    random = np.random.default_rng(seed)
    shapes, prior_hours, weights = lines.nodes()
    node = random.choice(len(weights), SWEEPS, p=weights)
    day_shapes, _, weights = days.nodes()
    day_shape = random.choice(day_shapes, SWEEPS, p=weights)
    of_line, of_day = fish.sum(axis=1), fish.sum(axis=0)
    share = effort.sum(axis=0) / effort.sum()
    visits = csr_array(effort)
    by_day = csr_array(visits.T)
    out = _swept(
        random, (shapes[node], prior_hours[node], day_shape), (of_line, of_day),
        (visits.data, visits.indices, visits.indptr),
        (by_day.data, by_day.indices, by_day.indptr), share, worth,
    )  # fmt: skip
    # of all days, by a prior that leaves the mean where that of the days fished is
    evidence = day_shape * len(worth)
    usual = evidence / random.gamma(evidence + 1)
    out *= (usual / usual.mean())[:, None]
    return out[BURNT:]


@compiled
def _swept(  # noqa: PLR0917
    random: np.random.Generator,
    laws: tuple[Floats, Floats, Floats],
    caught: Pair,
    visits: tuple[Floats, Ints, Ints],
    by_day: tuple[Floats, Ints, Ints],
    share: Floats,
    worth: Floats,
) -> Floats:
    """Rates of lines, shape (sweeps, lines), of days as good as those drawn with them.

    laws, each of shape (sweeps,): the lines' Gamma shape and hours, the days' shape.
    caught: fish of lines and of days.
    visits, by_day: hours of each line's days and each day's lines, as a CSR matrix holds them.
    """
    (of_line, of_day), (shapes, hours, day_shapes) = caught, laws
    out = np.empty((len(shapes), len(of_line)))
    worth = worth.copy()
    for i in range(len(shapes)):
        rate = out[i]
        for line in range(len(of_line)):
            due = hours[i] + _row_times(visits, line, worth)
            rate[line] = random.standard_gamma(shapes[i] + of_line[line]) / due
        for day in range(len(of_day)):
            due = day_shapes[i] + _row_times(by_day, day, rate)
            worth[day] = random.standard_gamma(day_shapes[i] + of_day[day]) / due
        level = (share * worth).sum()
        worth /= level
        rate *= level * worth.mean()
    return out


@inlined
def _row_times(matrix: tuple[Floats, Ints, Ints], row: int, vector: Floats) -> float:
    values, columns, starts = matrix
    total = 0.0
    for i in range(starts[row], starts[row + 1]):
        total += values[i] * vector[columns[i]]
    return total


@dataclass(frozen=True, slots=True)
class Dispersion:
    """What the spread of counts about the rates of their groups says.

    index, p: Pearson's chi-square over its degrees of freedom (1 is Poisson); chance of one as
        great.
    ratio: variance over mean that the rates take: the likeliest where p < 0.05, else 1.
    """

    index: float
    freedom: int
    p: float
    ratio: float


def dispersion(count: Any, hours: Any, group: Any) -> Dispersion:
    """Test counts for overdispersion within groups of one rate.

    Fisher's index of dispersion against chi-square (Fisher, Thornton & Mackenzie 1922; Potthoff &
    Whittinghill 1966), with effort. Where it rejects, the variance over the mean is that of the
    negative binomial law whose variance is a fixed multiple of its mean (Cameron & Trivedi 1998:
    NB1), which adds up over drifts as effort does. NaN, and a ratio of 1, where no group has two
    counts.
    """
    count, hours = np.asarray(count, float), np.asarray(hours, float)
    fished = hours > 0
    count, hours = count[fished], hours[fished]
    _, which = np.unique(np.asarray(group)[fished].astype(str), return_inverse=True)
    total, effort = np.bincount(which, count), np.bincount(which, hours)
    expected = (total / effort)[which] * hours if len(count) else count
    some = expected > 0
    freedom = int(some.sum() - len(np.unique(which[some])))
    if freedom < 1:
        return Dispersion(float("nan"), freedom, float("nan"), 1.0)
    pearson = float(((count - expected)[some] ** 2 / expected[some]).sum())
    p = float(chdtrc(freedom, pearson))
    ratio = _ratio(count[some], expected[some], freedom) if p < SIGNIFICANT else 1.0
    return Dispersion(pearson / freedom, freedom, p, ratio)


def bunching_likelihood(ratio: float, count: Floats, expected: Floats) -> float:
    """Log likelihood of counts whose variance is `ratio` times their mean; above 1."""
    size = expected / (ratio - 1.0)
    return float(
        (
            gammaln(count + size) - gammaln(size) - gammaln(count + 1)
            - size * np.log(ratio) + count * np.log((ratio - 1.0) / ratio)
        ).sum()
    )  # fmt: skip


def _ratio(count: Floats, expected: Floats, freedom: int) -> float:
    """Fit the ratio, corrected for the rates that were fitted to the same counts."""
    minimum = minimize_scalar(
        lambda ratio: -bunching_likelihood(ratio, count, expected),
        bounds=(1.0 + 1e-6, MOST),
        method="bounded",
    )
    return float(1.0 + (minimum.x - 1.0) * len(count) / freedom)
