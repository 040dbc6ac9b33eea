"""Rates against published limits, a published worked example and another library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.discrete.discrete_model import NegativeBinomial
from statsmodels.stats.rates import confint_poisson
from thoroughness import THOROUGH

from layers.scoring import rates
from layers.scoring.day_rates import (
    _spent,
    bunching_likelihood,
    dispersion,
    rates_with_days,
)
from layers.scoring.rates import fit_prior, kept_rates, poisson_limits

# Failures and operating times (1,000 h) of ten pumps: Gaver & O'Muircheartaigh (1987), table 1.
FAILURES = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
TIMES = [94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5]
# Posterior means and standard deviations of the hierarchical model of George, Makov & Smith (1993),
# as printed in the example "Pumps" of the Mamba.jl documentation, after OpenBUGS.
PUMP_MEAN = [
    0.05973, 0.09976, 0.08898, 0.11618, 0.60365, 0.60892, 0.89431, 0.88430, 1.56235, 1.98785,
]  # fmt: skip
PUMP_SD = [0.0251, 0.0773, 0.0380, 0.0306, 0.3224, 0.1394, 0.6916, 0.7260, 0.7559, 0.4279]


@pytest.mark.parametrize(
    ("count", "low", "high"),
    # Garwood (1936), 95 %; 0, 1, 5 and 10 as reprinted in many tables (from memory but for 5)
    [(0, 0.0, 3.6889), (1, 0.0253, 5.5716), (5, 1.6235, 11.6683), (10, 4.7954, 18.3904)],
)
def test_exact_limits_of_published_tables(count, low, high):
    found = poisson_limits(count, level=0.95)
    assert [round(float(x), 4) for x in found] == [low, high]


@pytest.mark.parametrize("level", [0.8, 0.95])
def test_exact_limits_of_another_library(level):
    counts = np.arange(0, 60)
    low, high = poisson_limits(counts, level=level)
    theirs = [confint_poisson(k, 1, method="exact-c", alpha=1 - level) for k in counts[1:]]
    assert np.allclose(np.stack([low, high], 1)[1:], theirs, rtol=1e-9)
    assert low[0] == 0


def test_the_prior_is_the_maximum_of_the_negative_binomial_likelihood(monkeypatch):
    monkeypatch.setattr(rates, "SHAPE_FACTOR", 1e9)  # without our own weak prior
    found = fit_prior(FAILURES, TIMES)
    theirs = NegativeBinomial(FAILURES, np.ones((10, 1)), exposure=TIMES).fit(disp=0)
    assert found.mean == pytest.approx(np.exp(theirs.params[0]), rel=1e-3)
    assert found.shape == pytest.approx(1 / theirs.params[1], rel=1e-3)


class Known:
    """Gamma(shape + fish, prior hours + hours) of each line, which can be drawn."""

    def __init__(self, count, hours, prior):
        self.shape, self.hours = prior.shape + np.array(count), prior.hours + np.array(hours)
        self.mean = self.shape / self.hours

    def draw(self, random, draws):
        return random.gamma(self.shape, 1 / self.hours, (draws, len(self.shape)))


def on_one_day(count, hours):
    return rates_with_days(count, hours, np.arange(len(count)), np.zeros(len(count), int))


def test_shrinkage_of_a_published_worked_example():
    found = on_one_day(FAILURES, TIMES)
    # Other weak priors on mean and shape move them by less than a fifth of their own doubt, and
    # 1,000 draws err by 0.1 of it at three standard errors; no shrinkage at all would move the last
    # but one by 0.45 of it.
    off = np.abs(found.mean - PUMP_MEAN) / PUMP_SD
    assert off.max() < 0.3


def test_few_hours_pull_to_the_average_and_many_do_not():
    found = on_one_day([2, 200, 30, 12, 8], [0.2, 20.0, 12, 10, 9])
    assert found.mean[0] < 8  # two fish in twelve minutes are not ten an hour
    assert found.mean[1] == pytest.approx(10, rel=0.1)
    assert found.high[0] - found.low[0] > found.high[1] - found.low[1]


def test_no_fish_no_hours_no_lines():
    assert fit_prior([], []).mean == 1.0
    assert fit_prior([0, 0], [2.0, 3.0]).mean == pytest.approx(0.1)
    assert len(kept_rates(Known([], [], fit_prior([], [])), [], []).chance_best) == 0


def test_chance_of_being_best_of_two_alike_is_even_and_of_one_clear_is_whole():
    prior = fit_prior([10, 10], [5.0, 5.0])
    even = kept_rates(Known([10, 10], [5.0, 5.0], prior), [6, 6], [4, 4])
    assert even.chance_best.sum() == pytest.approx(1)
    assert even.chance_best[0] == pytest.approx(0.5, abs=0.02)  # 20,000 draws: sd 0.0035
    clear = kept_rates(Known([200, 5], [20.0, 20.0], prior), [150, 1], [50, 4])
    assert clear.chance_best[0] > 0.999


@pytest.mark.parametrize(("kept", "short"), [(90, 60), (30, 120), (140, 10)])
def test_the_kept_rate_of_many_fish_is_that_of_the_kept_fish_alone(kept, short):
    """Poisson fish, each kept by chance, are Poisson too: Garwood's limits hold, by chi-square.

    The guesses weigh half a fish on the rate and 8 on the share, whose flat prior is 2 more,
    against 150: they move the share of (30, 120) by 1.5 %.  Garwood's limits are half a fish wide
    of the Gamma law's (1.7 % of 30), and 20,000 draws are off by 0.2 %.
    """
    hours = 40.0
    every = Known([kept + short], [hours], rates.Prior((kept + short) / hours, 0.5))
    found = kept_rates(every, [kept], [short], level=0.8)
    low, high = stats.chi2.ppf([0.1, 0.9], [2 * kept, 2 * kept + 2]) / 2 / hours
    assert found.mean[0] == pytest.approx(kept / hours, rel=0.03)
    assert (found.low[0], found.high[0]) == pytest.approx((low, high), rel=0.04)


def test_a_line_without_fish_keeps_the_share_of_the_others():
    """6 of 10 are kept elsewhere, and an even prior of two fish more pulls toward one half."""
    every = Known([100, 0], [40.0, 40.0], rates.Prior(2.5, 1.0))
    found = kept_rates(every, [60, 0], [40, 0])
    assert 0.5 < found.mean[1] / every.mean[1] < 0.62


def test_the_chance_for_known_gamma_laws_is_exact():
    # P(X > Y) of Gamma(a, 1), Gamma(b, 1) is the Beta(b, a) law below 1/2: a textbook identity
    prior = rates.Prior(1.0, 1.0)
    every = Known([7, 4], [3.0, 3.0], prior)
    drawn = every.draw(np.random.default_rng(0), 200_000)
    exact = stats.beta(5, 8).cdf(0.5)
    assert (drawn[:, 0] > drawn[:, 1]).mean() == pytest.approx(exact, abs=0.004)


def test_draws_are_seeded():
    every = Known([7, 4], [3.0, 3.0], fit_prior([7, 4], [3.0, 3.0]))
    first, again = (kept_rates(every, [5, 2], [2, 2], seed=3) for _ in range(2))
    assert np.array_equal(first.mean, again.mean)


def test_bunched_counts_are_seen_and_even_ones_are_not():
    random = np.random.default_rng(4)
    group, hours = np.repeat(np.arange(20), 20), random.uniform(0.5, 2, 400)
    due = 3.0 * hours
    even = dispersion(random.poisson(due), hours, group)
    assert even.p > 0.05 and even.ratio == 1.0
    bunched = dispersion(random.poisson(random.gamma(due / 1.5, 1.5)), hours, group)
    assert bunched.p < 1e-6
    assert bunched.ratio == pytest.approx(2.5, abs=0.5)


def test_index_of_dispersion_by_hand():
    found = dispersion([4, 0, 1, 3], [1, 1, 2, 2], ["a", "a", "b", "b"])
    # a: 2 each due, (4 + 4) / 2 = 4; b: 2 each due, (1 + 1) / 2 = 1; two degrees of freedom
    assert (found.index, found.freedom) == (2.5, 2)
    assert found.p == pytest.approx(stats.chi2.sf(5, 2))
    assert np.isnan(dispersion([1], [1.0], ["a"]).p)


def test_what_drawn_means_take_of_freedom_is_the_trace_of_their_smoother():
    """Each mean is drawn by evidence over evidence and prior, toward the mean of all that is left.

    The trace of W (I - 11'/n), with W diagonal, written out as a matrix.
    """
    evidence, prior = np.array([1.0, 3.0, 0.5]), 2.0
    smoother = np.diag(evidence / (evidence + prior)) @ (np.eye(3) - 1 / 3)
    assert _spent(evidence, prior) == pytest.approx(np.trace(smoother))


def test_bunching_likelihood_is_the_negative_binomial():
    count, expected = np.array([0.0, 3, 7]), np.array([1.0, 2, 6])
    theirs = stats.nbinom(expected / 1.5, 1 / 2.5).logpmf(count).sum()
    assert bunching_likelihood(2.5, count, expected) == pytest.approx(theirs, rel=1e-12)


def test_poisson_fish_on_many_lines_of_few_hours_are_not_called_bunched():
    """Two tests at 1 in 20 each: of 24 seasons some 2.4, with a standard deviation of 1.5 (of 12
    some 1.2, 1.0): within four of these.
    """
    seasons = 24 if THOROUGH else 12
    random = np.random.default_rng(3)
    line = np.repeat(np.arange(40), 2)
    bunched = 0
    for _ in range(seasons):
        day = np.concatenate([random.choice(20, 2, replace=False) for _ in range(40)])
        _, day = np.unique(day, return_inverse=True)
        hours = random.uniform(0.4, 1.6, 80)
        due = hours * random.lognormal(0.0, 0.7, 40)[line] * random.gamma(4.0, 0.25, 20)[day]
        bunched += rates_with_days(random.poisson(due), hours, line, day).ratio > 1.0
    assert bunched <= (8 if THOROUGH else 5), bunched
