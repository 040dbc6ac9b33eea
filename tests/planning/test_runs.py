"""Runs over safe water, against geometry worked out by hand, brute force and other libraries."""

from heapq import heappop, heappush

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Geod, Transformer
from scipy.ndimage import label, map_coordinates
from shapely.geometry import LineString, Point, box

from layers.planning.drift._drift import Ended
from layers.planning.drift.safe_water import SafeWater
from layers.planning.runs._lattice import Lattice, Way
from layers.planning.runs._runs import CROSSES, Runs
from layers.planning.runs._ways import Ways
from layers.water import HighLowTable
from layers.water.times import as_utc
from seabed.grid import make_grid
from seabed.loaders import open_grid

START = np.datetime64("2031-06-14T08:00", "ns")
WEST, NORTH = 500_000.0, 5_116_000.0  # UTM zone 25N, open ocean
TO_DEGREES = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
PLANE = 1.0004  # metres over the ground in one of the plane's, in the middle of a zone
MPS = 10.0
RISE_S = 6 * 3600.0


def grid_of(depth, cell=10.0):
    return make_grid(
        np.asarray(depth, np.float32), transform=Affine(cell, 0, WEST, 0, -cell, NORTH),
        crs="EPSG:32625",
    )  # fmt: skip


def place(x, y):
    """Degrees of a place in metres right of and below the corner."""
    return TO_DEGREES.transform(WEST + x, NORTH - y)


def metres(longitude, latitude):
    """Metres right of and below the corner, shape (n, 2)."""
    x, y = TO_DEGREES.transform(longitude, latitude, direction="INVERSE")
    return np.column_stack([np.asarray(x) - WEST, NORTH - np.asarray(y)])


def runs_over(depth, *more, cell=10.0, **options):
    return Runs.of(SafeWater.of(grid_of(depth, cell), *more, **options), running_mps=MPS)


def tide(first_m, rise_m):
    """From one turn of the tide to the next in six hours, from START on."""
    times = as_utc(pd.to_datetime(["2031-06-14T08:00", "2031-06-14T14:00"]))
    return HighLowTable(
        times, np.array([first_m, first_m + rise_m]), np.array([rise_m < 0, rise_m > 0])
    )


def height(first_m, rise_m, times):
    """The same by the printed rule of such tables."""
    share = (times - START) / np.timedelta64(1, "s") / RISE_S
    return first_m + rise_m * (1 - np.cos(np.pi * share)) / 2


def looked_at(run, every_m=0.5):
    """Places along a run as drawn, in metres, and when the boat is there."""
    corners = metres(run.longitude, run.latitude)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    looks = np.union1d(along, np.arange(0, along[-1], every_m))
    seconds = (run.times - START) / np.timedelta64(1, "s")
    places = np.column_stack([np.interp(looks, along, part) for part in corners.T])
    at = np.interp(looks, along, seconds)
    return places, START + (at * 1e9).astype("timedelta64[ns]")


def charted(depth, places, cell=10.0):
    """Bilinear depth at places in metres; far above the water beside land and off the grid."""
    at = places.T[::-1] / cell
    inside = ((at >= 0) & (at <= np.array(depth.shape)[:, None])).all(axis=0)
    values = map_coordinates(
        np.where(np.isnan(depth), -1e6, depth), at - 0.5, order=1, mode="nearest"
    )
    return np.where(inside, values, -1e6)


def check_times(run):
    steps = np.diff(run.times) / np.timedelta64(1, "s")
    assert (steps <= 30.0).all()
    assert steps == pytest.approx(steps[0], abs=1e-6)
    longest = np.diff(metres(run.longitude, run.latitude), axis=0)
    assert (np.hypot(*longest.T) * PLANE <= MPS * steps * 1.0005).all()


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
    assert run.caution == "crosses land, or water we know nothing of: find your own way"
    assert np.isnan(run.least_water_m)
    assert metres(run.longitude, run.latitude)[:, 0].max() < 490


@pytest.mark.parametrize(
    ("x", "why", "least", "last_x"),
    [
        (-200.0, "off the grid, in water we know nothing of", np.nan, 10.0),
        (25.0, "in or beside land, or water we know nothing of", np.nan, 110.0),
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
    straight = Way(np.array([[10.5, 10.5], [5.0, 55.0]]), 500.0, arrived=True)
    monkeypatch.setattr(Ways, "between", lambda *_: straight)
    run = runs.between(place(50, 105), place(550, 105), START)
    assert run.caution.startswith("has no known way of enough water")
    assert run.least_water_m == pytest.approx(0.4, abs=1e-3)


def hazards_of(*rows):
    """Hazards as charts give them: (kind, depth_m, shape in metres from the corner)."""
    return gpd.GeoDataFrame(
        {
            "kind": [kind for kind, _, _ in rows], "depth_m": [depth for _, depth, _ in rows],
            "water_level": "", "restriction": "", "name": "", "description": "", "file": "",
            "chart_class": "",
        },
        geometry=gpd.GeoSeries(
            [shapely.transform(shape, lambda at: at * [1, -1] + [WEST, NORTH])
             for _, _, shape in rows],
            crs="EPSG:32625",
        ).to_crs("EPSG:4326"),
    )  # fmt: skip


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


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 100_000),
    cell=st.sampled_from([2.0, 10.0, 35.0, 100.0]),
    length=st.floats(60, 700),
    bend=st.floats(-1.2, 1.2),
)
def test_backing_up_keeps_off_the_line_but_near_its_ends(seed, cell, length, bend):
    random = np.random.default_rng(seed)
    count = int(2400 / cell)
    course = random.uniform(0, 2 * np.pi) + np.linspace(0, bend, 9)
    way = np.cumsum(np.column_stack([np.cos(course), np.sin(course)]) * length / 9, axis=0)
    way += 1200 - way.mean(axis=0)
    line = LineString([place(*at) for at in way])
    run = runs_over(np.full((count, count), 8.0), cell=cell).between(
        place(*way[-1]), place(*way[0]), START, around=line
    )
    assert run.caution == ""
    places, _ = looked_at(run)
    own = np.array([way[0], way[-1]])
    near_ends = np.hypot(*(places[:, None] - own).T).min(axis=0) < 50
    off = shapely.distance(shapely.points(places), LineString(way))
    assert off[~near_ends].min(initial=50) >= 49.9
    straight = np.hypot(*(way[-1] - way[0]))
    # out and in by twice 50 m, the look of a quarter of a cell, and the cells the ground touches
    assert run.distance_m <= (straight + abs(bend) * length / 2 + 240) * PLANE
    check_times(run)


def test_where_there_is_no_room_beside_the_line_the_run_goes_over_it():
    depth = np.full((60, 60), np.nan)
    depth[25:32] = 8.0  # 70 m wide, of which 50 m are clear of land
    line = LineString([place(100, 285), place(500, 285)])
    run = runs_over(depth).between(place(500, 285), place(100, 285), START, around=line)
    assert run.caution == ""
    assert run.distance_m == pytest.approx(400 * PLANE, rel=1e-6)


def random_bottom(random, rows=62, columns=78):
    """Blocks of all depths; islands; walls with gaps; voids."""
    size = int(random.integers(3, 9))
    blocks = random.uniform(-1.0, 9.0, (-(-rows // size), -(-columns // size)))
    blocks[random.uniform(size=blocks.shape) < random.uniform(0, 0.25)] = np.nan
    depth = np.kron(blocks, np.ones((size, size)))[:rows, :columns]
    if random.uniform() < 0.5:  # a deep basin, so that more is connected
        depth = np.where(np.isnan(depth), depth, depth + 2.5)
    for _ in range(int(random.integers(0, 3))):
        across = int(random.integers(5, columns - 5))
        depth[:, across] = random.choice([np.nan, 0.3, -2.0])
        gap = int(random.integers(0, rows - 8))
        depth[gap : gap + int(random.integers(3, 8)), across] = 6.0
    return depth


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    seed=st.integers(0, 100_000),
    low=st.floats(-0.8, 1.0),
    rise=st.floats(-2.5, 2.5).filter(lambda rise: abs(rise) > 0.1),
    least=st.floats(0.5, 3.0),
    clearance=st.floats(5.0, 60.0),
    cell=st.sampled_from([5.0, 10.0, 100.0]),
    begins=st.integers(0, 300),
)
def test_no_run_is_in_too_little_water_or_too_near_a_hazard(
    seed, low, rise, least, clearance, cell, begins
):
    """Random worlds, each run looked at every half metre by other tools than the planner's."""
    random = np.random.default_rng(seed)
    depth = random_bottom(random)
    wide, high = depth.shape[1] * cell, depth.shape[0] * cell
    spots = random.uniform(0, [wide, high], (5, 2))
    hazards = hazards_of(
        ("wreck", np.nan, Point(spots[0])),
        ("rock", float(random.uniform(-2, 3)), Point(spots[1])),
        ("submarine cable", np.nan, LineString([spots[1], (spots[1] + spots[2]) / 2])),
        ("restricted area", np.nan, box(*spots[3], *(spots[3] + 60))),
        ("fairway", np.nan, box(*spots[4], *(spots[4] + 80))),
    )
    runs = runs_over(
        depth, tide(low, rise), hazards, cell=cell, least_water_m=least, clearance_m=clearance
    )
    closed = hazards.to_crs("EPSG:32625").geometry.to_numpy()
    over = np.array([np.nan, hazards["depth_m"][1], np.nan, np.inf, np.nan])
    leave = START + np.timedelta64(begins, "m")
    for _ in range(6):
        ends = random.uniform(-0.03, 1.03, (2, 2)) * [wide, high]
        run = runs.between(place(*ends[0]), place(*ends[1]), leave)
        drawn = metres(run.longitude, run.latitude)
        whole = np.hypot(*(drawn[[0, -1]] - ends).T).max() < 0.01
        if run.caution and whole:
            continue  # the straight way: nothing is known
        assert whole == (run.caution in {"", CROSSES})
        places, times = looked_at(run)
        stands = height(low, rise, times)
        assert (charted(depth, places, cell) + stands).min() >= least - 1e-3
        points = shapely.points(places * [1, -1] + [WEST, NORTH])
        for hazard, kind, deep in zip(closed, hazards["kind"], over, strict=True):
            if np.isinf(deep) or (
                CROSSES in run.caution and kind in {"submarine cable", "fairway"}
            ):
                continue
            near = shapely.distance(points, hazard) < clearance - 0.03
            covered = deep + stands[near] >= least - 1e-3 if np.isfinite(deep) else False
            assert np.all(covered) or not near.any()
        if not run.caution:
            assert run.least_water_m >= least - 1e-6
            # the last step of each leg is as long as the others, half a second where it must
            turns = np.abs(np.diff(np.arctan2(*np.diff(drawn, axis=0).T)))
            legs = 1 + np.count_nonzero(turns > 1e-3)
            assert run.seconds * MPS <= 1.05 * run.distance_m + 0.5 * legs * MPS
            check_times(run)


def brute_force(is_open, start):
    """Metres over cells to all eight neighbours, from one: Dijkstra (1959) by the book."""
    away = np.full(is_open.shape, np.inf)
    away[start] = 0.0
    heap = [(0.0, start)]
    while heap:
        metres_, (row, column) = heappop(heap)
        if metres_ > away[row, column]:
            continue
        for down in (-1, 0, 1):
            for across in (-1, 0, 1):
                r, c = row + down, column + across
                if not (0 <= r < is_open.shape[0] and 0 <= c < is_open.shape[1]):
                    continue
                further = metres_ + np.hypot(down, across)
                if is_open[r, c] and further < away[r, c]:
                    away[r, c] = further
                    heappush(heap, (further, (r, c)))
    return away


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    seed=st.integers(0, 100_000),
    least=st.floats(0.5, 3.0),
    shape=st.sampled_from([(30, 44), (62, 78), (101, 60)]),
    cell=st.sampled_from([3.0, 10.0, 60.0]),
)
def test_a_way_is_found_where_brute_force_finds_one_and_is_hardly_longer(seed, least, shape, cell):
    random = np.random.default_rng(seed)
    depth = random_bottom(random, *shape)
    framed = np.pad(np.nan_to_num(depth, nan=-np.inf), 1, constant_values=-np.inf)
    shoalest = np.min(
        [framed[i : i + shape[0], j : j + shape[1]] for i in range(3) for j in range(3)], axis=0
    )
    is_open = shoalest.astype(np.float32) >= least
    parts, _ = label(is_open, np.ones((3, 3)))
    runs = runs_over(depth, cell=cell, least_water_m=least)
    cells = np.argwhere(is_open)
    if not len(cells):
        return
    start = tuple(cells[random.integers(len(cells))])
    # ways are looked for first as if there were up to 5 cm less
    less = shoalest.astype(np.float32) >= np.ceil(least / 0.05) * 0.05
    away = brute_force(is_open, start) * cell
    away_in_less = brute_force(less, start) * cell if less[start] else np.full(shape, np.inf)
    for _ in range(6):
        end = tuple(random.integers(0, shape))
        run = runs.between(
            *(place((at[1] + 0.5) * cell, (at[0] + 0.5) * cell) for at in (start, end)), START
        )
        connected = is_open[end] and parts[start] == parts[end]
        assert (run.caution == "") == connected
        if connected:
            # Blocks can make the longer of two ways round look shorter: by 3.8 % at worst in
            # some 2,500 random ways.  Pulled straight, a way is up to 8 % shorter than over eight
            # neighbours.
            most = away_in_less[end] if np.isfinite(away_in_less[end]) else away[end]
            straight = np.hypot(end[0] - start[0], end[1] - start[1]) * cell
            assert straight * 0.9999 <= run.distance_m / PLANE <= 1.06 * most + 1e-3


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


def test_runs_over_a_surveyed_bottom_stay_within_it(registry_file):
    """Survey F00788 of NOAA's Office of Coast Survey (CC0): voids within and around."""
    grid = open_grid(registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif")).compute()
    depth = grid.values
    runs = Runs.of(SafeWater.of(grid, least_water_m=45.0), running_mps=MPS)
    to_degrees = Transformer.from_crs("EPSG:26910", "EPSG:4326", always_xy=True)
    random, cells = np.random.default_rng(5), np.argwhere(depth > 45)
    safe_runs = 0
    for _ in range(30):
        (r0, c0), (r1, c1) = cells[random.integers(len(cells), size=2)]
        x, y = grid["x"].values[[c0, c1]], grid["y"].values[[r0, r1]]
        here, there = zip(*to_degrees.transform(x, y), strict=True)
        run = runs.between(here, there, START)
        if run.caution:
            continue
        safe_runs += 1
        east, north = to_degrees.transform(run.longitude, run.latitude, direction="INVERSE")
        looks = np.linspace(0, 1, 4000)
        at = np.linspace(0, 1, len(east))
        row = (grid["y"].values[0] - np.interp(looks, at, north)) / 8
        column = (np.interp(looks, at, east) - grid["x"].values[0]) / 8
        under = map_coordinates(np.nan_to_num(depth, nan=-1e6), [row, column], order=1)
        assert under.min() >= 45 - 1e-3
    assert safe_runs >= 10
