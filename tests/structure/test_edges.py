"""Edges against analytic scarps: place, drop, width, direction, with noise and without."""

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from pyproj import Geod, Transformer
from scipy.special import erf, erfinv
from thoroughness import THOROUGH

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.structure import edges
from seabed.structure.tracing.ridges import STRIDES, _usual

CELL = 4.0
GEOD = Geod(ellps="WGS84")
SHAPE = (200, 240)
MIDDLE = (5e5 + 480.0, 6e6 - 400.0)


def ground(shape=SHAPE, cell=CELL):
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    return 5e5 + (columns + 0.5) * cell, 6e6 - (rows + 0.5) * cell


def in_utm(depth, cell=CELL):
    return make_grid(depth, transform=Affine(cell, 0, 5e5, 0, -cell, 6e6), crs=32631)


def down_slope(x, y, faces):
    """Way from the scarp's middle line in the direction it faces, metres."""
    angle = np.radians(faces)
    return (x - MIDDLE[0]) * np.sin(angle) + (y - MIDDLE[1]) * np.cos(angle)


def scarp(faces, *, drop=3.0, width=8.0, top=6.0, profile=np.tanh, noise=0.0, seed=0):
    way = down_slope(*ground(), faces)
    depth = top + drop / 2 * (1 + profile(way / width))
    return depth + noise * np.random.default_rng(seed).normal(size=depth.shape)


def off_line(table, faces):
    points = shapely.get_coordinates(shapely.segmentize(table.geometry.values, 1.0))
    return np.abs(down_slope(points[:, 0], points[:, 1], faces))


def difference(one, other, circle=360):
    return abs((one - other + circle / 2) % circle - circle / 2)


@pytest.mark.parametrize("faces", [0, 30, 77, 135, 200, 290] if THOROUGH else [30, 200])
@pytest.mark.parametrize("width", [2.0, 8.0, 16.0])
def test_scarp_is_found_where_it_is(faces, width):
    found = edges(in_utm(scarp(faces, width=width)))
    assert len(found) == 1
    edge = found.iloc[0]
    assert off_line(found, faces).max() < 0.5 * CELL
    assert edge.drop_m == pytest.approx(3.0, rel=0.05)
    assert edge.top_depth_m == pytest.approx(6.0, abs=0.1)
    assert edge.foot_depth_m == pytest.approx(9.0, abs=0.1)
    assert edge.depth_min_m == pytest.approx(7.5, abs=0.5)
    assert edge.depth_max_m == pytest.approx(7.5, abs=0.5)
    assert difference(edge.faces_deg, faces) < 1
    assert difference(edge.bearing_deg, faces + 90, 180) < 1
    # the scarp runs through the whole grid but for the margin the smoothing leaves
    run = min(
        800 / abs(np.sin(np.radians(faces)) or 1e-9), 960 / abs(np.cos(np.radians(faces)) or 1e-9)
    )
    assert edge.length_m > 0.9 * run - 40


@pytest.mark.parametrize("width", [12.0, 20.0, 35.0])
@pytest.mark.parametrize("noise", [0.0, 0.3])
def test_width_and_slope_are_those_of_the_bottom_not_of_the_smoothing(width, noise):
    """An error-function scarp: from 10 to 90 % in 2 erfinv(0.8) widths, steepest 2 / sqrt pi.

    Smoothed at 40 m, as here, the narrowest would be twice as wide.  The grid itself adds a box of
    two cells and a triangle of two: 5 % on the narrowest; and the breaks leave out 3 % of the drop.
    """
    grid = in_utm(scarp(60, width=width, profile=erf, noise=noise))
    edge = edges(grid, scale_m=40).iloc[0]
    assert edge.width_m == pytest.approx(2 * erfinv(0.8) * width / 0.8, rel=0.08)
    steepest = 1.5 * 2 / np.sqrt(np.pi) / width
    assert np.tan(np.radians(edge.slope_max_deg)) == pytest.approx(steepest, rel=0.1 + noise / 2)
    assert edge.slope_mean_deg == pytest.approx(
        np.degrees(np.arctan(edge.drop_m / edge.width_m)),
        abs=0.03,  # its flanks lie almost level
    )


def test_ramp_between_gentler_slopes():
    """The drop is the ramp's own; from break to break, 16 m beyond the knees, it is more."""
    way = down_slope(*ground(), 90)
    ramp = 0.01 * way + 0.08 * np.clip(way, -25, 25)
    edge, plain = edges(in_utm(20 + ramp)).iloc[0], edges(in_utm(20 + ramp), significance=0).iloc[0]
    assert edge.drop_m == pytest.approx(0.08 * 50, rel=0.01)
    breaks = 0.08 * 50 + 0.01 * (50 + 2 * 16.4)
    assert plain.drop_m == pytest.approx(breaks, rel=0.03)
    assert edge.foot_depth_m - edge.top_depth_m == pytest.approx(breaks, rel=0.03)
    assert edge.width_m == pytest.approx(50, rel=0.1)
    assert edge.slope_max_deg == pytest.approx(np.degrees(np.arctan(0.09)), rel=0.02)


def test_faces_of_sand_waves_keep_their_slope():
    """Half a wave is narrower than the smoothing: its slope must still be the bottom's."""
    way = down_slope(*ground(), 90)
    found = edges(in_utm(15 + 1.0 * np.sin(2 * np.pi * way / 64)))
    assert len(found) > 20
    steepest = np.degrees(np.arctan(2 * np.pi / 64))
    assert found["slope_max_deg"].median() == pytest.approx(steepest, rel=0.05)
    assert (found["slope_max_deg"] >= found["slope_mean_deg"]).all()


@pytest.mark.parametrize("faces", [0, 40, 115, 250] if THOROUGH else [40, 250])
@pytest.mark.parametrize("width", [4.0, 12.0])
@pytest.mark.parametrize("drop", [2.0, 6.0])
def test_noisy_scarp(faces, width, drop):
    """Noise of a tenth of the drop in every cell: 95 % found, under 5 % false."""
    found = edges(in_utm(scarp(faces, drop=drop, width=width, noise=drop / 10, seed=faces)))
    near = 2 * CELL
    assert np.mean(off_line(found, faces) > near) < 0.05
    angle = np.radians(faces + 90)
    way = np.arange(-1000, 1000, 2.0)
    true = MIDDLE + np.column_stack([np.sin(angle), np.cos(angle)]) * way[:, None]
    margin = 20.0
    inside = (
        (true[:, 0] > 5e5 + margin)
        & (true[:, 0] < 5e5 + SHAPE[1] * CELL - margin)
        & (true[:, 1] < 6e6 - margin)
        & (true[:, 1] > 6e6 - SHAPE[0] * CELL + margin)
    )
    away = shapely.distance(shapely.points(true[inside]), shapely.union_all(found.geometry.values))
    assert np.mean(away <= near) > 0.95
    assert found["drop_m"].iloc[0] == pytest.approx(drop, rel=0.07)
    assert np.median(off_line(found, faces)) < 0.5 * CELL


@pytest.mark.parametrize("noise", [0.0, 0.1])
def test_even_slopes_and_flats_have_no_edge(noise):
    x, y = ground()
    rough = noise * np.random.default_rng(2).normal(size=x.shape)
    assert edges(in_utm(20 + 0.05 * (x - 5e5) + 0.03 * (y - 6e6) + rough)).empty
    assert edges(in_utm(20 + rough)).empty


def test_crest_and_trough_are_no_edges_but_their_sides_are():
    x, _ = ground()
    depth = 10 - 2 * np.exp(-(((x - MIDDLE[0]) / 60) ** 2) / 2)
    found = edges(in_utm(depth))
    assert len(found) == 2
    sides = sorted(found.geometry.centroid.x - MIDDLE[0])
    # a Gaussian is steepest one deviation from its middle; smoothing with 10 m widens it to 60.8
    assert sides == pytest.approx([-60.8, 60.8], abs=1)
    assert sorted(found["faces_deg"].round()) == [90, 270]


def test_deeper_side_is_on_the_left_hand():
    found = edges(in_utm(scarp(75)))
    points = shapely.get_coordinates(found.geometry[0])
    east, north = points[-1] - points[0]
    deeper = np.radians(75)
    assert east * np.cos(deeper) - north * np.sin(deeper) > 0


def test_round_hump_gives_one_ring():
    x, y = ground()
    away = np.hypot(x - MIDDLE[0], y - MIDDLE[1])
    found = edges(in_utm(9 + 1.5 * np.tanh((away - 120) / 8)))
    assert len(found) == 1
    assert found.geometry[0].is_closed
    radius = np.hypot(*(shapely.get_coordinates(found.geometry[0]) - MIDDLE).T)
    # smoothing a curved edge moves it by about deviation² / (2 radius), 0.4 m here
    assert np.abs(radius - 120).max() < 0.5 * CELL


@pytest.mark.parametrize(
    ("band", "expected"), [(None, False), ((5, 6.5), True), ((7, 8), True), ((2, 5), False)]
)
def test_band_marks_edges_whose_face_lies_in_it(band, expected):
    (edge,) = edges(in_utm(scarp(20)), band=band).itertuples()
    assert edge.in_band == expected


def test_the_stretch_in_the_band_is_measured_and_its_middle_found():
    """The top falls a metre in 100 m along a scarp of 3 m, from 4 m deep at the northern end.

    Faces reach into 8 to 8.5 m where the top is between 5 and 8.5 m, 100 to 450 m down the line.
    """
    x, y = ground()
    south = 6e6 - y
    depth = 4 + 0.01 * south + 1.5 * (1 + np.tanh((x - MIDDLE[0]) / 8))
    (edge,) = edges(in_utm(depth), band=(8, 8.5)).itertuples()
    assert edge.band_length_m == pytest.approx(350, abs=15)  # breaks leave out some of the drop
    assert edge.middle_x == pytest.approx(MIDDLE[0], abs=CELL)
    assert 6e6 - edge.middle_y == pytest.approx(275, abs=10)
    (edge,) = edges(in_utm(depth)).itertuples()
    assert edge.band_length_m == 0
    assert 6e6 - edge.middle_y == pytest.approx(400, abs=CELL)


def test_the_whole_of_a_level_scarp_is_in_the_band_or_none_of_it():
    (edge,) = edges(in_utm(scarp(20)), band=(7, 8)).itertuples()
    assert edge.band_length_m == pytest.approx(edge.length_m)
    (edge,) = edges(in_utm(scarp(20)), band=(2, 5)).itertuples()
    assert edge.band_length_m == 0


def test_limits_drop_what_is_less():
    grid = in_utm(scarp(20))
    assert len(edges(grid)) == 1
    assert edges(grid, min_drop_m=3.5).empty
    assert edges(grid, min_length_m=5000).empty
    assert edges(grid, min_slope_deg=20).empty


def test_edges_keep_clear_of_voids_and_leave_no_trace_of_them():
    depth = scarp(90)
    depth[60:100, 100:140] = np.nan
    found = edges(in_utm(depth))
    assert len(found) == 2
    assert off_line(found, 90).max() < 0.5 * CELL
    flat = np.full(SHAPE, 8.0)
    flat[50:150, 60:200] = np.nan
    assert edges(in_utm(flat)).empty


def test_shore_of_a_steepening_beach_is_no_edge():
    """Depth falls to zero ever more steeply at a shore, beyond which all is land."""
    x, _ = ground()
    depth = 8 * (1 - np.exp(-(x - 5e5 - 200) / 150))
    depth[depth < 0] = np.nan
    assert edges(in_utm(depth)).empty


def test_geographic_grid():
    """The same scarp in degrees at 65 north, where a cell is less than half as wide as high."""
    step, latitude = 5e-5, 65.0
    width = GEOD.inv(0, latitude, step, latitude)[2]
    height = GEOD.inv(0, latitude, 0, latitude + step)[2]
    rows, columns = np.mgrid[:200, :400]
    east, north = (columns - 199.5) * width, (99.5 - rows) * height
    faces = np.radians(50)
    way = east * np.sin(faces) + north * np.cos(faces)
    grid = make_grid(
        7.5 + 1.5 * np.tanh(way / 10),
        transform=Affine(step, 0, -20 - 200 * step, 0, -step, latitude + 100 * step),
        crs=4326,
    )
    (edge,) = edges(grid).itertuples()
    assert difference(edge.faces_deg, 50) < 1
    assert difference(edge.bearing_deg, 140, 180) < 1
    assert edge.drop_m == pytest.approx(3, rel=0.05)
    points = shapely.get_coordinates(edge.geometry)
    x, y = (points[:, 0] + 20) / step * width, (points[:, 1] - latitude) / step * height
    assert np.abs(x * np.sin(faces) + y * np.cos(faces)).max() < 0.5 * height
    assert edge.length_m == pytest.approx(GEOD.line_length(points[:, 0], points[:, 1]), rel=1e-9)


def test_directions_are_true_far_from_the_central_meridian():
    """200 km west of it at 59.5 north, grid north is 3 degrees off true north."""
    x, y = ground()
    depth = 7.5 + 1.5 * np.tanh(down_slope(x, y, 40) / 10)
    grid = make_grid(depth, transform=Affine(CELL, 0, 3e5, 0, -CELL, 6.6e6), crs=32631)
    (edge,) = edges(grid).itertuples()
    to_degrees = Transformer.from_crs(32631, 4326, always_xy=True)
    middle = edge.geometry.interpolate(0.5, normalized=True)
    here = to_degrees.transform(middle.x, middle.y)
    angle = np.radians(40)
    there = to_degrees.transform(middle.x + 10 * np.sin(angle), middle.y + 10 * np.cos(angle))
    truth = GEOD.inv(*here, *there)[0] % 360
    assert difference(truth, 40) > 2  # the test would be idle otherwise
    assert difference(edge.faces_deg, truth) < 0.5
    assert difference(edge.bearing_deg, truth + 90, 180) < 0.5


@pytest.mark.parametrize("depth", [np.full((9, 9), np.nan), np.full((9, 9), 4.0), np.ones((1, 4))])
def test_nothing_to_find_gives_an_empty_table_with_columns(depth):
    found = edges(in_utm(depth))
    assert found.empty
    assert {"edge_id", "top_depth_m", "drop_m", "in_band", "geometry"} <= set(found.columns)


@pytest.mark.parametrize(
    ("scale", "message"), [(0, "of 0 m is too small"), (3, "finer than the cells")]
)
def test_impossible_scales_are_refused(scale, message):
    with pytest.raises(GridError, match=message):
        edges(in_utm(np.ones((9, 9))), scale_m=scale)


def test_real_survey_edges_are_steep_ground(registry_file):
    """Along every edge the plain slope of the smoothed bottom beats its flanks'."""
    path = registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif")
    with rasterio.open(path) as file:
        depth = -file.read(1, masked=True).filled(np.nan)
        grid = make_grid(depth, transform=file.transform, crs=file.crs)
    found = edges(grid, scale_m=40, min_length_m=60)
    assert len(found) >= 5
    assert (found["foot_depth_m"] > found["top_depth_m"]).all()
    assert (found["slope_max_deg"] >= found["slope_mean_deg"] - 1e-9).all()
    assert (found["top_depth_m"] <= found["depth_max_m"]).all()
    assert found["edge_id"].tolist() == list(range(len(found)))
    assert found["length_m"].is_monotonic_decreasing


@pytest.mark.parametrize(("drop", "count"), [(1.3, 1), (0.8, 0)])
def test_a_metre_of_drop_is_asked_for_by_default(drop, count):
    assert len(edges(in_utm(scarp(90, drop=drop)), significance=0)) == count


def test_the_usual_slope_is_the_median_over_the_strides():
    """Ground that falls by the square of the way east: strides of two cells from the third on."""
    depth = np.tile(np.arange(40.0) ** 2, (5, 1)).astype(np.float32)
    ends = [(3 + 2 * k) ** 2 for k in range(STRIDES + 1)]
    falls = np.diff(ends) / (2 * 4.0)
    assert _usual(depth, 0.0, 2.0, 1.0, 0.0, 4.0, 3, 2.0, 0, 0) == pytest.approx(np.median(falls))
    short = depth[:, :11].copy()  # three strides are known
    assert _usual(short, 0.0, 2.0, 1.0, 0.0, 4.0, 3, 2.0, 0, 0) == pytest.approx(
        np.median(falls[:3])
    )
    assert _usual(short, 0.0, 2.0, 1.0, 0.0, 4.0, 5, 2.0, 0, 0) == 0.0
