"""Runs over safe water in random worlds and over a survey, against brute force."""

from __future__ import annotations

from heapq import heappop, heappush

import numpy as np
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Transformer
from run_worlds import (
    MPS,
    NORTH,
    PLANE,
    START,
    WEST,
    charted,
    check_times,
    hazards_of,
    height,
    looked_at,
    metres,
    place,
    random_bottom,
    runs_over,
    tide,
)  # fmt: skip
from scipy.ndimage import label, map_coordinates
from shapely.geometry import LineString, Point, box
from thoroughness import examples

from layers.planning.drift.safe_water import SafeWater
from layers.planning.runs._runs import CROSSES, Runs
from seabed.loaders import open_grid


@settings(max_examples=examples(25), deadline=None)
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


@settings(max_examples=examples(40), deadline=None, suppress_health_check=list(HealthCheck))
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


@settings(max_examples=examples(30), deadline=None, suppress_health_check=list(HealthCheck))
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
