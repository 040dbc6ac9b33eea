"""Fits and deviations that outliers hardly move, against statsmodels and scipy."""

import numpy as np
import pytest
from scipy.stats import median_abs_deviation
from statsmodels.robust.norms import HuberT
from statsmodels.robust.robust_linear_model import RLM

from seabed.robust import half_square, huber_fit, robust_sigma


def lines(seed, count=200):
    """A straight line with normal errors of known size, and a tenth of the values far off it."""
    rng = np.random.default_rng(seed)
    terms = np.column_stack([np.ones(count), rng.uniform(-1, 1, count)])
    sigma = rng.uniform(0.05, 0.4, count)
    values = terms @ [3.0, -2.0] + sigma * rng.normal(size=count)
    values[:: count // 20] += 5.0
    return terms, values, sigma


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("start", [None, np.array([2.9, 0.0])])
def test_huber_fits_are_those_of_statsmodels(seed, start):
    terms, values, sigma = lines(seed)
    found, weight = huber_fit(terms, values, sigma, start=start)
    wanted = RLM(values / sigma, terms / sigma[:, None], M=HuberT(1.345)).fit(tol=1e-10)
    np.testing.assert_allclose(found, wanted.params, atol=1e-5)
    np.testing.assert_allclose(weight, wanted.weights, atol=1e-3)


def test_values_that_fit_exactly_are_fitted_exactly():
    terms = np.column_stack([np.ones(9), np.arange(9.0)])
    values = terms @ [1.0, 0.5]
    values[4] += 2.0
    found, weight = huber_fit(terms, values, np.ones(9))
    np.testing.assert_allclose(found, [1.0, 0.5], atol=1e-5)
    assert weight[4] < 1e-5


def test_the_deviation_is_that_of_scipy():
    values = np.random.default_rng(1).standard_t(2, 999)
    assert robust_sigma(values) == pytest.approx(
        median_abs_deviation(values, scale="normal"), rel=2e-6
    )


def test_half_the_mean_square_is_that_of_normal_differences_and_hardly_moved_by_spikes():
    """Variance 4, so 2; of 40,000 the mean is known to 1 %.  One in 100 off by 20 would give 4."""
    differences = np.random.default_rng(2).normal(0, 2, 40_000)
    assert half_square(differences) == pytest.approx(2.0, rel=0.03)
    differences[::100] = 20.0
    assert np.mean(differences**2) / 2 > 3.9
    assert half_square(differences) == pytest.approx(2.0, rel=0.12)
