"""Boat tracks against flows whose end points are known in closed form."""

import numpy as np
import pytest
from pyproj import Geod

from layers.planning.drift._drift import even_steps, tracks_at
from layers.planning.drift.safe_water import Ended
from seabed.errors import WaterError

GEOD = Geod(ellps="WGS84")
START = np.datetime64("2031-06-14T08:00", "ns")
HOME = (-33.4, 46.2)
TWO_HOURS = 7200.0


def metres_apart(track, longitude, latitude):
    return GEOD.inv(track.longitude[0, -1], track.latitude[0, -1], longitude, latitude)[2]


def drift(velocity, step_s=30.0, **options):
    lon, lat = np.array([HOME[0]]), np.array([HOME[1]])
    return tracks_at(lon, lat, START, velocity, even_steps(TWO_HOURS, step_s), **options)


@pytest.mark.parametrize(("east", "north", "azimuth"), [(0.0, 0.5, 0), (0.0, -0.5, 180)])
def test_uniform_flow_along_the_meridian_is_a_geodesic(east, north, azimuth):
    track = drift(lambda t, x, y: (np.full_like(x, east), np.full_like(y, north)))
    longitude, latitude, _ = GEOD.fwd(*HOME, azimuth, 0.5 * TWO_HOURS)
    assert metres_apart(track, longitude, latitude) < 0.01


def test_uniform_eastward_flow_runs_along_the_parallel():
    track = drift(lambda t, x, y: (np.full_like(x, 0.5), np.zeros_like(y)))
    assert track.latitude[0, -1] == pytest.approx(HOME[1], abs=1e-12)
    # length of an arc of the parallel, summed from short geodesics
    steps = np.linspace(HOME[0], track.longitude[0, -1], 2001)
    length = GEOD.line_length(steps, np.full_like(steps, HOME[1]))
    assert length == pytest.approx(0.5 * TWO_HOURS, abs=0.01)


def test_reversing_tide_brings_the_boat_to_the_integral_of_the_flow():
    period = 12.4206 * 3600.0  # M2

    def tide(times, x, y):
        seconds = (times - START) / np.timedelta64(1, "s")
        return np.zeros_like(x), 0.8 * np.cos(2 * np.pi * seconds / period)

    track = drift(tide)
    exact = 0.8 * period / (2 * np.pi) * np.sin(2 * np.pi * TWO_HOURS / period)
    longitude, latitude, _ = GEOD.fwd(*HOME, 0, exact)
    assert metres_apart(track, longitude, latitude) < 0.01


def test_a_shear_flow_in_latitude():
    # dlat/dt = constant, dlon/dt linear in latitude: the closed form is a parabola in degrees
    north_rate, shear = 3e-6, 2e-4  # degrees a second; 1/s

    def flow(times, x, y):
        radians = np.radians(y)
        w = 1 - 6.69437999014e-3 * np.sin(radians) ** 2
        parallel = 6378137.0 / np.sqrt(w) * np.cos(radians)
        meridian = 6378137.0 * (1 - 6.69437999014e-3) / w**1.5
        return (
            np.radians(shear * (y - HOME[1])) * parallel,
            np.radians(north_rate) * meridian * np.ones_like(y),
        )

    track = drift(flow)
    latitude = HOME[1] + north_rate * TWO_HOURS
    longitude = HOME[0] + shear * north_rate * TWO_HOURS**2 / 2
    assert metres_apart(track, longitude, latitude) < 0.01


def test_solid_rotation_comes_back_after_a_turn():
    # one turn in two hours about a centre 300 m west; in degrees the orbit is an ellipse whose
    # axes scale with the radii of curvature at the centre, exact where these hardly change
    centre = GEOD.fwd(*HOME, 270, 300.0)
    turn = 2 * np.pi / TWO_HOURS

    def flow(times, x, y):
        radians = np.radians(centre[1])
        w = 1 - 6.69437999014e-3 * np.sin(radians) ** 2
        metres_east = np.radians(x - centre[0]) * 6378137.0 / np.sqrt(w) * np.cos(radians)
        metres_north = np.radians(y - centre[1]) * 6378137.0 * (1 - 6.69437999014e-3) / w**1.5
        return -turn * metres_north, turn * metres_east

    track = drift(flow)
    assert metres_apart(track, *HOME) < 1.0


def test_a_track_stops_before_shoal_water():
    wall = HOME[1] + 0.01

    def look(times, path):
        depth = np.where(path[1] < wall, 8.0, 1.0)
        return np.where(depth < 2.0, Ended.SHOAL, Ended.TIME).astype(np.int8), depth

    track = drift(
        lambda t, x, y: (np.zeros_like(x), np.full_like(y, 0.5)),
        look=look,
    )
    assert track.ended[0] == Ended.SHOAL
    assert np.nanmax(track.latitude) < wall
    assert np.nanmax(track.latitude) > wall - 0.0002  # within one step of 15 m
    assert np.unique(track.depth_m[np.isfinite(track.latitude)]).tolist() == [8.0]
    assert np.isnan(track.depth_m[np.isnan(track.latitude)]).all()


def test_unknown_water_ends_a_track_and_leaves_the_others():
    def flow(times, x, y):
        return np.where(x < -33.4, np.nan, 0.2), np.zeros_like(y)

    tracks = tracks_at(
        np.array([-33.41, -33.39]), np.array([46.2, 46.2]), START, flow, even_steps(600, 30)
    )
    assert tracks.ended.tolist() == [Ended.UNKNOWN_WATER, Ended.TIME]
    assert np.isfinite(tracks.longitude[1]).all()
    assert np.isnan(tracks.longitude[0, 1:]).all()


def test_the_last_step_ends_on_time():
    still = tracks_at(
        np.array([0.0]),
        np.array([0.0]),
        START,
        lambda t, x, y: (np.ones_like(x), np.zeros_like(y)),
        even_steps(100, 30),
    )
    assert still.times[-1] - START == np.timedelta64(100, "s")
    # equatorial radius: 100 m east is this many degrees
    assert still.longitude[0, -1] == pytest.approx(np.degrees(100 / 6378137.0), rel=1e-9)


def test_no_boats_give_empty_tracks():
    nobody = np.array([])
    none = tracks_at(nobody, nobody, START, lambda t, x, y: (x, y), even_steps(60, 30))
    assert none.longitude.shape[0] == 0


def test_a_drift_of_no_time_is_refused():
    with pytest.raises(WaterError, match="can't be followed"):
        even_steps(0, 30)


def test_water_that_is_the_same_everywhere_is_followed_alike_in_one_go():
    longitude, latitude, fastest = np.array([[-33.4, 10.0, 179.999], [46.2, -60.0, 0.0], [1, 2, 3]])

    def tide(times, x, y):
        hours = (times - START) / np.timedelta64(1, "h")
        speed = np.resize(fastest, len(times)) * np.sin(0.5 * hours)
        return np.where(hours > 1.5, np.nan, speed), speed * hours

    steps = np.append(even_steps(3600.0, 30.0), [4000.0, 6000.0])
    slow, quick = (
        tracks_at(longitude, latitude, START, tide, steps, everywhere=one) for one in (False, True)
    )
    # rounding of sums of 122 steps, each of some 1e-14 degrees
    np.testing.assert_allclose(quick.longitude, slow.longitude, rtol=0, atol=1e-11)
    np.testing.assert_allclose(quick.latitude, slow.latitude, rtol=0, atol=1e-11)
    assert quick.ended.tolist() == slow.ended.tolist() == [Ended.UNKNOWN_WATER] * 3
    assert np.isfinite(quick.longitude).sum(axis=1).tolist() == [len(steps) - 1] * 3
