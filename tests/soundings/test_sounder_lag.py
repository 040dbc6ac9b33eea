"""How late the sounder is, on surveys that say so."""

import numpy as np
import pytest
from affine import Affine
from simulated_survey import survey, true_bottom
from thoroughness import THOROUGH

from seabed.grid import make_grid, transform_of
from seabed.grid.places import sample
from seabed.soundings import sounding_table
from seabed.soundings.checks.lag import estimate_lag
from seabed.soundings.checks.tracks import without_lag


@pytest.fixture(scope="module")
def truth():
    return true_bottom()


def coarse(truth, factor=5, *, deeper_m=0.3):
    """The open grid of such a place: means of larger cells, and off by a constant."""
    rows, columns = (n // factor for n in truth.shape)
    part = truth.values[: rows * factor, : columns * factor]
    means = part.reshape(rows, factor, columns, factor).mean(axis=(1, 3)) + deeper_m
    return make_grid(means, transform=transform_of(truth) @ Affine.scale(factor), crs=truth.rio.crs)


@pytest.mark.parametrize("lag", [1.0, 0.0, -0.6] if THOROUGH else [1.0, -0.6])
def test_found_to_a_fifth_of_a_second_with_an_open_grid(truth, lag):
    grid = coarse(truth)
    sailed = survey(seed=2, truth=truth, lag_s=lag)
    fit = estimate_lag(sailed.table(), chart=lambda x, y: sample(grid, x, y))
    assert fit.sure
    assert fit.lag_s == pytest.approx(lag, abs=0.2)
    assert fit.sigma_s < 0.25


def test_found_from_the_lines_alone_where_they_are_close(truth):
    sailed = survey(
        seed=3, truth=truth, lag_s=1.5, spacing_m=25.0, cross_m=75.0, noise=(0.05, 0.002),
        tide_error_m=0.05, receiver_m=0.5,
    )  # fmt: skip
    fit = estimate_lag(sailed.table())
    assert fit.sure
    assert fit.lag_s == pytest.approx(1.5, abs=0.2)


def test_nothing_tells_on_one_line_or_a_flat():
    count = 600
    table = sounding_table(
        time=np.datetime64("2031-06-14T09:00", "ns") + np.arange(count) * np.timedelta64(1, "s"),
        longitude=-33.0 + np.arange(count) * 3e-5,
        latitude=np.full(count, 46.0),
        measured_m=np.full(count, 8.0),
        to_surface_m=np.zeros(count),
    )
    fit = estimate_lag(table)
    assert not fit.sure
    assert np.isnan(fit.lag_s)
    assert not estimate_lag(table.iloc[:3]).sure


def test_positions_move_back_along_the_track():
    """Analytic: at 2 m/s to the north a lag of 1.5 s is 3 m; two lines don't mix."""
    count = 40
    latitude = 46.0 + np.arange(count) * 2.0 / 111_150.0
    table = sounding_table(
        time=np.datetime64("2031-06-14T09:00", "ns") + np.arange(count) * np.timedelta64(1, "s"),
        longitude=np.full(count, -33.0),
        latitude=np.concatenate([latitude[:20], latitude[20:] + 1.0]),
        line=np.repeat([0, 1], 20),
    )
    moved = without_lag(table, 1.5)
    step = (moved["latitude"] - table["latitude"]) * 111_150.0
    np.testing.assert_allclose(step, -3.0, atol=0.01)
    np.testing.assert_allclose(without_lag(moved, -1.5)["latitude"], table["latitude"], atol=1e-9)
    assert without_lag(table, 0.0) is table


def test_without_lag_soundings_lie_where_they_were_heard(truth):
    sailed = survey(seed=4, truth=truth, lag_s=1.0, tide_error_m=0.0, noise=(0.0, 0.0),
                    spikes=0, doubles=0, losses=0, receiver_m=0.0)  # fmt: skip
    table = without_lag(sailed.table(), 1.0)
    true = sample(truth, table["longitude"].to_numpy(), table["latitude"].to_numpy())
    off = np.abs(table["depth_m"].to_numpy() - true)
    assert np.median(off) < 0.01  # the log's centimetre
    assert np.quantile(off, 0.99) < 0.1  # corners
