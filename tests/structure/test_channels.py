"""Axes of channels and banks on made-up troughs and ridges."""

import numpy as np
import pytest
import shapely
from affine import Affine
from pyproj import Geod

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.structure import banks_and_channels
from seabed.structure.tracing.axes import _crossings, axis_lines

CELL = 4.0
GEOD = Geod(ellps="WGS84")
SMALL = {"scale_m": 40.0, "min_length_m": 150.0}
ROWS, COLUMNS = np.mgrid[:220, :240]
EAST, NORTH = (COLUMNS - 119.5) * CELL, (109.5 - ROWS) * CELL


def channels(grid, **options):
    return banks_and_channels(grid, **SMALL | options)[1]


def all_axes(depth):
    """Axes through all of a bottom, on cells of 1 m."""
    cell, whole = np.ones(len(depth)), tuple(slice(0, size) for size in depth.shape)
    return axis_lines(depth, cell, cell, own=whole, corner=(0, 0))[0]


def banks(grid, **options):
    return banks_and_channels(grid, **SMALL | options)[0]


def in_utm(depth):
    return make_grid(
        depth, transform=Affine(CELL, 0, 5e5 - 120 * CELL, 0, -CELL, 6e6 + 110 * CELL), crs=32631
    )


def off(bearing, east=EAST, north=NORTH):
    angle = np.radians(bearing)
    return east * np.cos(angle) - north * np.sin(angle)


@pytest.mark.parametrize("bearing", [0.0, 35.0, 90.0, 160.0])
@pytest.mark.parametrize("noise", [0.0, 0.3])
def test_trough(bearing, noise):
    rough = noise * np.random.default_rng(1).normal(size=EAST.shape)
    depth = 10 + 4 * np.exp(-((off(bearing) / 40) ** 2) / 2) + 0.001 * NORTH + rough
    grid = in_utm(depth)
    (axis,) = channels(grid).itertuples()
    assert banks(grid).empty
    points = shapely.get_coordinates(axis.geometry) - (5e5, 6e6)
    assert np.abs(off(bearing, *points.T)).max() < 0.5 * CELL
    assert abs((axis.bearing_deg - bearing + 90) % 180 - 90) < 1
    # smoothed with 20 m, a Gaussian of 40 m keeps 40 / sqrt(40² + 20²) = 0.894 of its height
    assert axis.height_m == pytest.approx(0.894 * 4, rel=0.05)
    # 95 % of the height is gained where the Gaussian of 44.7 m has 5 % left: 2.45 deviations
    assert axis.width_m == pytest.approx(2 * 2.45 * 44.7, rel=0.06)
    assert axis.length_m > 800


def test_bank_is_a_channel_turned_over():
    depth = 10 + 4 * np.exp(-((off(20) / 40) ** 2) / 2)
    low, high = channels(in_utm(depth)), banks(in_utm(20 - depth))
    assert low.geometry.hausdorff_distance(high.geometry).max() < 0.01
    assert high["kind"].tolist() == ["bank"]
    np.testing.assert_allclose(high["axis_depth_m"], 20 - low["axis_depth_m"], rtol=1e-5)
    np.testing.assert_allclose(high["height_m"], low["height_m"], rtol=1e-5)


def test_winding_channel_stays_one_line():
    middle = 60 * np.sin(NORTH / 120)
    depth = 10 + 4 * np.exp(-(((EAST - middle) / 30) ** 2) / 2)
    (axis,) = channels(in_utm(depth), scale_m=20).itertuples()
    points = shapely.get_coordinates(axis.geometry) - (5e5, 6e6)
    # across the bends the deepest line cuts corners: well within the channel's own 30 m
    assert np.abs(points[:, 0] - 60 * np.sin(points[:, 1] / 120)).max() < 10
    assert axis.geometry.is_simple


def test_ring_shaped_channel_closes_but_for_a_cell():
    depth = 10 + 4 * np.exp(-(((np.hypot(EAST, NORTH) - 200) / 30) ** 2) / 2)
    (axis,) = channels(in_utm(depth), scale_m=20).itertuples()
    assert axis.length_m == pytest.approx(2 * np.pi * 200, rel=0.02)


def test_even_slopes_edges_and_flats_have_no_axis():
    for depth in (10 + 0.05 * EAST, 10 + 2 * np.tanh(off(30) / 20), np.full(EAST.shape, 7.0)):
        assert channels(in_utm(depth)).empty
        assert banks(in_utm(depth)).empty


def test_gentle_saddle_on_a_narrow_bank_is_no_channel():
    depth = 14 - 4 * np.exp(-((off(20) / 40) ** 2) / 2) * (
        1 - 0.4 * np.exp(-((NORTH / 120) ** 2) / 2)
    )
    assert channels(in_utm(depth), min_length_m=40, min_height_m=0.2).empty
    assert len(banks(in_utm(depth))) == 1


def test_faint_and_short_ones_are_left_out():
    depth = 10 + 4 * np.exp(-((off(20) / 40) ** 2) / 2)
    assert channels(in_utm(depth), min_height_m=5).empty
    assert channels(in_utm(depth), min_length_m=2000).empty


def test_geographic_grid():
    step, latitude = 5e-5, 65.0
    width = GEOD.inv(0, latitude, step, latitude)[2]
    height = GEOD.inv(0, latitude, 0, latitude + step)[2]
    rows, columns = np.mgrid[:200, :400]
    east, north = (columns - 199.5) * width, (99.5 - rows) * height
    depth = 10 + 4 * np.exp(-((off(50, east, north) / 40) ** 2) / 2)
    transform = Affine(step, 0, -20 - 200 * step, 0, -step, latitude + 100 * step)
    (axis,) = channels(make_grid(depth, transform=transform, crs=4326)).itertuples()
    assert abs((axis.bearing_deg - 50 + 90) % 180 - 90) < 1
    points = shapely.get_coordinates(axis.geometry)
    x, y = (points[:, 0] + 20) / step * width, (points[:, 1] - latitude) / step * height
    assert np.abs(off(50, x, y)).max() < 0.5 * height


@pytest.mark.parametrize("depth", [np.full((9, 9), np.nan), np.full((9, 9), 4.0), np.ones((1, 4))])
def test_nothing_to_find_gives_an_empty_table_with_columns(depth):
    found = channels(in_utm(depth))
    assert found.empty
    assert {"axis_id", "kind", "height_m", "geometry"} <= set(found.columns)


def test_impossible_scale_is_refused():
    with pytest.raises(GridError, match="finer than the cells"):
        channels(in_utm(np.ones((9, 9))), scale_m=3)


@pytest.mark.parametrize(("across", "along", "traced"), [(2.0, 1.0, True), (1.0, 2.0, False)])
def test_an_axis_needs_the_sharper_bend(across, along, traced):
    """A saddle that turns down to the sides by `across` and up to the ends by `along`.

    Lindeberg's condition: the bend across the axis is at least as sharp as that along it.
    """
    y, x = np.mgrid[-10:11, -10:11] + 0.3
    depth = (100 - across * x**2 + along * y**2).astype(np.float32)
    points, _ = all_axes(depth)
    assert (len(points) > 0) == traced
    assert np.abs(points[:, 0] - 10 + 0.3).max(initial=0) < 1e-3


def test_a_rim_is_the_near_one_not_the_higher_one_beyond_another_trough():
    """Sides rise 4 m, fall back by more than a quarter of that, and rise by 10 m further out.

    A Gaussian of deviation s takes s / sqrt(2 pi) times the change of slope off a sharp corner.
    """
    far = np.abs(EAST)
    depth = 20 - np.interp(far, [0, 90, 170, 290], [0, 4, 1, 14])
    (axis,) = (
        row for row in channels(in_utm(depth), reach_m=400).itertuples()
        if abs(row.geometry.centroid.x - 5e5) < 10
    )  # fmt: skip
    rounded = 20 / np.sqrt(2 * np.pi) * np.array([2 * 4 / 90, 4 / 90 + 3 / 80])  # floor and crest
    assert axis.height_m == pytest.approx(4 - rounded.sum(), abs=0.05)
    assert axis.width_m == pytest.approx(180, abs=40)


def test_an_axis_whose_middle_lies_furthest_north_is_one_line():
    arch = 25 + (COLUMNS - 120) ** 2 / 80.0  # row of the axis in each column
    depth = (4 * np.exp(-(((ROWS - arch) / 8) ** 2) / 2)).astype(np.float32)
    points, offsets = all_axes(depth)
    near = np.abs(points[:, 1] - 25 - (points[:, 0] - 120) ** 2 / 80) < 2
    longest = np.argmax(np.diff(offsets))
    line = points[offsets[longest] : offsets[longest + 1]]
    assert line[:, 0].min() < 60
    assert line[:, 0].max() > 180
    assert len(line) > 0.9 * near.sum()


@pytest.mark.parametrize(("apart_deg", "count"), [(0, 1), (50, 1), (70, 0), (110, 0), (130, 1)])
def test_bends_that_lie_more_than_60_degrees_apart_share_no_axis(apart_deg, count):
    # two cells with a slope along the bend that changes sign, the second turned to agree with
    # the first; all others have no bend
    bend = np.full((3, 4, 5), np.nan, np.float32)
    turned = np.radians(apart_deg)
    slope = -1.0 if apart_deg < 90 else 1.0
    bend[:, 1, 1], bend[:, 1, 2] = (1, 0, 1), (np.cos(turned), np.sin(turned), slope)
    number = np.full((2, 4, 5), -1, np.int32)
    nothing = np.empty((0, 2)), np.empty((0, 3), np.int64)
    assert _crossings(bend, number, 0, 0, *nothing) == count
