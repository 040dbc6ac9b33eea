"""Distances, bearings and planes against an independent library of geodesics and against tables."""

from __future__ import annotations

import doctest

import geopandas as gpd
import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pyproj import CRS
from shapely import Point

from seabed import geodesy
from seabed.geodesy import (
    ahead,
    bearing_and_distance,
    cell_metres,
    distance_m,
    from_degrees,
    local_metres,
    path_m,
    plane_around,
    radii,
    sinusoidal_degrees,
    sinusoidal_metres,
    step_lengths,
    utm_of,
    utm_zone,
)

EARTH = Geodesic.WGS84
LATITUDES = [-60.0, -31.5, 0.0, 48.0, 70.0]


def around(latitude, *, spread=0.2, count=60, seed=6):
    """Places within `spread` degrees of the date line and a latitude."""
    rng = np.random.default_rng(seed)
    longitude = (179.99 + rng.uniform(-spread, spread, count) + 180) % 360 - 180
    return longitude, latitude + rng.uniform(-spread, spread, count)


def inverse(longitude, latitude, to_longitude, to_latitude):
    """Bearing and distance by the independent library."""
    places = np.broadcast_arrays(latitude, longitude, to_latitude, to_longitude)
    ways = [EARTH.Inverse(*one) for one in zip(*(part.ravel() for part in places), strict=True)]
    return np.array([way["azi1"] for way in ways]), np.array([way["s12"] for way in ways])


@pytest.mark.parametrize("latitude", LATITUDES)
def test_bearing_and_distance(latitude):
    longitude, latitudes = around(latitude)
    bearing, distance = bearing_and_distance(-24.5, latitude + 1.0, longitude, latitudes)
    true_bearing, true_distance = inverse(-24.5, latitude + 1.0, longitude, latitudes)
    assert ((bearing >= 0) & (bearing < 360)).all()
    np.testing.assert_allclose((bearing - true_bearing + 180) % 360 - 180, 0, atol=1e-9)
    np.testing.assert_allclose(distance, true_distance, atol=1e-6)


def test_numbers_give_numbers():
    assert isinstance(distance_m(0, 0, np.float64(1), 0), float)
    assert isinstance(ahead(0.0, 0.0, 90.0, 100.0)[0], float)
    assert np.isnan(distance_m(0.0, 0.0, np.nan, 0.0))


def test_ahead_is_the_way_back_of_distance():
    longitude, latitude = ahead(-24.5, -31.5, np.array([0.0, 45.0, 270.0]), 5000.0)
    np.testing.assert_allclose(distance_m(-24.5, -31.5, longitude, latitude), 5000.0, atol=1e-6)
    np.testing.assert_allclose(inverse(-24.5, -31.5, longitude, latitude)[0] % 360, [0, 45, 270])


def test_path_is_the_sum_of_its_steps():
    longitude, latitude = around(48.0)
    steps = distance_m(longitude[:-1], latitude[:-1], longitude[1:], latitude[1:])
    assert path_m(longitude, latitude) == pytest.approx(steps.sum(), abs=1e-6)


@pytest.mark.parametrize("latitude", LATITUDES)
def test_radii_against_short_geodesics(latitude):
    """Over a thousandth of a degree a curve is as long as its tangent to 1e-9."""
    small = 1e-3
    parallel, meridian = radii(latitude)
    north = inverse(0.0, latitude - small / 2, 0.0, latitude + small / 2)[1][0]
    assert np.radians(small) * meridian == pytest.approx(north, rel=1e-8)
    # a parallel's radius is the distance from the axis: its length is that of a circle
    x = from_degrees(CRS.from_epsg(4978)).transform(0.0, latitude, 0.0)[0]
    assert parallel == pytest.approx(x, abs=1e-3)


@pytest.mark.parametrize("latitude", LATITUDES)
def test_step_lengths_against_geodesics(latitude):
    rng = np.random.default_rng(5)
    longitude = 179.99 + np.cumsum(rng.normal(0, 0.005, 200))
    longitude = (longitude + 180) % 360 - 180
    latitudes = latitude + np.cumsum(rng.normal(0, 0.005, 200))
    truth = inverse(longitude[:-1], latitudes[:-1], longitude[1:], latitudes[1:])[1]
    np.testing.assert_allclose(step_lengths(longitude, latitudes), truth, rtol=2e-6)


@pytest.mark.parametrize("latitude", LATITUDES)
def test_local_metres_against_geodesics(latitude):
    """Off by no more than the change of the cosine of latitude, as its docstring says."""
    longitude, latitudes = around(latitude)
    x, y = local_metres(longitude, latitudes)
    truth = inverse(longitude[0], latitudes[0], longitude, latitudes)[1]
    share = abs(np.cos(np.radians(latitudes)) / np.cos(np.radians(latitudes[0])) - 1).max()
    np.testing.assert_allclose(np.hypot(x, y), truth, rtol=share + 1e-4)


def test_local_metres_of_nothing():
    assert [part.size for part in local_metres(np.empty(0), np.empty(0))] == [0, 0]


def test_sinusoidal_metres_there_and_back():
    longitude, latitude = around(-60.0)
    east, north = sinusoidal_metres(longitude, latitude, centre=(180.0, -59.9))
    back = sinusoidal_degrees(east, north, centre=(180.0, -59.9))
    np.testing.assert_allclose((back[0] - longitude + 180) % 360 - 180, 0, atol=1e-9)
    np.testing.assert_allclose(back[1], latitude, atol=1e-9)


@pytest.mark.parametrize(("latitude", "minute_m"), [(0.0, 1842.9), (60.0, 1856.9)])
def test_a_minute_of_the_meridian(latitude, minute_m):
    """From tables of the ellipsoid; the middle of the minute is at the latitude."""
    half = 1 / 120
    north = sinusoidal_metres(
        np.zeros(2), np.array([latitude - half, latitude + half]), centre=(0.0, latitude)
    )[1]
    assert np.diff(north)[0] == pytest.approx(minute_m, abs=0.2)


def test_cells_in_feet_and_in_degrees():
    feet = cell_metres(CRS.from_epsg(2230), 10.0, 20.0, np.zeros(2))  # US survey feet
    np.testing.assert_allclose(feet, [[10 * 1200 / 3937] * 2, [20 * 1200 / 3937] * 2])
    easting, northing = cell_metres(CRS.from_epsg(4326), 0.01, 0.01, 48.0)
    assert float(easting) == pytest.approx(inverse(0, 48.0, 0.01, 48.0)[1][0], abs=1e-6)
    assert float(northing) == pytest.approx(inverse(0, 47.995, 0, 48.005)[1][0], abs=1e-6)


@pytest.mark.parametrize(
    ("place", "code"), [((-123.0, 48.5), 32610), ((179.9, -45.0), 32760), ((180.0, 10.0), 32601)]
)
def test_utm_zone(place, code):
    assert utm_zone(*place).to_epsg() == code
    table = gpd.GeoSeries([Point(*place)], crs=4326)
    assert utm_of(table).to_epsg() == code
    if place[0] < 179.95:
        assert utm_of(table.to_crs(3857)).to_epsg() == code


def test_plane_around_is_true_from_its_middle():
    plane = plane_around(-24.5, -31.5)
    assert plane.transform(-24.5, -31.5) == pytest.approx((0.0, 0.0))
    longitude, latitude = plane.transform([3000.0, -500.0], [4000.0, 1200.0], direction="INVERSE")
    np.testing.assert_allclose(
        inverse(-24.5, -31.5, longitude, latitude)[1], [5000.0, 1300.0], atol=1e-4
    )


def test_examples():
    assert doctest.testmod(geodesy).failed == 0
