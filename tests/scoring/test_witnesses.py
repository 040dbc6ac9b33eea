"""Fits, their chances and scales, against other libraries and exact answers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.genmod.families import Poisson
from statsmodels.genmod.generalized_linear_model import GLM
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.multivariate import test_mvmean as hotelling
from statsmodels.stats.power import normal_power

from layers.scoring.factors import FACTORS
from layers.scoring.likeness import _cut
from layers.scoring.patches import _any_reaches
from layers.scoring.rates import _curvature, kept_rates
from layers.scoring.terms import term_of
from layers.scoring.within.tackle import _beyond_luck, _power
from layers.scoring.witnesses import (
    SeasonFish,
    fit_poisson,
    jackknife,
    left_out,
    log_score,
    scale_of,
    wald,
)


def season_of(count=60, seed=4):
    """Bunched fish of `count` drifts, each a trip and a line of its own, and two columns."""
    random = np.random.default_rng(seed)
    columns = np.c_[np.ones(count), random.normal(size=(count, 2))]
    hours = random.uniform(0.5, 2, count)
    fish = random.negative_binomial(1.0, 1 / (1 + 3 * hours)).astype(float)
    each = np.arange(count)
    return SeasonFish(fish, hours, each, each, each, (each, each)), columns


def test_log_scores_differ_as_poisson_likelihoods():
    season, columns = season_of()
    fits = np.array([[0.5, 0.2, -0.1], [0.9, -0.3, 0.4]])
    ours = [log_score(columns, fit, season.fish, season.hours) for fit in fits]
    rates = season.hours[:, None] * np.exp(columns @ fits.T)
    theirs = stats.poisson.logpmf(season.fish[:, None], rates).sum(axis=0)
    assert ours[0] - ours[1] == pytest.approx(theirs[0] - theirs[1])


def test_the_scale_is_pearsons_of_another_library():
    season, columns = season_of()
    fit, _ = fit_poisson(columns, season.fish, season.hours, ridge=0.0)
    model = GLM(season.fish, columns, family=Poisson(), exposure=season.hours).fit()
    scale = model.pearson_chi2 / model.df_resid
    assert scale > 2
    assert scale_of(season, columns, fit) == pytest.approx(scale, rel=1e-4)


@pytest.mark.parametrize("new", [[1], [1, 2]])
def test_the_chance_of_coefficients_is_students_or_hotellings(new):
    """For as many witnesses with that mean and covariance of the mean, by another library."""
    season, columns = season_of()
    fit, covariance = fit_poisson(columns, season.fish, season.hours)
    fit[new] = 0.7  # else its chance is near 1, where all laws are alike
    spread = jackknife(season, columns, fit, covariance, season.line)[np.ix_(new, new)]
    count = len(season.fish)
    witnesses = np.random.default_rng(0).normal(size=(count, len(new)))
    witnesses -= witnesses.mean(axis=0)
    own = np.linalg.cholesky(np.atleast_2d(np.cov(witnesses.T)))
    witnesses = witnesses @ np.linalg.inv(own).T @ np.linalg.cholesky(spread * count).T
    if len(new) == 1:
        theirs = stats.ttest_1samp(witnesses[:, 0] + fit[1], 0.0).pvalue
    else:
        theirs = hotelling(witnesses + fit[new], np.zeros(len(new))).pvalue
    assert 1e-4 < theirs < 0.9
    ours = wald(season, columns, fit, covariance, season.line, np.array(new))
    assert ours == pytest.approx(theirs, rel=1e-6)


def test_what_is_left_out_is_scored_by_a_fit_of_the_rest():
    season, columns = season_of()
    folds = np.arange(60) % 3, np.arange(60) // 20
    season = replace(season, folds=folds)
    fit, _ = fit_poisson(columns, season.fish, season.hours)
    for own, ours in zip(folds, left_out(season, columns, fit), strict=True):
        total = 0.0
        for fold in range(3):
            out, stay = np.flatnonzero(own == fold), np.flatnonzero(own != fold)
            rest, _ = fit_poisson(columns[stay], season.fish[stay], season.hours[stay])
            total += log_score(columns[out], rest, season.fish[out], season.hours[out])
        assert ours == pytest.approx(total, abs=1e-4)


def test_a_column_of_zeros_leaves_the_others_as_they_are():
    """Its own step is nought from the first round on: the others have still to come home."""
    season, columns = season_of()
    alone, _ = fit_poisson(columns, season.fish, season.hours)
    beside, _ = fit_poisson(np.c_[columns, np.zeros(len(columns))], season.fish, season.hours)
    assert beside == pytest.approx([*alone, 0.0], abs=1e-6)


def test_a_season_without_samples_has_no_lines_and_no_trips():
    none = pd.DataFrame({
        "drift_id": [], "trip": [], "line": [], "rod_hours": np.array([], float),
        "fish": np.array([], int),
    })  # fmt: skip
    season = SeasonFish.of(none, 5, 0)
    assert (season.lines, season.trips) == (0, 0)


def test_the_curvature_of_a_quadratic_is_its_matrix():
    matrix = np.array([[6.0, 1.5], [1.5, 10.0]])
    at = np.array([0.4, -0.7])
    ours = _curvature(lambda x: 7.0 + x @ matrix @ x / 2, at)
    assert ours == pytest.approx(matrix, rel=1e-6)


def test_the_cautious_rate_is_beaten_by_four_in_five():
    """With many fish and half of all kept it is a Gamma quantile; 20,000 draws err by 0.5 %."""

    class Sure:
        mean = np.array([10.0])

        def draw(self, random, draws):
            return random.gamma(400, 1 / 40, (draws, 1))

    found = kept_rates(Sure(), [4_000_000], [0])
    assert found.cautious[0] == pytest.approx(stats.gamma.ppf(0.2, 400, scale=1 / 40), rel=0.005)


def test_splines_bend_where_the_table_says():
    """Harrell 2001, table 2.3: four knots at 5, 35, 65 and 95 hundredths."""
    values = np.random.default_rng(1).permutation(np.linspace(2, 12, 2001))
    term = term_of("depth_m", pd.Series(values), np.ones(2001))
    assert term.knots == pytest.approx([2.5, 5.5, 8.5, 11.5], abs=0.01)


@pytest.mark.parametrize(("middle", "width", "varies"), [
    (5000.0, 2.0, False), (5000.0, 20.0, True), (0.1, 5e-4, False), (0.1, 5e-2, True),
])  # fmt: skip
def test_a_number_that_varies_by_rounding_alone_is_no_factor(middle, width, varies):
    values = pd.Series(middle + width * np.linspace(-0.5, 0.5, 200))
    assert (term_of("depth_m", values, np.ones(200)) is not None) == varies


def test_bins_rise_and_treat_both_sides_of_nought_alike():
    for name, bounds in FACTORS.items():
        assert bounds is None or (np.diff(bounds) > 0).all(), name
    for name in ("edge_m", "hours_from_high", "wind_along_mps"):
        assert np.array(FACTORS[name]) == pytest.approx(-np.array(FACTORS[name])[::-1]), name
    assert FACTORS["slope_deg"][0] == 0.0 and FACTORS["slope_deg"][-1] == 90.0  # none is steeper
    assert FACTORS["course_deg"] == tuple(range(0, 361, 45))  # the eight points of the compass


def test_the_difference_that_trips_show_is_shown_four_times_in_five():
    """Normal errors of 0.2 of the logarithm; power by another library, for the printed figure."""
    error, reach = 0.2, stats.norm.ppf(0.9)
    rows = pd.DataFrame({
        "times_low": [np.exp(-reach * error)], "times_high": [np.exp(reach * error)],
        "trips_beside": [20],
    })  # fmt: skip
    words = _power(rows)
    shown = float(words.split("trips show ")[1].split(" times")[0])
    power = [
        normal_power(np.log(shown + half), nobs=1, alpha=0.05, sigma=error)
        for half in (-0.05, 0.05)
    ]
    assert power[0] < 0.8 < power[1]
    wanted = int(words.split("some ")[1].split(" would")[0])
    more = normal_power(np.log(1.5), nobs=wanted, alpha=0.05, sigma=error * np.sqrt(20))
    assert more == pytest.approx(0.8, abs=0.01)


@pytest.mark.parametrize("p", [
    [0.0125, 0.025, 0.0375, 0.05], [0.0125, 0.3, 0.0375, 0.9], [0.06, 0.06, 0.06], [0.04], [],
])  # fmt: skip
def test_the_false_share_is_held_as_by_another_library(p):
    ours = _beyond_luck(np.array([*p, np.nan]))
    theirs = multipletests(p, 0.05, method="fdr_bh")[0] if p else []
    assert ours.tolist() == [*theirs, False]


def test_points_of_a_line_are_no_further_apart_than_asked():
    line = np.array([[0.0, 0.0], [30.0, 40.0], [30.0, 100.0]])
    points = _cut(line, 10.0, 107.0, 12.5)
    apart = np.hypot(*np.diff(points, axis=0).T)
    assert apart.max() <= 12.5 + 1e-9
    assert len(points) == 9  # 97 m in eight steps
    assert points[[0, -1]] == pytest.approx(np.array([[6.0, 8.0], [30.0, 97.0]]))


def test_a_window_that_reaches_its_least_is_told_by_column():
    random = np.random.default_rng(3)
    strewn = random.poisson(0.7, (6, 40)).astype(np.int32)
    windows = [[0], [1, 2], [3, 4, 5]]
    least = np.array([3.0, 4.0, 5.0])
    start = np.cumsum([0, *map(len, windows)]).astype(np.int64)
    ours = _any_reaches(start, np.concatenate(windows).astype(np.int64), least, strewn)
    sums = np.array([strewn[cells].sum(axis=0) for cells in windows])
    brute = (sums >= least[:, None]).any(axis=0)
    assert 0 < brute.sum() < 40
    assert ours.tolist() == brute.tolist()
