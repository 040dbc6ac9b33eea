"""Slope and aspect against planes, the ellipsoid's own geodesics, and another library."""

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import CRS, Geod, Transformer

from seabed.grid import make_grid
from seabed.terrain import aspect, slope
from seabed.terrain.slope import _arc_tangent_degrees

GEOD = Geod(ellps="WGS84")
UTM = 32631


def plane(east, north, *, cell=(4.0, 4.0), shape=(12, 15)):
    """Depth rising by `east` and `north` metres a metre, in UTM."""
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    depth = 20 + east * columns * cell[0] - north * rows * cell[1]
    return make_grid(depth, transform=Affine(cell[0], 0, 5e5, 0, -cell[1], 0), crs=UTM)


def difference(one, other):
    """Degrees between directions, round the circle."""
    return np.abs((np.asarray(one) - other + 180) % 360 - 180)


@pytest.mark.parametrize("cell", [(4.0, 4.0), (3.0, 7.0)])
@pytest.mark.parametrize(("east", "north"), [(0.01, 0.0), (0.0, -0.3), (0.4, 0.3), (-1.5, 2.0)])
def test_plane_has_its_own_slope(east, north, cell):
    found = slope(plane(east, north, cell=cell)).values[1:-1, 1:-1]
    # float32 depths near 100 m are known to 8e-6 m: 8e-6 / 24 m is 2e-5 degrees
    assert np.abs(found - np.degrees(np.arctan(np.hypot(east, north)))).max() < 1e-4


def test_arc_tangent_keeps_its_promise():
    tangents = np.concatenate([np.linspace(0, 2, 20001), np.geomspace(1e-6, 1e6, 4001)])
    found = [_arc_tangent_degrees(t) for t in tangents.astype(np.float32)]
    truth = np.degrees(np.arctan(tangents.astype(np.float32).astype(float)))
    assert np.abs(found - truth).max() < 1e-5


@pytest.mark.parametrize(
    ("latitude", "step"), [(0.0, 1e-4), (60.0, 1e-4), (78.0, 1e-4), (80.0, 0.5), (80.0, 1.0)]
)
def test_geographic_grid_matches_geodesic_distances(latitude, step):
    east, north = 0.2, 0.1 if step < 0.1 else 0.0  # wide cells: along the parallel only
    longitude = -20 + step * np.arange(-1, 2)
    latitudes = latitude + step * np.arange(1, -2, -1)
    x, y = np.meshgrid(longitude, latitudes)
    side = np.where(x > -20, 1, -1)
    eastward = side * GEOD.inv(np.full_like(x, -20), y, x, y)[2]
    above = np.where(y > latitude, 1, -1)
    northward = above * GEOD.inv(x, np.full_like(x, latitude), x, y)[2]
    grid = make_grid(
        east * eastward + north * northward,
        transform=Affine(step, 0, longitude[0] - step / 2, 0, -step, latitudes[0] + step / 2),
        crs=4326,
    )
    middle = (1, 1)
    truth = np.degrees(np.arctan(np.hypot(east, north)))
    # depths of a few metres in float32: 2e-7 m over 16 m or more is below 1e-6 degrees
    assert slope(grid).values[middle] == pytest.approx(truth, abs=1e-4)
    towards = np.degrees(np.arctan2(east, north)) % 360
    assert difference(aspect(grid).values[middle], towards) < 1e-3


@pytest.mark.parametrize(
    ("east", "north", "towards"),
    [(0, 0.1, 0), (0.1, 0.1, 45), (0.1, 0, 90), (0, -0.1, 180), (-0.1, 0, 270), (-0.1, 0.1, 315)],
)
def test_aspect_is_where_it_deepens(east, north, towards):
    # on the central meridian (3 degrees east, easting 500 km) grid north is true north
    found = aspect(plane(east, north)).values[1:-1, 1:-1]
    assert difference(found, towards).max() < 0.01
    assert ((found >= 0) & (found < 360)).all()


def test_aspect_on_a_projected_grid_is_true():
    crs = CRS.from_epsg(UTM)
    x, y = 280_000.0, 6_600_000.0  # far west of the central meridian: convergence near -3.3 degrees
    rows, columns = np.mgrid[:5, :5]
    grid = make_grid(
        10 + 0.05 * columns * 4.0 + 0.02 * -rows * 4.0,
        transform=Affine(4, 0, x - 10, 0, -4, y + 10),
        crs=crs,
    )
    to_degrees = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    here, there = to_degrees.transform(x, y), to_degrees.transform(x + 5.0, y + 2.0)
    truth = GEOD.inv(*here, *there)[0] % 360
    assert abs(truth - np.degrees(np.arctan2(5, 2))) > 3  # the test would be idle otherwise
    assert difference(aspect(grid).values[2, 2], truth) < 0.01


def test_aspect_a_hair_west_of_north_is_no_360():
    """A ten-millionth to the west of north is nearer to 360 degrees than float32 can tell: 0."""
    depth = np.array([[1, 1, 1], [1e-7, 0, -1e-7], [-1, -1, -1]])
    grid = make_grid(depth, transform=Affine(4, 0, 5e5 - 6, 0, -4, 6), crs=UTM)
    assert aspect(grid).values[1, 1] == 0


def test_level_bottom_has_no_aspect():
    grid = plane(0, 0)
    assert np.isnan(aspect(grid).values).all()
    assert (slope(grid).values[1:-1, 1:-1] == 0).all()


def test_void_takes_its_eight_neighbours_and_itself():
    grid = plane(0.1, 0.0)
    grid.values[5, 6] = np.nan
    expected = np.ones(grid.shape, bool)
    expected[1:-1, 1:-1] = False
    expected[4:7, 5:8] = True
    for found in (slope(grid), aspect(grid)):
        np.testing.assert_array_equal(np.isnan(found.values), expected)


def test_chunks_leave_no_trace():
    rng = np.random.default_rng(1)
    depth = rng.normal(20, 2, (61, 83))
    depth[20:30, 40:44] = np.nan
    grid = make_grid(depth, transform=Affine(1e-4, 0, -20, 0, -1e-4, 60), crs=4326)
    for work in (slope, aspect):
        lazy = work(grid.chunk(y=17, x=23))
        assert lazy.chunks is not None
        np.testing.assert_allclose(lazy.values, work(grid).values, rtol=0, atol=3e-5)


def test_real_survey_agrees_with_xarray_spatial(registry_file):
    import xrspatial  # slow to import, so only where it is used

    path = registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif")
    with rasterio.open(path) as file:
        elevation = file.read(1, masked=True).filled(np.nan)
        grid = make_grid(-elevation, transform=file.transform, crs=file.crs)
    ours = slope(grid).values
    theirs = xrspatial.slope(grid.astype(np.float64)).values
    void = np.isnan(grid.values)  # Horn's weights skip the middle; ours is void where that is
    np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs) | void)
    assert np.nanmax(np.abs(ours - theirs)) < 1e-4
    assert np.nanmax(ours) == pytest.approx(25.99, abs=0.005)
    assert np.nanmean(ours) == pytest.approx(4.44, abs=0.005)
