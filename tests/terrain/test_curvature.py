"""Curvature against quadrics, whose second derivatives are known everywhere."""

import numpy as np
import pytest
from affine import Affine
from pyproj import Geod

from seabed.grid import make_grid
from seabed.terrain import curvature

GEOD = Geod(ellps="WGS84")
CELL = (4.0, 3.0)


def in_utm(depth):
    return make_grid(depth, transform=Affine(CELL[0], 0, 5e5, 0, -CELL[1], 0), crs=32631)


def quadric(xx, yy, xy, gx, gy, shape=(15, 17)):
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    x, y = (columns - 8) * CELL[0], (7 - rows) * CELL[1]
    return in_utm(10 + xx * x**2 / 2 + yy * y**2 / 2 + xy * x * y + gx * x + gy * y)


@pytest.mark.parametrize("seed", range(4))
def test_quadric_by_its_hessian(seed):
    xx, yy, xy, gx, gy = np.random.default_rng(seed).uniform(-0.05, 0.05, 5)
    grid = quadric(xx, yy, xy, gx, gy)
    hessian, gradient = np.array([[xx, xy], [xy, yy]]), np.array([gx, gy])
    down = gradient / np.linalg.norm(gradient)
    across = np.array([-down[1], down[0]])
    middle = (7, 8)
    # float32 depths of some 10 m: 1e-6 m over 9 m² is about 5e-7 per metre
    close = {"abs": 2e-6}
    assert curvature(grid, kind="profile").values[middle] == pytest.approx(
        down @ hessian @ down, **close
    )
    assert curvature(grid, kind="plan").values[middle] == pytest.approx(
        across @ hessian @ across, **close
    )
    assert curvature(grid).values[middle] == pytest.approx((xx + yy) / 2, **close)


def test_highs_are_positive_and_level_ground_has_a_mean_only():
    grid = quadric(0.02, 0.02, 0, 0, 0)  # deepens away from the middle: a hump
    assert curvature(grid).values[7, 8] == pytest.approx(0.02, abs=1e-6)
    assert np.isnan(curvature(grid, kind="plan").values[7, 8])
    assert np.isnan(curvature(grid, kind="profile").values[7, 8])


def test_geographic_cells_are_measured_over_the_ground():
    step, latitude = 1e-4, 72.0
    rows, columns = np.mgrid[:9, :9]
    width = GEOD.inv(0, latitude, step, latitude)[2]
    height = GEOD.inv(0, latitude - step / 2, 0, latitude + step / 2)[2]
    x, y = (columns - 4) * width, (4 - rows) * height
    grid = make_grid(
        0.01 * x**2 - 0.02 * y**2,
        transform=Affine(step, 0, -20, 0, -step, latitude + 4.5 * step),
        crs=4326,
    )
    assert curvature(grid).values[4, 4] == pytest.approx((0.02 - 0.04) / 2, rel=1e-4)


@pytest.mark.parametrize("kind", ["profile", "plan", "mean"])
def test_voids_and_chunks(kind):
    depth = np.random.default_rng(0).normal(20, 1, (40, 50))
    depth[12, 13] = np.nan
    grid = in_utm(depth)
    whole = curvature(grid, kind=kind)
    expected = np.ones(grid.shape, bool)
    expected[1:-1, 1:-1] = False
    expected[11:14, 12:15] = True
    np.testing.assert_array_equal(np.isnan(whole.values), expected)
    lazy = curvature(grid.chunk(y=13, x=16), kind=kind)
    assert lazy.chunks is not None
    np.testing.assert_array_equal(lazy.values, whole.values)
