"""Voids filled only so far, and marked; no steps where tiles of different resolution meet."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio.transform import from_origin
from thoroughness import examples

from seabed.errors import GridError
from seabed.grid import check_grid, make_grid
from seabed.loaders import fill_voids, open_grid, open_surface

WEST, NORTH = 500_000.0, 4_200_000.0


def grid_of(depth, step=(4.0, 4.0)):
    affine = Affine(step[0], 0, WEST, 0, -step[1], NORTH)
    return make_grid(depth.astype(np.float32), transform=affine, crs="EPSG:32631")


def plane(rows=40, columns=50, step=(4.0, 4.0)):
    row, column = np.mgrid[0:rows, 0:columns]
    return 20 + 0.03 * step[1] * row + 0.05 * step[0] * column


@pytest.mark.parametrize("step", [(4.0, 4.0), (3.0, 7.0)])
def test_a_plane_is_filled_exactly(step):
    """Laplace's equation holds on any plane, whatever the shape of the cells."""
    whole = plane(step=step)
    holed = whole.copy()
    holed[10:14, 10:20] = np.nan
    holed[25, 5:45] = np.nan
    filled = fill_voids(grid_of(holed, step), within_m=15)
    check_grid(filled)
    np.testing.assert_array_equal(filled.coords["filled"], np.isnan(holed))
    np.testing.assert_allclose(filled.values, whole, atol=1e-4)


def test_a_saddle_is_filled_exactly_on_cells_that_are_not_square():
    """x² - y² solves Laplace's equation, and its second differences are exact."""
    row, column = np.mgrid[0:40, 0:50]
    saddle = 50 + ((column - 25) * 3.0) ** 2 / 200 - ((row - 20) * 7.0) ** 2 / 200
    holed = saddle.copy()
    holed[17:22, 20:32] = np.nan
    filled = fill_voids(grid_of(holed, (3.0, 7.0)), within_m=25)
    assert filled.notnull().all()
    np.testing.assert_allclose(filled.values, saddle, atol=1e-3)


def test_measured_depths_are_untouched_and_the_grid_given_too():
    holed = plane()
    holed[10:14, 10:20] = np.nan
    grid = grid_of(holed)
    before = grid.values.copy()
    filled = fill_voids(grid, within_m=20)
    np.testing.assert_array_equal(grid.values, before)
    known = np.isfinite(before)
    np.testing.assert_array_equal(filled.values[known], before[known])


@pytest.mark.parametrize(("gap", "filled"), [(3, True), (4, True), (5, False), (6, False)])
def test_a_gap_is_filled_up_to_twice_the_distance(gap, filled):
    """A strip of n void rows of 4 m is between depths (n + 1) 4 m apart; 10 m reach the middle of
    20 m, so of 4 rows, not of 5."""
    holed = plane()
    holed[15 : 15 + gap] = np.nan
    found = fill_voids(grid_of(holed), within_m=10)
    assert bool(found.notnull().all()) is filled
    assert int(found.coords["filled"].sum()) == (gap * 50 if filled else 0)


def test_the_outline_is_not_pushed_outward():
    holed = plane()
    holed[:, 30:] = np.nan
    holed[:8] = np.nan
    found = fill_voids(grid_of(holed), within_m=30)
    np.testing.assert_array_equal(np.isnan(found.values), np.isnan(holed))


def test_land_is_never_filled():
    holed = plane()
    holed[10:13, 10:13] = np.nan
    holed[20:23, 10:13] = np.nan
    land = np.zeros(holed.shape, bool)
    land[20:23, 10:13] = True
    found = fill_voids(grid_of(holed), within_m=20, land=land)
    assert np.isnan(found.values[20:23, 10:13]).all()
    assert np.isfinite(found.values[10:13, 10:13]).all()


def test_loader_knows_land_from_void(tmp_path):
    height = -plane()
    height[10:13, 10:13] = -9999
    height[20:23, 10:13] = 2.0
    file = tmp_path / "a.tif"
    with rasterio.open(
        file, "w", driver="GTiff", height=40, width=50, count=1, dtype="float32", nodata=-9999,
        crs="EPSG:32631", transform=from_origin(WEST, NORTH, 4, 4),
    ) as data:  # fmt: skip
        data.write(height.astype(np.float32), 1)
    grid = open_grid(file, fill_within_m=20)
    assert int(grid.coords["filled"].sum()) == 9
    assert int(grid.isnull().sum()) == 9
    assert "filled" not in open_grid(file).coords


@given(st.integers(0, 2**31), st.floats(0.02, 0.5))
@settings(max_examples=examples(25), deadline=None)
def test_filled_depths_stay_between_those_around(seed, share):
    """The maximum principle of Laplace's equation; and each filled cell has a measured one near."""
    rng = np.random.default_rng(seed)
    holed = rng.uniform(5, 50, (25, 30))
    holed[rng.random(holed.shape) < share] = np.nan
    found = fill_voids(grid_of(holed), within_m=9)
    known = np.argwhere(np.isfinite(holed))
    assert np.nanmin(found) >= np.float32(np.nanmin(holed)) - 1e-4
    assert np.nanmax(found) <= np.float32(np.nanmax(holed)) + 1e-4
    for cell in np.argwhere(found.coords["filled"].values):
        assert (np.hypot(*(known - cell).T) * 4).min() <= 9


@pytest.mark.parametrize("depth", [np.full((5, 5), np.nan), np.full((5, 5), 3.0)])
def test_nothing_to_fill(depth):
    found = fill_voids(grid_of(depth), within_m=100)
    assert not found.coords["filled"].any()
    np.testing.assert_array_equal(found.values, depth)


def test_no_distance():
    with pytest.raises(GridError, match="can't be filled within nan m"):
        fill_voids(grid_of(plane()), within_m=float("nan"))


def write(path, west, north, shape, step, depth, spread=None):
    rows, columns = shape
    x = west + step * (np.arange(columns) + 0.5)
    y = north - step * (np.arange(rows) + 0.5)
    bands = [-depth(*np.meshgrid(x, y))]
    if spread is not None:
        bands.append(np.full(shape, spread))
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=columns, count=len(bands), dtype="float32",
        crs="EPSG:32631", transform=from_origin(west, north, step, step), nodata=-9999,
    ) as data:  # fmt: skip
        data.write(np.nan_to_num(np.stack(bands), nan=-9999).astype(np.float32))
        data.set_band_description(1, "elevation")
        if spread is not None:
            data.set_band_description(2, "uncertainty")
    return path


def slope(x, y):
    return 20 + (x - WEST) * 0.01 + (NORTH - y) * 0.02


@pytest.fixture
def biased(tmp_path):
    """One slope; the coarse survey is 1.5 m off."""
    coarse = write(
        tmp_path / "c.tif", WEST, NORTH, (60, 60), 16, lambda x, y: slope(x, y) + 1.5, 0.8
    )
    fine = write(tmp_path / "f.tif", WEST + 320, NORTH - 320, (80, 80), 4, slope, 0.2)
    return coarse, fine


def test_no_step_is_left_where_a_biased_coarse_grid_meets_a_fine_one(biased):
    """The slope itself makes 0.08 m from cell to cell; an unmended seam would make 1.5 m."""
    grid = open_grid(biased)
    check_grid(grid)
    for axis in (0, 1):
        assert np.abs(np.diff(grid.values, axis=axis)).max() < 0.15
    assert any("shifted by up to 1." in guess for guess in grid.attrs["guesses"])


def test_the_fine_grid_and_the_far_coarse_one_stay_as_they_are(biased):
    coarse, fine = biased
    grid, own = open_grid([coarse, fine]), open_grid(fine)
    np.testing.assert_array_equal(grid.sel(x=own.x, y=own.y).values, own.values)
    x, y = np.meshgrid(grid.x, grid.y)
    reach = 320 - 16 * 10
    far = (x < WEST + reach) & (x > WEST + 8) & (y < NORTH - 8) & (y > NORTH - 950)
    np.testing.assert_allclose(grid.values[far], (slope(x, y) + 1.5)[far], atol=1e-3)


def test_uncertainty_follows_its_depth(biased):
    surface = open_surface(biased)
    depth, spread = surface.depth, surface.uncertainty
    assert spread.name == "uncertainty"
    assert spread.attrs["units"] == "m"
    np.testing.assert_array_equal(depth.x, spread.x)
    np.testing.assert_array_equal(depth.y, spread.y)
    np.testing.assert_array_equal(np.isnan(depth), np.isnan(spread))
    inside = (depth.x > WEST + 320) & (depth.x < WEST + 640)
    inside = inside & (depth.y < NORTH - 320) & (depth.y > NORTH - 640)
    np.testing.assert_allclose(spread.values[inside.T.values], 0.2, rtol=1e-6)
    np.testing.assert_allclose(spread.values[~inside.T.values], 0.8, rtol=1e-6)


def test_uncertainty_is_in_the_unit_of_its_depth(tmp_path):
    file = write(tmp_path / "a.tif", WEST, NORTH, (10, 10), 4, slope, 2.0)
    spread = open_surface(file, unit="ft").uncertainty
    np.testing.assert_allclose(spread, 2 * 0.3048, rtol=1e-6)


def test_a_file_without_uncertainty(tmp_path):
    one = write(tmp_path / "1.tif", WEST, NORTH, (10, 10), 4, slope)
    two = write(tmp_path / "2.tif", WEST + 40, NORTH, (10, 10), 4, slope, 0.3)
    assert open_surface(one).uncertainty is None
    both = open_surface([one, two]).uncertainty
    assert np.isnan(both.values[:, :10]).all()
    np.testing.assert_allclose(both.values[:, 10:], 0.3, rtol=1e-6)
