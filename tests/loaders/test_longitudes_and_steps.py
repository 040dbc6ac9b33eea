"""Longitudes of 0 to 360 and axes with uneven steps."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from affine import Affine

from seabed.errors import GridError
from seabed.grid import Bounds, check_grid
from seabed.grid.axes import even_axis
from seabed.loaders import open_grid


def write(path, lon, lat, values):
    xr.Dataset(
        {"elevation": (("lat", "lon"), values.astype(np.float32), {"units": "m"})},
        {"lat": np.asarray(lat, float), "lon": np.asarray(lon, float)},
    ).to_netcdf(path, engine="scipy")
    return path


def marked(lon, lat):
    """Depths that tell their own place: 1000 + longitude (-180 to 180) + latitude / 1000."""
    east = (np.asarray(lon, float) + 180) % 360 - 180
    return -(1000 + east[None, :] + np.asarray(lat, float)[:, None] / 1000)


def check_marks(grid):
    check_grid(grid)
    expected = 1000 + ((grid.x.values[None, :] + 180) % 360 - 180) + grid.y.values[:, None] / 1000
    np.testing.assert_allclose(grid.values, expected, atol=1e-3)


def test_western_water_in_0_to_360(tmp_path):
    lon, lat = np.arange(234, 238.01, 0.5), np.arange(48, 50.01, 0.5)
    grid = open_grid(write(tmp_path / "a.nc", lon, lat, marked(lon, lat)))
    assert grid.x.values[0] == -126
    assert any("unwrapped" in guess for guess in grid.attrs["guesses"])
    check_marks(grid)


@pytest.mark.parametrize(
    "lon",
    [
        np.arange(0, 360),
        np.arange(0, 361),
        np.arange(0.5, 360),
        np.arange(-0.5, 359),
        np.arange(20.5, 380),
    ],
    ids=["from 0", "0 twice", "centres at halves", "from -0.5", "from 20"],
)
def test_the_whole_turn_is_rolled(tmp_path, lon):
    lat = np.arange(-3, 4)
    file = write(tmp_path / "a.nc", lon, lat, marked(lon, lat))
    grid = open_grid(file)
    assert grid.shape == (7, 360)
    assert -180.5 <= grid.x.values[0] <= -179.5
    check_marks(grid)
    across = open_grid(file, box=Bounds(-5.2, -2, 5.2, 2))
    assert across.x.values[0] < -4 and across.x.values[-1] > 4
    check_marks(across)


def test_water_across_the_date_line_stays_whole(tmp_path):
    lon, lat = np.arange(170, 190), np.arange(5)
    grid = open_grid(write(tmp_path / "a.nc", lon, lat, marked(lon, lat)))
    check_grid(grid)
    np.testing.assert_array_equal(grid.x, lon)
    part = open_grid(tmp_path / "a.nc", box=Bounds(-178.4, 0.6, -176.6, 3.4))
    np.testing.assert_array_equal(part.x, [182, 183])


def test_coordinates_written_with_few_digits_are_even():
    axis = even_axis(np.round(np.arange(100) / 240 + 5, 3), name="lon", file="f")
    assert axis.positions is None
    assert axis.step == pytest.approx(1 / 240, rel=2e-3)


def test_uneven_steps_are_interpolated_and_said(tmp_path):
    """A plane comes through linear interpolation unharmed, to float32 of the values."""
    lat = np.cumsum(np.linspace(0.4, 0.6, 20)) + 40
    lon = np.arange(10, 20, 0.5)
    plane = -(100 + 3 * lat[:, None] + 2 * lon[None, :])
    grid = open_grid(write(tmp_path / "a.nc", lon, lat, plane))
    check_grid(grid)
    expected = 100 + 3 * grid.y.values[:, None] + 2 * grid.x.values[None, :]
    np.testing.assert_allclose(grid.values, expected, rtol=1e-6)
    assert any("interpolated onto even steps" in guess for guess in grid.attrs["guesses"])


def test_a_void_stays_a_void_through_interpolation(tmp_path):
    lat = np.cumsum(np.linspace(0.4, 0.6, 20)) + 40
    values = np.full((20, 6), -50.0)
    values[10, 3] = np.nan
    grid = open_grid(write(tmp_path / "a.nc", np.arange(6), lat, values))
    assert 1 <= int(grid.isnull().sum()) <= 3
    assert float(grid.max()) == 50


def test_falling_axis():
    axis = even_axis(np.array([5.0, 4.0, 3.0]), name="lat", file="f")
    assert (axis.first, axis.step, axis.edge) == (5, -1, 5.5)


@pytest.mark.parametrize("values", [[1.0], [], [1.0, 1.0, 2.0], [1.0, np.nan, 3.0]])
def test_no_axis(values):
    with pytest.raises(GridError, match="axis 'lat'"):
        even_axis(np.array(values), name="lat", file="f")


def test_geotiff_in_0_to_360(tmp_path):
    import rasterio

    with rasterio.open(
        tmp_path / "a.tif", "w", driver="GTiff", height=4, width=6, count=1, dtype="float32",
        crs="EPSG:4326", transform=Affine(0.5, 0, 200, 0, -0.5, 20),
    ) as data:  # fmt: skip
        data.write(np.full((1, 4, 6), -9, np.float32))
    assert open_grid(tmp_path / "a.tif").x.values[0] == -159.75
