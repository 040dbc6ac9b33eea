"""Runs over safe water, against geometry worked out by hand, brute force and other libraries."""

import numpy as np
import pytest
from affine import Affine
from pyproj import Geod
from run_worlds import (
    MPS,
    PLANE,
    RISE_S,
    START,
    check_times,
    hazards_of,
    metres,
    place,
    runs_over,
    tide,
)  # fmt: skip
from shapely.geometry import LineString, Point, box

from layers.planning.drift.safe_water import Ended, SafeWater
from layers.planning.runs._lattice import Lattice, LatticePath
from layers.planning.runs._runs import CROSSES, Runs, _even_steps
from layers.planning.runs._ways import Ways
from seabed.grid import make_grid


def test_a_run_over_open_water_is_straight_and_its_time_follows():
    run = runs_over(np.full((80, 80), 8.0)).between(place(100, 100), place(700, 400), START)
    assert run.caution == ""
    assert run.distance_m == pytest.approx(np.hypot(600, 300) * PLANE, rel=1e-6)
    assert run.seconds == pytest.approx(run.distance_m / MPS)
    assert run.least_water_m == pytest.approx(8.0)
    assert run.times[0] == START
    assert len(run.times) == 4  # 67 s
    check_times(run)


def test_a_run_to_where_the_boat_is_takes_no_time():
    run = runs_over(np.full((80, 80), 8.0)).between(place(100, 100), place(100, 100), START)
    assert (run.caution, run.distance_m) == ("", pytest.approx(0.0, abs=1e-6))
    assert run.seconds == pytest.approx(0.0, abs=0.01)
    assert len(run.longitude) == 2


def test_a_run_goes_round_the_end_of_a_spit():
    """A spit of land, 10 m wide and 900 m long, with a cell on each side that touches it."""
    depth = np.full((120, 120), 8.0)
    depth[:90, 60] = np.nan
    run = runs_over(depth).between(place(100, 200), place(1000, 200), START)
    taut = np.hypot(490, 710) + 30 + np.hypot(380, 710)  # round (590, 910) and (620, 910)
    assert run.caution == ""
    # a way may cut a corner by a quarter of a cell, and is pulled over points 27 m apart
    assert taut - 10 <= run.distance_m / PLANE <= 1.005 * taut
    assert run.distance_m / MPS <= run.seconds <= 1.05 * run.distance_m / MPS
    assert run.least_water_m == pytest.approx(8.0)
    check_times(run)


@pytest.mark.parametrize(
    ("stands", "rise", "straight"),
    [(0.75, 3.0, True), (0.75, -3.0, False), (0.74, 3.0, False)],
)
def test_a_bar_is_crossed_only_if_the_tide_leaves_water_all_the_while(stands, rise, straight):
    """At half tide it rises or falls by 3 pi / 2 / 21600 s, 2 cm in the 90 s of the run."""
    depth = np.full((60, 100), 8.0)
    depth[:50, 50] = 0.8
    half = START + np.timedelta64(3, "h")
    runs = runs_over(depth, tide(stands - rise / 2, rise), least_water_m=1.545)
    run = runs.between(place(60, 100), place(960, 100), half)
    assert run.caution == ""
    assert (run.distance_m < 910) == straight
    rate = rise * np.pi / 2 / RISE_S
    # at 505 m, 44.5 s after it left
    low = min(0.0, run.seconds * rate)
    least = 0.8 + stands + 44.5 * rate if straight else 8.0 + stands + low
    assert run.least_water_m == pytest.approx(least, abs=1e-3)


def test_a_way_found_at_one_hour_is_not_taken_at_another():
    depth = np.full((60, 100), 8.0)
    depth[:, 50] = 0.8
    runs = runs_over(depth, tide(0.0, 3.0), least_water_m=1.5)
    ends = place(60, 100), place(960, 100)
    later = START + np.timedelta64(4, "h")
    assert runs.between(*ends, START).caution.startswith("has no known way of enough water")
    assert runs.between(*ends, later).caution == ""
    assert runs.between(*ends, START).caution.startswith("has no known way of enough water")
    assert runs.between(*ends, later).caution == ""
    beyond = runs.between(*ends, START + np.timedelta64(9, "h"))
    assert beyond.caution.startswith("goes on when the height of the tide is not known")
    assert np.isnan(beyond.least_water_m)


def test_land_between_is_water_we_know_nothing_of():
    depth = np.full((60, 100), 8.0)
    depth[:, 50:53] = np.nan
    run = runs_over(depth).between(place(60, 100), place(960, 100), START)
    assert run.caution == "crosses land, or unknown water: find your own way"
    assert np.isnan(run.least_water_m)
    assert metres(run.longitude, run.latitude)[:, 0].max() < 490


@pytest.mark.parametrize(
    ("x", "why", "least", "last_x"),
    [
        (-200.0, "off the grid, in unknown water", np.nan, 10.0),
        (25.0, "in or beside land, or unknown water", np.nan, 110.0),
        (505.0, "in water too shallow at that hour", 0.4, 400.0),
        (395.0, "beside water too shallow at that hour", 8.0, 385.0),
        (255.0, "too near a charted hazard", 8.0, 235.0),
    ],
)
def test_a_launch_in_closed_water_is_run_to_as_far_as_can_be(x, why, least, last_x):
    """Land from 0 to 100 m, a rock at 255 m, 0.4 m of water from 400 m on."""
    depth = np.full((60, 60), 8.0)
    depth[:, :10] = np.nan if x > 0 else 8.0
    depth[:, 40:] = 0.4
    rock = hazards_of(("rock", np.nan, Point(255, 105)))
    runs = runs_over(depth, None, rock)
    there = place(205, 405) if x != 255 else place(205, 105)
    home = runs.between(place(205, 405), place(x, 105), START)
    assert home.caution == f"ends {why}: find your own way"
    assert home.least_water_m == pytest.approx(least, abs=0.3, nan_ok=True)
    x_at, y_at = metres(home.longitude, home.latitude).T
    assert x_at[-1] == pytest.approx(last_x, abs=15)
    # a metre not run counts as ten run: it ends as near as that
    assert abs(y_at[-1] - 105) < 60
    left = np.hypot(x_at[-1] - x, y_at[-1] - 105) * PLANE
    drawn = np.hypot(*np.diff([x_at, y_at])).sum() * PLANE
    assert home.distance_m == pytest.approx(drawn + left, rel=1e-4)
    gone_s = (home.times[-1] - START) / np.timedelta64(1, "s")
    assert home.seconds == pytest.approx(gone_s + left / MPS, rel=1e-4)
    out = runs.between(place(x, 105), there, START)
    assert out.caution == f"starts {why}: find your own way"
    first = metres(out.longitude, out.latitude)[0]
    waits = (out.times[0] - START) / np.timedelta64(1, "s")
    assert waits == pytest.approx(np.hypot(*(first - [x, 105])) * PLANE / MPS, rel=1e-4)
    lasts = (out.times[-1] - START) / np.timedelta64(1, "s")
    assert lasts == pytest.approx(out.seconds, abs=1e-6)


def test_two_places_in_closed_water_are_joined_over_safe_water_between():
    depth = np.full((60, 60), 8.0)
    depth[:, 40:] = depth[:, :10] = 0.4
    run = runs_over(depth).between(place(85, 105), place(560, 105), START)
    water = "in water too shallow at that hour"
    assert run.caution == f"starts {water} and ends {water}: find your own way"
    assert metres(run.longitude, run.latitude)[:, 0] == pytest.approx(
        np.linspace(115, 385, len(run.times)), abs=15
    )
    assert run.least_water_m == pytest.approx(0.4, abs=1e-3)


def test_no_safe_water_at_all_leaves_the_straight_way_with_a_caution():
    run = runs_over(np.full((30, 30), 1.0)).between(place(50, 50), place(250, 50), START)
    assert "too shallow" in run.caution
    assert metres(run.longitude, run.latitude)[[0, -1], 0] == pytest.approx([50, 250])
    assert run.least_water_m == pytest.approx(1.0)


def test_a_way_through_too_little_water_has_a_caution_whatever_the_search_says(monkeypatch):
    depth = np.full((60, 60), 8.0)
    depth[:, 30] = 0.4
    runs = runs_over(depth)
    straight = LatticePath(np.array([[10.5, 10.5], [5.0, 55.0]]), 500.0, arrived=True)
    monkeypatch.setattr(Ways, "between", lambda *_: straight)
    run = runs.between(place(50, 105), place(550, 105), START)
    assert run.caution.startswith("has no known way of enough water")
    assert run.least_water_m == pytest.approx(0.4, abs=1e-3)


def over_a_barrier(kind, restriction="", gap=False):
    """From one side to the other of an area 60 m wide that leaves a gap of 200 m, or none."""
    strip = box(270, -50, 330, 400 if gap else 650)
    hazards = hazards_of((kind, np.nan, strip)).assign(restriction=restriction)
    runs = runs_over(np.full((60, 60), 8.0), None, hazards)
    return runs, runs.between(place(100, 105), place(500, 105), START)


@pytest.mark.parametrize(
    ("kind", "restriction"),
    [("fairway", ""), ("submarine cable", ""), ("restricted area", "fishing prohibited")],
)
def test_what_is_closed_to_a_drift_is_gone_round_or_crossed_with_a_caution(kind, restriction):
    runs, run = over_a_barrier(kind, restriction)
    assert run.caution == CROSSES
    assert run.distance_m == pytest.approx(400 * PLANE, rel=1e-6)
    assert run.least_water_m == pytest.approx(8.0)
    legs = np.array([[*place(100, 105), *place(500, 105)]]).T
    assert runs.safe.stops(START, START, legs)[0] == Ended.HAZARD
    _, round_it = over_a_barrier(kind, restriction, gap=True)
    assert round_it.caution == ""
    assert metres(round_it.longitude, round_it.latitude)[:, 1].max() > 430


@pytest.mark.parametrize(
    ("kind", "restriction"),
    [("marine farm", ""), ("fairway", "entry prohibited"), ("caution area", "to be avoided")],
)
def test_what_is_closed_to_all_boats_is_not_crossed(kind, restriction):
    _, run = over_a_barrier(kind, restriction)
    assert run.caution.startswith("has no known way of enough water, clear")
    assert metres(run.longitude, run.latitude)[:, 0].max() < 240


def test_where_there_is_no_room_beside_the_line_the_run_goes_over_it():
    depth = np.full((60, 60), np.nan)
    depth[25:32] = 8.0  # 70 m wide, of which 50 m are clear of land
    line = LineString([place(100, 285), place(500, 285)])
    run = runs_over(depth).between(place(500, 285), place(100, 285), START, around=line)
    assert run.caution == ""
    assert run.distance_m == pytest.approx(400 * PLANE, rel=1e-6)


def test_a_geographic_grid_far_north_is_measured_over_the_ground():
    """A spit at 60 N, where a degree of longitude is half as long as one of latitude."""
    depth = np.full((100, 200), 8.0)
    depth[:70, 100] = np.nan
    step = 1e-4  # 11.1 m by 5.6 m
    grid = make_grid(
        depth.astype(np.float32), transform=Affine(step, 0, 359.99, 0, -step, 60.0),
        crs="EPSG:4326",
    )  # fmt: skip
    runs = Runs.of(SafeWater.of(grid), running_mps=MPS)
    here, there = (-0.01 + 40.5 * step, 60 - 20.5 * step), (-0.01 + 160.5 * step, 60 - 20.5 * step)
    run = runs.between(here, there, START)
    geod = Geod(ellps="WGS84")
    corners = [here, *((-0.01 + at * step, 60 - 71 * step) for at in (99, 102)), there]
    taut = geod.line_length(*np.transpose(corners))
    assert run.caution == ""
    assert taut * 0.99 <= run.distance_m <= 1.005 * taut
    assert geod.line_length(run.longitude, run.latitude) == pytest.approx(run.distance_m, rel=1e-6)
    assert (run.longitude[0], run.longitude[-1]) == pytest.approx((here[0], there[0]))
    west = runs.between((-0.0105, here[1]), here, START)
    assert west.caution.startswith("starts off the grid")
    assert west.distance_m < 500


def test_which_way_round_is_shorter_is_judged_over_the_ground():
    """A T of land at 60 N: 709 m round the bar of the T, or 1003 m under its foot.

    Counted in degrees the bar would be twice as wide as it is.
    """
    depth = np.full((110, 200), 8.0)
    depth[45:96, 100] = depth[45, 70:131] = np.nan
    step = 1e-4
    grid = make_grid(
        depth.astype(np.float32), transform=Affine(step, 0, -33.0, 0, -step, 60.0),
        crs="EPSG:4326",
    )  # fmt: skip
    runs = Runs.of(SafeWater.of(grid), running_mps=MPS)
    here, there = ((-33 + column * step, 60 - 50.5 * step) for column in (97.5, 103.5))
    run = runs.between(here, there, START)
    assert run.caution == ""
    assert 650 < run.distance_m < 800
    assert run.latitude.max() > 60 - 45 * step


def test_a_single_block_of_open_cells_joins_the_cells_beside_it():
    """In lattices of more than 4,000 cells, four by four open ones are one node."""
    closes = np.full((66, 66), -np.inf, np.float32)
    closes[30] = closes[28:32, 32:36] = 8.0
    lattice = Lattice(closes, 1.5, np.full(66, 10.0), np.full(66, 10.0))
    closes[30, 50] = -np.inf
    ends = np.array([30.5, 0.5]), np.array([30.5, 65.5])
    short = lattice.way(*ends)
    assert not short.arrived
    assert short.points[:, -1] == pytest.approx([30.5, 49.5])
    closes[30, 50], closes[30, 51], closes[31, 50:53] = 8.0, -np.inf, 8.0
    way = lattice.way(*ends)
    assert way.arrived
    assert 650 < way.metres < 660
    looks = np.concatenate(
        [np.linspace(*leg, 50) for leg in zip(way.points.T[:-1], way.points.T[1:], strict=True)]
    )
    assert (closes[tuple(np.floor(looks).astype(int).T)] > 0).mean() > 0.95


def test_a_way_ends_at_the_open_place_of_a_block_nearest_to_its_end():
    """Cells of 10 m; blocks of four by four cells; by all middles of open cells."""
    closes = np.full((68, 68), -np.inf, np.float32)
    closes[20:60, :40] = 8.0
    way = Lattice(closes, 1.5, np.full(68, 10.0), np.full(68, 10.0)).way(
        np.array([40.5, 3.5]), end := np.array([30.5, 50.7])
    )
    middles = np.array(np.nonzero(closes > 0)) + 0.5
    nearest = middles[:, np.argmin(np.hypot(*(middles - end[:, None])))]
    assert not way.arrived
    assert way.points[:, -1] == pytest.approx(nearest)


def test_legs_are_parted_into_steps_of_half_a_minute():
    steps, step_s = _even_steps(np.array([60.0, 0.0, 120.0]))
    assert (steps.tolist(), step_s) == ([2, 0, 4], 30.0)


@pytest.mark.parametrize(("apex", "corners"), [(9.1, 1), (8.8, 2)])
def test_a_corner_costs_a_fifth_of_a_cell(apex, corners):
    """Round the end of a wall by one corner above it, or by two close to it.

    Two are shorter by 0.06 cells with the one at row 9.1, and by 0.31 with it at 8.8.
    """
    closes = np.full((22, 62), 8.0, np.float32)
    closes[10:, 30:32] = -np.inf
    lattice = Lattice(closes, 1.5, np.full(22, 10.0), np.full(22, 10.0))
    path = np.array([[20.5, 9.5, apex, 9.5, 20.5], [5.5, 29.5, 31.0, 32.5, 56.5]])
    along = np.arange(5.0)
    way = lattice._shortest_seen(path, along, along)
    over = [0, 2, 4] if corners == 1 else [0, 1, 3, 4]
    assert way == pytest.approx(path[:, over])


@pytest.mark.parametrize("row", [0.5, 30.5, 65.5])
def test_a_leg_along_a_row_is_as_long_as_its_cells_are_wide(row):
    """Cells get narrower row by row, as on a geographic grid, and all are 7 m high."""
    widths = np.linspace(10.0, 5.0, 66)
    lattice = Lattice(np.full((66, 66), 8.0, np.float32), 1.5, widths, np.full(66, 7.0))
    along, down = (
        lattice.metres(np.array([[row], [3.5]]), np.array([[row], [13.5]])),
        lattice.metres(np.array([[0.5], [3.5]]), np.array([[row], [3.5]])),
    )
    assert along == pytest.approx([10 * widths[int(row)]])
    assert down == pytest.approx([7 * (row - 0.5)])
