"""Tiles put together: no seams, finest wins, land holds."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.transform import from_origin

from seabed.errors import GridError
from seabed.grid import Bounds, check_grid
from seabed.grid.places import sample
from seabed.loaders import open_grid

WEST, NORTH = 500_000.0, 4_200_000.0


def plane(x, y):
    return 20 + (x - WEST) * 0.01 + (NORTH - y) * 0.02


def write(path, west, north, shape, step, *, crs="EPSG:32631", depth=plane, **more):
    rows, columns = shape
    x, y = np.meshgrid(
        west + step * (np.arange(columns) + 0.5), north - step * (np.arange(rows) + 0.5)
    )
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=columns, count=1, dtype="float32", crs=crs,
        transform=from_origin(west, north, step, step), nodata=-9999, **more,
    ) as data:  # fmt: skip
        data.write(np.nan_to_num(-depth(x, y), nan=-9999).astype(np.float32), 1)
        data.update_tags(1, positive="up", vertical_datum="MSL")
        data.units = ("m",)
    return path


def test_tiles_side_by_side_are_one_grid(tmp_path):
    tiles = [
        write(tmp_path / f"{i}{j}.tif", WEST + 200 * i, NORTH - 160 * j, (40, 50), 4)
        for i in range(3)
        for j in range(2)
    ]
    grid = open_grid(tiles)
    check_grid(grid)
    whole = open_grid(write(tmp_path / "whole.tif", WEST, NORTH, (80, 150), 4))
    np.testing.assert_array_equal(grid.values, whole.values)
    np.testing.assert_array_equal(grid.x, whole.x)
    np.testing.assert_array_equal(grid.y, whole.y)


def test_the_first_named_wins_among_equals_and_fills_the_others_voids(tmp_path):
    one = write(
        tmp_path / "1.tif",
        WEST,
        NORTH,
        (10, 10),
        4,
        depth=lambda x, y: np.where(x < WEST + 8, np.nan, 5),
    )
    two = write(tmp_path / "2.tif", WEST, NORTH, (10, 10), 4, depth=lambda x, y: 0 * x + 9)
    np.testing.assert_array_equal(open_grid([one, two]).values[0], [9, 9] + [5] * 8)
    np.testing.assert_array_equal(open_grid([two, one]).values[0], [9] * 10)


def test_missing_tile_leaves_a_void(tmp_path):
    one = write(tmp_path / "1.tif", WEST, NORTH, (10, 10), 4)
    two = write(tmp_path / "2.tif", WEST + 80, NORTH, (10, 10), 4)
    grid = open_grid([one, two])
    assert grid.shape == (10, 30)
    assert np.isnan(grid.values[:, 10:20]).all()
    assert grid.notnull().values[:, 20:].all()


def test_finest_wins_and_the_coarse_carries_on_without_a_step(tmp_path):
    """Both sample one plane, so linear interpolation must give that plane on every cell within
    the coarse grid's outermost centres."""
    coarse = write(tmp_path / "c.tif", WEST, NORTH, (50, 50), 16)
    fine = write(tmp_path / "f.tif", WEST + 202, NORTH - 198, (60, 80), 4)
    grid = open_grid([coarse, fine])
    check_grid(grid)
    assert abs(grid.x.values[1] - grid.x.values[0]) == 4
    x, y = np.meshgrid(grid.x, grid.y)
    inner = (x > WEST + 8) & (x < WEST + 792) & (y < NORTH - 8) & (y > NORTH - 792)
    np.testing.assert_allclose(grid.values[inner], plane(x, y)[inner], atol=1e-3)


def test_finest_counts_cell_for_cell(tmp_path):
    coarse = write(tmp_path / "c.tif", WEST, NORTH, (20, 20), 16, depth=lambda x, y: 0 * x + 30)
    fine = write(
        tmp_path / "f.tif", WEST + 80, NORTH - 80, (20, 20), 4, depth=lambda x, y: 0 * x + 10
    )
    grid = open_grid([coarse, fine])
    own = open_grid(fine)
    np.testing.assert_array_equal(grid.sel(x=own.x, y=own.y).values, own.values)


def test_land_of_the_finest_is_not_flooded_by_the_coarse(tmp_path):
    def islet(x, y):
        return np.where((x > WEST + 100) & (x < WEST + 120), -2.0, 5.0)

    coarse = write(tmp_path / "c.tif", WEST, NORTH, (20, 20), 16, depth=lambda x, y: 0 * x + 6)
    fine = write(tmp_path / "f.tif", WEST + 80, NORTH - 80, (20, 20), 4, depth=islet)
    grid = open_grid([coarse, fine])
    own = open_grid(fine)
    np.testing.assert_array_equal(grid.sel(x=own.x, y=own.y).values, own.values)
    assert int(own.isnull().sum()) == 5 * 20


def test_tiles_of_another_crs(tmp_path):
    """A geographic coarse tile under a projected fine one: depth made of longitude and latitude."""
    to_degrees = Transformer.from_crs(32631, 4326, always_xy=True)

    def by_degrees(longitude, latitude):
        return 20 + (longitude - 3) * 500 + (latitude - 37.9) * 300

    west, north = to_degrees.transform(WEST, NORTH)
    fine = write(tmp_path / "f.tif", WEST, NORTH, (100, 100), 10,
                 depth=lambda x, y: by_degrees(*to_degrees.transform(x, y)))  # fmt: skip
    coarse = write(tmp_path / "c.tif", round(west - 0.02, 3), round(north + 0.02, 3), (60, 60),
                   0.001, crs="EPSG:4326", depth=by_degrees)  # fmt: skip
    grid = open_grid([coarse, fine])
    check_grid(grid)
    assert grid.rio.crs.to_epsg() == 32631
    rng = np.random.default_rng(2)
    longitude = rng.uniform(west - 0.017, west + 0.036, 500)
    latitude = rng.uniform(north - 0.036, north + 0.017, 500)
    np.testing.assert_allclose(
        sample(grid, longitude, latitude), by_degrees(longitude, latitude), atol=0.02
    )


def test_no_gap_between_coarse_tiles_under_a_fine_one(tmp_path):
    tiles = [write(tmp_path / f"{i}.tif", WEST + 320 * i, NORTH, (20, 20), 16) for i in range(3)]
    fine = write(tmp_path / "f.tif", WEST + 300, NORTH - 100, (10, 10), 4)
    grid = open_grid([*tiles, fine])
    assert not grid.isnull().any()


def test_box_leaves_out_tiles_beside_it(tmp_path):
    one = write(tmp_path / "1.tif", WEST, NORTH, (100, 100), 10)
    two = write(tmp_path / "2.tif", WEST + 100_000, NORTH, (100, 100), 10)
    grid = open_grid([one, two], box=Bounds(3.0, 37.94, 3.005, 37.945))
    assert grid.shape[1] < 60
    with pytest.raises(GridError, match="none of the 2 grids is in the box"):
        open_grid([one, two], box=Bounds(30.0, 37.94, 30.005, 37.945))


def test_a_tile_of_land_beside_nameless_elevations_is_no_depth(tmp_path):
    """The sign is settled from all tiles together."""
    for name, value in (("sea", -10.0), ("land", 30.0)):
        west = WEST + (name == "land") * 16
        with rasterio.open(
            tmp_path / f"{name}.tif", "w", driver="GTiff", height=4, width=4, count=1,
            dtype="float32", crs="EPSG:32631", transform=from_origin(west, NORTH, 4, 4),
        ) as data:  # fmt: skip
            data.write(np.full((1, 4, 4), value, np.float32))
    grid = open_grid([tmp_path / "sea.tif", tmp_path / "land.tif"])
    assert int(grid.notnull().sum()) == 16
    assert float(grid.max()) == 10


def test_other_datums_are_said(tmp_path):
    one = write(tmp_path / "1.tif", WEST, NORTH, (10, 10), 4)
    two = write(tmp_path / "2.tif", WEST + 40, NORTH, (10, 10), 4)
    with rasterio.open(two, "r+") as data:
        data.update_tags(1, vertical_datum="MLLW")
    grid = open_grid([one, two])
    assert any("different vertical datums (MLLW, MSL)" in guess for guess in grid.attrs["guesses"])


def test_too_large_a_whole_is_refused(tmp_path):
    one = write(tmp_path / "1.tif", WEST, NORTH, (10, 10), 0.5)
    two = write(tmp_path / "2.tif", WEST + 90_000, NORTH + 90_000, (10, 10), 0.5)
    with pytest.raises(GridError, match=r"more than the .* that fit"):
        open_grid([one, two])


def test_tiles_half_a_cell_apart_are_interpolated_not_shoved(tmp_path):
    one = write(tmp_path / "1.tif", WEST, NORTH, (20, 20), 4)
    two = write(tmp_path / "2.tif", WEST + 82, NORTH - 1, (20, 20), 4)
    grid = open_grid([one, two])
    check_grid(grid)
    x, y = np.meshgrid(grid.x, grid.y)
    inner = (x > WEST + 84) & (x < WEST + 160) & (y < NORTH - 4) & (y > NORTH - 79)
    np.testing.assert_allclose(grid.values[inner], plane(x, y)[inner], atol=1e-4)


def test_land_of_a_middling_grid_is_not_flooded_by_the_coarsest(tmp_path):
    def islet(x, y):
        return np.where((x > WEST + 160) & (x < WEST + 192), -2.0, 8.0)

    fine = write(tmp_path / "f.tif", WEST, NORTH, (10, 10), 4, depth=lambda x, y: 0 * x + 8)
    middling = write(tmp_path / "m.tif", WEST, NORTH, (20, 20), 16, depth=islet)
    coarsest = write(tmp_path / "c.tif", WEST, NORTH, (10, 10), 32, depth=lambda x, y: 0 * x + 8)
    grid = open_grid([fine, middling, coarsest])
    land = (grid.x > WEST + 161) & (grid.x < WEST + 191)
    assert grid.values[:, land.values].size
    assert np.isnan(grid.values[:, land.values]).all()
    assert np.isfinite(grid.values[:, (grid.x < WEST + 150).values]).all()
