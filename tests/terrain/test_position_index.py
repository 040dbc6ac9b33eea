"""Position index against direct sums."""

import numpy as np
import pytest
from affine import Affine
from pyproj import Geod
from scipy.ndimage import convolve

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.terrain import position_index

GEOD = Geod(ellps="WGS84")


def rough(shape=(70, 90), *, void=True):
    depth = np.random.default_rng(3).normal(20, 2, shape)
    if void:
        depth[10:30, 50:60] = np.nan
        depth[40, 3] = np.nan
    return depth


def in_utm(depth, cell=(4.0, 4.0)):
    return make_grid(depth, transform=Affine(cell[0], 0, 5e5, 0, -cell[1], 0), crs=32631)


def by_hand(depth, ring):
    known = ~np.isnan(depth)
    total = convolve(np.where(known, depth, 0.0), ring, mode="constant")
    count = convolve(known.astype(float), ring, mode="constant")
    return np.where(known & (count > 0), total / np.maximum(count, 1) - depth, np.nan)


@pytest.mark.parametrize("cell", [(4.0, 4.0), (5.0, 3.0)])
@pytest.mark.parametrize(("inner", "outer"), [(0.0, 12.0), (8.0, 40.0), (40.0, 100.0)])
def test_ring_mean_by_direct_sums(inner, outer, cell):
    depth = rough()
    down, across = np.mgrid[-40:41, -40:41]
    away = np.hypot(down * cell[1], across * cell[0])
    truth = by_hand(depth, ((away >= inner) & (away <= outer)).astype(float))
    found = position_index(in_utm(depth, cell), inner_m=inner, outer_m=outer).values
    np.testing.assert_array_equal(np.isnan(found), np.isnan(truth))
    assert np.nanmax(np.abs(found - truth)) < 1e-5


def test_tiles_leave_no_trace(monkeypatch):
    """Tiles of 16 cells, of which some have neighbours on all sides and some are cut short."""
    monkeypatch.setattr("seabed.terrain.position._TILE", 16)
    depth = rough()
    down, across = np.mgrid[-3:4, -3:4]
    truth = by_hand(depth, ((down**2 + across**2) <= 9).astype(float))
    found = position_index(in_utm(depth), inner_m=0, outer_m=12).values
    np.testing.assert_array_equal(np.isnan(found), np.isnan(truth))
    assert np.nanmax(np.abs(found - truth)) < 1e-5


def test_deep_water_loses_no_digits():
    depth = rough() + 4000
    found = position_index(in_utm(depth), inner_m=8, outer_m=40).values
    shallow = position_index(in_utm(depth - 4000), inner_m=8, outer_m=40).values
    # float32 depths near 4000 m are known to 1.2e-4 m
    assert np.nanmax(np.abs(found - shallow)) < 3e-4


def test_highs_are_positive_and_planes_zero():
    rows, columns = np.mgrid[:60, :60]
    hump = 20 - 3 * np.exp(-((rows - 30) ** 2 + (columns - 30) ** 2) / 50)
    assert position_index(in_utm(hump), inner_m=20, outer_m=60).values[30, 30] > 2.5
    plane = position_index(in_utm(20 + 0.1 * rows + 0.2 * columns), inner_m=20, outer_m=60).values
    assert np.abs(plane[16:-16, 16:-16]).max() < 1e-5


@pytest.mark.parametrize("latitude", [10.0, 71.0])
def test_geographic_ring_is_round_on_the_ground(latitude):
    step = 1e-3
    depth = rough((41, 121), void=False)
    west, north = -20 - step / 2, latitude + 20.5 * step
    grid = make_grid(depth, transform=Affine(step, 0, west, 0, -step, north), crs=4326)
    x, y = np.meshgrid(grid["x"].values, grid["y"].values)
    row, column = 20, 60
    away = GEOD.inv(np.full_like(x, x[row, column]), np.full_like(y, y[row, column]), x, y)[2]
    inner, outer = 350.0, 1500.0
    ring = (away >= inner) & (away <= outer)
    # cells within 0.6 % of a rim may fall on either side: the ring's width follows to 0.5 %
    sure = ring & (away >= inner * 1.006) & (away <= outer * 0.994)
    unsure = ring.sum() - sure.sum()
    found = position_index(grid, inner_m=inner, outer_m=outer).values[row, column]
    slack = unsure / ring.sum() * np.ptp(depth)
    assert found == pytest.approx(depth[ring].mean() - depth[row, column], abs=max(slack, 1e-4))


def test_rows_of_the_ring_are_counted_by_the_middle_rows_height():
    """At 30 north a cell of one degree is 110.85 km high (WGS 84), at 40 north 0.16 % more.

    A ring of 110.9 km there holds the cell and its four neighbours.
    """
    depth = rough((61, 21), void=False)
    grid = make_grid(depth, transform=Affine(1, 0, -20, 0, -1, 60.5), crs=4326)
    outer = 1.0005 * GEOD.inv(0, 29.5, 0, 30.5)[2]
    cross = depth[30, 10] + depth[29, 10] + depth[31, 10] + depth[30, 9] + depth[30, 11]
    found = position_index(grid, inner_m=0, outer_m=outer).values[30, 10]
    assert found == pytest.approx(cross / 5 - depth[30, 10], abs=1e-5)


def test_wide_grid_in_latitude_changes_its_ring_by_row():
    """Over 6 degrees of latitude at 70 north a cell's width changes by a third."""
    step = 0.05
    depth = rough((120, 200), void=False)
    grid = make_grid(depth, transform=Affine(step, 0, -20, 0, -step, 73), crs=4326)
    found = position_index(grid, inner_m=0, outer_m=30_000).values
    x, y = grid["x"].values, grid["y"].values
    for row in (30, 60, 90):
        east = GEOD.inv(0, y[row], step, y[row])[2]
        north = GEOD.inv(0, y[60] - step / 2, 0, y[60] + step / 2)[2]
        down, across = np.mgrid[-25:26, -25:26]
        for width in east * np.array([0.995, 1.0, 1.005]):
            ring = np.hypot(down * north, across * width) <= 30_000
            around = depth[row - 25 : row + 26, 100 - 25 : 100 + 26]
            truth = around[ring].mean() - depth[row, 100]
            if abs(found[row, 100] - truth) < 1e-4:
                break
        else:
            pytest.fail(f"row {row}: no ring within half a per cent gives {found[row, 100]}")
    assert len(x) == 200


def test_standardised_has_mean_zero_and_deviation_one():
    found = position_index(in_utm(rough()), inner_m=8, outer_m=40, standardised=True).values
    assert np.nanmean(found) == pytest.approx(0, abs=1e-5)
    assert np.nanstd(found) == pytest.approx(1, abs=1e-5)


@pytest.mark.parametrize("standardised", [False, True])
def test_chunks_leave_no_trace(standardised):
    grid = make_grid(rough(), transform=Affine(1e-3, 0, -20, 0, -1e-3, 60), crs=4326)
    ring = {"inner_m": 200.0, "outer_m": 1500.0, "standardised": standardised}
    whole, lazy = position_index(grid, **ring), position_index(grid.chunk(y=31, x=40), **ring)
    assert lazy.chunks is not None
    np.testing.assert_allclose(lazy.values, whole.values, rtol=0, atol=1e-5)


def test_ring_of_voids_is_void():
    depth = np.full((9, 9), np.nan)
    depth[4, 4] = 5.0
    assert np.isnan(position_index(in_utm(depth), inner_m=4, outer_m=8).values).all()


@pytest.mark.parametrize(
    ("inner", "outer", "message"),
    [(10, 10, "is empty"), (-1, 5, "is empty"), (0, 3, "no cell centre is within 3 m")],
)
def test_impossible_rings_are_refused(inner, outer, message):
    with pytest.raises(GridError, match=message):
        position_index(in_utm(rough()), inner_m=inner, outer_m=outer)
