"""Real open bathymetry out of registry packages, and figures published with it or read by hand.

F00788 is a survey of NOAA's Office of Coast Survey (CC0) in the s100py source archive, as BAG and
as GeoTIFF; its figures (179 x 179 cells of 8 m, 6,537 valid, -68.44 to -36.18 m) were read with
another library.
"""

from __future__ import annotations

import h5py
import numpy as np
import pytest
import rasterio
import xarray as xr
from scipy.interpolate import RegularGridInterpolator

from seabed.grid import Bounds, bounds, cell_size, check_grid, crs_of
from seabed.grid.places import sample
from seabed.loaders import describe, open_grid, open_surface


@pytest.fixture(scope="module")
def survey_tiff(registry_file):
    return registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif")


@pytest.fixture(scope="module")
def survey_bag(registry_file):
    return registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.bag")


def test_survey_as_geotiff(survey_tiff):
    grid = open_grid(survey_tiff)
    check_grid(grid)
    assert grid.shape == (179, 179)
    assert int(grid.notnull().sum()) == 6537
    assert float(grid.min()) == pytest.approx(36.18, abs=0.01)
    assert float(grid.max()) == pytest.approx(68.44, abs=0.01)
    assert crs_of(grid).to_epsg() == 26910
    np.testing.assert_allclose(cell_size(grid).easting, 8)


def test_survey_as_bag_is_the_same(survey_bag, survey_tiff):
    """Against the GeoTIFF, and against the BAG's own array read without the raster library."""
    grid, other = open_grid(survey_bag), open_grid(survey_tiff)
    np.testing.assert_array_equal(grid.values, other.values)
    np.testing.assert_array_equal(grid.x, other.x)
    np.testing.assert_array_equal(grid.y, other.y)
    with h5py.File(survey_bag) as data:
        stored = data["BAG_root/elevation"][:][::-1]
    expected = np.where(stored == 1e6, np.nan, -stored)
    np.testing.assert_array_equal(grid.values, expected.astype(np.float32))
    assert grid.attrs["guesses"] == []


def test_description_of_the_survey(survey_bag):
    report = describe(survey_bag)
    assert (report.format, report.sign, report.unit) == ("BAG", "elevation", "m")
    assert report.crs_code == "EPSG:26910"
    assert report.valid_share == pytest.approx(6537 / 179**2)
    assert report.uncertainty
    assert report.usable


def test_cells_that_are_not_square(registry_file):
    """BlueTopo (NOAA, CC0): 100 x 100 cells of 1228 x 1352 m, -3541 to -792 m, NAVD88."""
    file = registry_file("s100py", "2.0.1", "tests/s102/BlueTopo_BC25M26L_20221102b.tiff")
    grid = open_grid(file)
    check_grid(grid)
    size = cell_size(grid)
    assert (size.easting[0], size.northing[0]) == pytest.approx((1228.48, 1352.32))
    assert float(grid.max()) == pytest.approx(3541, abs=0.5)
    assert float(grid.min()) == pytest.approx(792, abs=0.5)
    assert grid.attrs["vertical_datum"].upper() == "NAVD88"
    report = describe(file)
    assert report.others == ("Elevation", "Uncertainty", "Contributor")
    assert any("too coarse" in problem.what for problem in report.problems)


def test_a_box_of_the_survey(survey_tiff):
    grid = open_grid(survey_tiff)
    report = describe(survey_tiff)
    middle = Bounds(
        (report.bounds.west + report.bounds.east) / 2,
        report.bounds.south,
        report.bounds.east,
        report.bounds.north,
    )
    part = open_grid(survey_tiff, box=middle)
    assert part.shape[1] < 100
    np.testing.assert_array_equal(part.values, grid.sel(x=part.x, y=part.y).values)


def test_halves_of_the_survey_come_together(survey_tiff, tmp_path):
    """The survey cut in overlapping tiles by the raster library, then opened as one."""
    names = []
    with rasterio.open(survey_tiff) as data:
        for i, (row, column) in enumerate([(0, 0), (0, 80), (90, 0), (85, 80)]):
            part = rasterio.windows.Window(column, row, min(100, 179 - column), min(95, 179 - row))
            profile = {**data.profile, "height": part.height, "width": part.width, "count": 1,
                       "transform": data.window_transform(part)}  # fmt: skip
            names.append(tmp_path / f"{i}.tif")
            with rasterio.open(names[-1], "w", **profile) as out:
                out.write(data.read(1, window=part), 1)
    whole, mosaic = open_grid(survey_tiff), open_grid(names)
    np.testing.assert_array_equal(mosaic.values, whole.values)


@pytest.fixture(scope="module")
def shore(tmp_path_factory):
    """A coarse grid of sea and land with longitudes 234 to 238 and uneven steps, as netCDF."""
    from matplotlib import cbook

    data = cbook.get_sample_data("topobathy.npz")
    file = tmp_path_factory.mktemp("shore") / "shore.nc"
    xr.Dataset(
        {"topo": (("latitude", "longitude"), data["topo"])},
        {"latitude": data["latitude"], "longitude": data["longitude"]},
    ).to_netcdf(file, engine="scipy")
    return file, data


def test_shore_with_uneven_steps_east_of_180(shore):
    """-1437 to 2205 m over longitudes 234 to 238 (matplotlib's sample data), against scipy."""
    file, data = shore
    grid = open_grid(file)
    check_grid(grid)
    assert -126.1 < grid.x.values[0] < -125.9
    assert 1430 < float(grid.max()) <= 1437
    even = np.linspace(*data["longitude"][[0, -1]].astype(float), 120)
    assert np.abs(even - data["longitude"]).max() < 0.02 / 30  # to 2 % of a step: taken as even
    between = RegularGridInterpolator((data["latitude"], even), data["topo"])
    latitude, longitude = np.meshgrid(grid.y.values, grid.x.values + 360, indexing="ij")
    latitude = np.clip(latitude, data["latitude"][0], data["latitude"][-1])
    longitude = np.clip(longitude, even[0], even[-1])
    expected = -between((latitude, longitude))
    sure = np.abs(expected) > 0.01
    expected[expected <= 0] = np.nan
    np.testing.assert_allclose(grid.values[sure], expected[sure], atol=0.01)
    assert sure.mean() > 0.97
    guesses = " ".join(grid.attrs["guesses"])
    for word in ("interpolated onto even steps", "unwrapped", "WGS 84", "metres were assumed"):
        assert word in guesses


@pytest.mark.parametrize("number", ["01", "02"])
def test_shallow_sparse_surveys(registry_file, number):
    """4 m BAGs of a library's samples: 91 and 319 valid cells, UTM zone 18 north."""
    file = registry_file("hyo2.bag", "1.2.12", f"hyo2/bag/samples/bdb_{number}.bag", wheel=True)
    grid = open_grid(file)
    check_grid(grid)
    assert int(grid.notnull().sum()) == {"01": 91, "02": 319}[number]
    assert 0 < float(grid.min()) < float(grid.max()) < 20


@pytest.mark.parametrize("name", ["etopo5.cdf", "etopo20.cdf"])
def test_the_whole_sea_from_a_turn_begun_at_20_east(debian_file, name):
    """World relief (NOAA, in Debian's ferret-datasets), longitudes 20 to 380, axes of odd names.

    Depths a geographer would know, to the coarseness of the grid: the deepest trench, a shelf sea,
    an abyssal plain; and two places on dry land.
    """
    file = debian_file("ferret-datasets", f"usr/share/ferret-vis/data/{name}")
    grid = open_grid(file)
    check_grid(grid)
    assert -180.2 <= bounds(grid).west <= -179.8
    assert 9000 < float(grid.max()) < 11_000
    trench = grid.where(grid == grid.max(), drop=True)
    assert float(trench.x[0]) == pytest.approx(142.2, abs=0.5)
    assert float(trench.y[0]) == pytest.approx(11.4, abs=0.5)
    shelf, plain, desert, steppe = sample(
        grid, np.array([3.0, -60.0, 15.0, -100.0]), np.array([56.0, 30.0, 22.0, 45.0])
    )
    assert 30 < shelf < 120
    assert 4000 < plain < 6000
    assert np.isnan([desert, steppe]).all()


def test_uncertainty_of_the_survey(survey_bag, survey_tiff):
    """As h5py reads it from the BAG; the GeoTIFF's second band says the same."""
    with h5py.File(survey_bag) as data:
        stored = data["BAG_root/uncertainty"][:][::-1]
    for file in (survey_bag, survey_tiff):
        surface = open_surface(file)
        known = np.isfinite(surface.depth.values)
        np.testing.assert_array_equal(surface.uncertainty.values[known], stored[known])
        assert np.isnan(surface.uncertainty.values[~known]).all()
