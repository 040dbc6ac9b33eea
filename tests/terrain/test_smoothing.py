"""The NaN-aware Gaussian against its own formula."""

import numpy as np
import pytest
from affine import Affine

from seabed.errors import GridError
from seabed.grid import cell_size, make_grid
from seabed.terrain.smoothing import reach_cells, smoothed, smoothed_block


def in_utm(depth, cell=(4.0, 4.0)):
    return make_grid(depth, transform=Affine(cell[0], 0, 5e5, 0, -cell[1], 0), crs=32631)


def test_spike_becomes_a_gaussian_of_the_stated_width():
    depth = np.zeros((81, 101))
    depth[40, 50] = 1
    cell, deviation = (4.0, 3.0), 16.0
    found = smoothed(in_utm(depth, cell), deviation_m=deviation).values
    down, across = np.mgrid[-40:41, -50:51]
    square = (down * cell[1]) ** 2 + (across * cell[0]) ** 2
    truth = np.exp(-square / 2 / deviation**2) * cell[0] * cell[1] / (2 * np.pi * deviation**2)
    # cut off at four deviations: 1.3e-4 of the peak's height, which is 0.0075
    assert np.abs(found - truth).max() < 3e-6


def test_level_stays_level_beside_voids_and_borders():
    depth = np.full((40, 50), 7.25)
    depth[10:20, 10:25] = np.nan
    found = smoothed(in_utm(depth), deviation_m=12, least_weight=0.1).values
    assert np.nanmax(np.abs(found - 7.25)) < 1e-5
    assert np.isnan(found[10:20, 10:25]).all()
    assert not np.isnan(found[25:]).any()


def test_little_known_ground_is_void():
    depth = np.full((41, 41), 5.0)
    depth[:, 21:] = np.nan
    found = smoothed(in_utm(depth), deviation_m=16, least_weight=0.9).values
    # weight over a straight shore is the normal distribution's: 0.9 at 1.28 deviations, 5.1 cells
    known = ~np.isnan(found[20])
    assert known[8:15].all()
    assert not known[17:].any()


def test_a_fifth_must_be_known_where_nothing_else_is_said():
    """A lone cell's share is one over the square of the sum of exp(-k^2 / 2 s^2): by hand.

    0.249 for a deviation of 0.8 cells, 0.176 for 0.95.
    """
    depth = np.full((9, 9), np.nan)
    depth[4, 4] = 5.0
    assert smoothed(in_utm(depth), deviation_m=3.2).values[4, 4] == pytest.approx(5.0)
    assert np.isnan(smoothed(in_utm(depth), deviation_m=3.8).values[4, 4])


def test_geographic_width_follows_the_row():
    step = 1e-3
    depth = np.zeros((61, 161))
    depth[30, 80] = 1
    grid = make_grid(depth, transform=Affine(step, 0, -20, 0, -step, 70), crs=4326)
    found = smoothed(grid, deviation_m=400).values.astype(float)
    size = cell_size(grid)
    across = (np.arange(161) - 80) * size.easting[30]
    down = (np.arange(61) - 30) * size.northing[30]
    # second moments along the middle row and column
    assert np.sqrt((found[30] * across**2).sum() / found[30].sum()) == pytest.approx(400, rel=0.01)
    assert np.sqrt((found[:, 80] * down**2).sum() / found[:, 80].sum()) == pytest.approx(
        400, rel=0.01
    )


def test_every_row_of_a_tall_grid_has_its_own_width():
    """Over 3 degrees of latitude widths shrink by 14 %: the second moment of each row is right.

    Rows of one class of width share a kernel, half a per cent off at most; cutting it off at four
    deviations takes 0.05 %.
    """
    step = 0.05
    depth = np.zeros((61, 161))
    depth[:, 80] = 1
    grid = make_grid(depth, transform=Affine(step, 0, -20, 0, -step, 71.5), crs=4326)
    found = smoothed(grid, deviation_m=12_000).values.astype(float)
    across = (np.arange(161) - 80) * cell_size(grid).easting[:, None]
    moment = np.sqrt((found * across**2).sum(axis=1) / found.sum(axis=1))
    assert np.abs(moment / 12_000 - 1).max() < 0.0065


def test_chunks_leave_no_trace():
    depth = np.random.default_rng(0).normal(20, 1, (60, 70))
    depth[20:30, 30:33] = np.nan
    grid = in_utm(depth)
    lazy = smoothed(grid.chunk(y=25, x=32), deviation_m=10)
    assert lazy.chunks is not None
    np.testing.assert_allclose(lazy.values, smoothed(grid, deviation_m=10).values, atol=1e-5)


def test_blocks_that_overlap_agree_to_the_last_bit():
    """One block has a void that the other does not see: far from it nothing may differ."""
    depth = np.random.default_rng(0).normal(100, 30, (40, 140)).astype(np.float32)
    depth[5, 5] = np.nan
    settings = {"deviation_m": 23.0, "least_weight": 0.2, "level_m": 20.0}
    whole = smoothed_block(depth, np.full(40, 4.0), 4.0, **settings)
    part = smoothed_block(depth[:, 30:], np.full(40, 4.0), 4.0, **settings)
    reach = reach_cells(23.0, 4.0)
    np.testing.assert_array_equal(whole[:, 30 + reach :], part[:, reach:])


def test_no_scale_is_refused():
    with pytest.raises(GridError, match="a smoothing scale of 0 m is too small"):
        smoothed(in_utm(np.ones((5, 5))), deviation_m=0)
