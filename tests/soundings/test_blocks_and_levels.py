"""Soundings drawn together, outings levelled, and the variogram, each against a known answer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.distance import cdist

from seabed.soundings.surface._blocks import BlockDepths, by_cell_and_outing, combined, noise_factor
from seabed.soundings.surface._kriging import krige
from seabed.soundings.surface._levels import fit_levels, outings_of
from seabed.soundings.surface._roughness import Roughness, fit_roughness, matern


def one_cell(depth, *, sigma=0.1, seconds=None):
    count = len(depth)
    return by_cell_and_outing(
        cell=np.zeros(count, np.int64),
        outing=np.zeros(count, np.int64),
        x=np.arange(count, dtype=float),
        y=np.zeros(count),
        depth=np.asarray(depth, float),
        sigma=np.full(count, sigma),
        seconds=10.0 * np.arange(count) if seconds is None else seconds,
    )


def test_a_spike_leaves_the_block_alone():
    block = one_cell([10.0, 10.1, 9.9, 10.0, 25.0])
    assert block.depth[0] == pytest.approx(10.0)
    assert block.x[0] == pytest.approx(1.5)  # of the four that count
    assert block.count[0] == 5
    assert block.sigma[0] == pytest.approx(0.1 / 2, rel=0.05)


def test_soundings_within_a_second_count_once():
    """Four at once tell no more than one; four apart halve the deviation."""
    depth = [10.0, 10.02, 9.98, 10.0]
    at_once = one_cell(depth, seconds=np.array([0.0, 0.2, 0.4, 0.6]))
    apart = one_cell(depth, seconds=np.array([0.0, 1.0, 2.0, 3.0]))
    unknown = one_cell(depth, seconds=np.full(4, np.nan))
    assert at_once.sigma[0] == pytest.approx(0.1)
    assert apart.sigma[0] == unknown.sigma[0] == pytest.approx(0.05)


@pytest.mark.parametrize("values", [[1.0], [1.0, 5.0], [1.0, 2.0, 8.0], [0.0, 0.1, 0.2, 9.0, 9.5]])
def test_the_walk_to_the_median_deviation_agrees_with_numpy(values):
    from seabed.soundings.surface._blocks import _deviation

    values = np.array(values)
    middle = float(np.median(values))
    away = np.sort(np.abs(values - middle))
    assert _deviation(values, middle) == pytest.approx(away[len(away) // 2])  # the upper median


def test_scatter_beyond_what_is_stated_is_noticed():
    rng = np.random.default_rng(1)
    bottom = 10 + np.sin(np.arange(4000) / 50)
    line = np.arange(4000) // 500
    sigma = np.full(4000, 0.1)
    spiky = bottom + rng.normal(0, 0.2, 4000)
    spiky[::50] += 5.0
    assert noise_factor(bottom + rng.normal(0, 0.2, 4000), sigma, line) == pytest.approx(2, abs=0.1)
    assert noise_factor(spiky, sigma, line) == pytest.approx(2.0, abs=0.3)  # a spike spoils four
    assert noise_factor(bottom + rng.normal(0, 0.05, 4000), sigma, line) == 1.0
    assert noise_factor(bottom[:10], sigma[:10], line[:10]) == 1.0


def test_outings_are_cut_at_breaks_and_after_three_hours():
    hours = np.array([0.0, 1.0, 2.0, 9.0, 10.0, 12.0, 14.0, np.nan])
    outing, middle = outings_of(hours * 3600)
    assert outing.tolist() == [0, 0, 0, 1, 1, 2, 2, 3]
    np.testing.assert_allclose(middle / 3600, [1.0, 9.5, 13.0, np.nan])
    shuffled, _ = outings_of(hours[::-1] * 3600)
    assert shuffled.tolist() == outing[::-1].tolist()


def blocks_of(x, y, depth, sigma, outing):
    """Blocks of one sounding each."""
    return BlockDepths(
        np.arange(len(x)), outing, x, y, depth, np.full(len(x), sigma), np.zeros(len(x)),
        np.ones(len(x), np.int64),
    )  # fmt: skip


def test_offsets_of_outings_are_found_and_their_deviation_is_true():
    """400 draws of three outings on the same ground, a day apart, half the variance of whose tides
    is wrong in common: errors over stated deviations have a mean square of 1 (of 1200
    values, nearly one by threes: its deviation is the root of 2 in 400, and 3 are allowed)."""
    rng = np.random.default_rng(2)
    off = []
    for _ in range(400):
        true = np.sqrt(0.5) * (rng.normal(0, 0.2) + rng.normal(0, 0.2, 3))
        x = np.tile(np.arange(40) * 4.0, 3)
        outing = np.repeat(np.arange(3), 40)
        depth = 10 + true[outing] + rng.normal(0, 0.1, 120)
        blocks = blocks_of(x, np.zeros(120), depth, 0.1, outing)
        levels = fit_levels(blocks, np.arange(3) * 86400.0, tide_sigma_m=0.2, near_m=2.0)
        off.append((levels.offset - true) / np.sqrt(np.diag(levels.covariance)))
    assert np.mean(np.square(off)) == pytest.approx(1.0, abs=0.2)
    between = np.sqrt(
        levels.covariance[0, 0] + levels.covariance[1, 1] - 2 * levels.covariance[0, 1]
    )
    assert between < 0.06  # one outing against another is known far better than either


def test_outings_that_never_met_keep_their_prior():
    x = np.array([0.0, 1000.0])
    blocks = blocks_of(x, np.zeros(2), np.array([9.0, 12.0]), 0.1, np.array([0, 1]))
    levels = fit_levels(blocks, np.array([0.0, 86400.0]), tide_sigma_m=0.2, near_m=5.0)
    assert levels.offset.tolist() == [0.0, 0.0]
    np.testing.assert_allclose(np.sqrt(np.diag(levels.covariance)), 0.2, rtol=1e-5)


def test_outings_of_a_cell_are_combined_by_variance():
    """Deviations 0.1 and 0.2 with tides apart by nothing: weights 4 to 1."""
    blocks = BlockDepths(
        np.array([7, 7]), np.array([0, 1]), np.array([0.0, 1.0]), np.zeros(2),
        np.array([10.0, 10.1]), np.array([0.1, 0.2]), np.zeros(2), np.array([3, 2]),
    )  # fmt: skip
    joined = combined(blocks, np.zeros((2, 2)))
    assert joined.depth[0] == pytest.approx(10.02)
    assert joined.sigma[0] == pytest.approx(1 / np.sqrt(125))
    assert joined.count.tolist() == [5]
    assert joined.outing.tolist() == [-1]


def test_the_variogram_of_a_known_field_comes_back():
    """A field drawn by Cholesky from a Matérn of sill 0.25 and range 40 m.  One draw wanders: a
    factor of 1.5 at lags up to the range."""
    rng = np.random.default_rng(5)
    places = rng.uniform(0, 600, (2000, 2))
    covariance = 0.25 * matern(cdist(places, places) / 40) + 1e-8 * np.eye(2000)
    depth = 10 + np.linalg.cholesky(covariance) @ rng.normal(size=2000)
    noisy = depth + rng.normal(0, 0.1, 2000)
    blocks = blocks_of(places[:, 0].copy(), places[:, 1].copy(), noisy, 0.1, np.zeros(2000, int))
    fitted = fit_roughness(blocks, cell_m=5.0)
    lag = np.array([15.0, 25.0, 40.0])
    true = 0.25 * (1 - matern(lag / 40))
    ratio = (fitted.variogram(lag) - fitted.nugget) / true
    assert (ratio > 1 / 1.5).all()
    assert (ratio < 1.5).all()
    assert fitted.nugget < 0.005


def test_local_kriging_is_that_of_all_data_solved_whole():
    """Twelve blocks, all of which every cell sees: against the plain equations with a vague mean
    and slope, in numpy.  The scale of the variance is fitted again, so its ratio is one number."""
    rng = np.random.default_rng(6)
    angle = np.arange(12) * 2 * np.pi / 12 + 0.1
    away = np.where(np.arange(12) % 2 == 0, 20.0, 40.0)
    x, y = 100 + away * np.cos(angle), 100 + away * np.sin(angle)
    depth = 10 + 0.01 * x + rng.normal(0, 0.1, 12)
    rough = Roughness(np.array([0.3]), np.array([50.0]), 0.001, np.array([5.0, 100.0]), np.zeros(2))
    blocks = blocks_of(x, y, depth, 0.1, np.zeros(12, int))
    at = np.array([-10.0, 0.0, 7.0])
    cells = np.column_stack([at, at])
    found, deviation, _ = krige(blocks, rough, middle=np.array([[100.0, 100.0]]), away=cells)
    own = np.column_stack([x, y]) - 100
    vague, slope = 100 * (0.3 + 0.001), rough.slope**2
    between = vague + slope * own @ own.T + 0.3 * matern(cdist(own, own) / 50)
    whole = between + (0.1**2 + 0.001) * np.eye(12)
    right = vague + slope * cells @ own.T + 0.3 * matern(cdist(cells, own) / 50)
    weights = np.linalg.solve(whole, right.T).T
    mean = depth.mean()
    np.testing.assert_allclose(found[0], mean + weights @ (depth - mean), atol=1e-4)
    variance = vague + slope * (cells**2).sum(axis=1) + 0.301 - (weights * right).sum(axis=1)
    ratio = deviation[0] ** 2 / variance
    np.testing.assert_allclose(ratio, ratio[0], rtol=1e-3)
    misfit = (depth - mean) @ np.linalg.solve(whole, depth - mean)
    assert ratio[0] == pytest.approx((12 + misfit) / (12 + 9), rel=1e-3)
