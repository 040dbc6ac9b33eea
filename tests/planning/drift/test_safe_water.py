"""Where a drift may go, against geometry worked out by hand and by shapely."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from run_worlds import NORTH, START, TO_DEGREES, WEST, grid_of, hazards_of
from shapely.geometry import LineString, Point, box
from thoroughness import examples

from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day.beside import Beside
from layers.planning.drift.safe_water import Ended, closed_depth
from layers.water import FixedCurrent, FixedWind, HighLowTable, Leeway
from layers.water.times import as_utc
from seabed.errors import SeabedError
from seabed.grid.places import sample

BAND = (4.0, 9.0)


def ways(*metres):
    """Legs (4, n) in degrees from (x0, y0, x1, y1), metres right of and below the corner."""
    x0, y0, x1, y1 = np.array(metres, float).T
    start, end = (
        TO_DEGREES.transform(WEST + x0, NORTH - y0),
        TO_DEGREES.transform(WEST + x1, NORTH - y1),
    )
    return np.array([*start, *end])


def stopped(safe, *metres):
    return [Ended(int(why)) for why in safe.stops(START, START, ways(*metres))]


def test_one_cell_of_rock_between_two_points_stops_the_way_through_it():
    depth = np.full((40, 40), 8.0)
    depth[20, 20] = 0.5  # x 200 to 210, y 200 to 210
    safe = SafeWater.of(grid_of(depth), least_water_m=1.5)
    assert stopped(safe, (100, 205, 300, 205), (100, 250, 300, 250)) == [Ended.SHOAL, Ended.TIME]


def test_land_and_the_grids_edge_stop():
    depth = np.full((40, 40), 8.0)
    depth[:, 30:] = np.nan
    safe = SafeWater.of(grid_of(depth))
    assert stopped(safe, (100, 100, 305, 100), (100, 100, -5, 100), (50, 50, 250, 90)) == [
        Ended.SHOAL, Ended.SHOAL, Ended.TIME,
    ]  # fmt: skip


def test_a_hazard_of_unknown_depth_is_kept_clear_of_by_the_clearance():
    hazards = hazards_of(("wreck", np.nan, Point(200, 200)))
    safe = SafeWater.of(grid_of(np.full((40, 40), 8.0)), None, hazards, clearance_m=30.0)
    # passing 28 m off it, 50 m off it (30 m, half a cell, and the cells that circle touches)
    assert stopped(safe, (100, 228, 300, 228), (100, 250, 300, 250)) == [
        Ended.HAZARD, Ended.TIME,
    ]  # fmt: skip


def tide(first_m, last_m):
    """From low to high water in six hours, from START on."""
    times = as_utc(pd.to_datetime(["2031-06-14T08:00", "2031-06-14T14:00"]))
    return HighLowTable(
        times, np.array([first_m, last_m]), np.array([first_m > last_m] * 2) ^ [0, 1]
    )


def test_charted_danger_depth_counts_with_the_tide_of_the_hour():
    hazards = hazards_of(("rock", 0.5, Point(200, 200)))
    safe = SafeWater.of(grid_of(np.full((40, 40), 8.0)), tide(0.0, 3.0), hazards, least_water_m=1.5)
    over = ways((100, 200, 300, 200))
    assert safe.stops(START, START, over)[0] == Ended.HAZARD
    # 3 m of tide put 3.5 m over it; halfway up the half-cosine is at 1.5 m, 2 m over it
    high = START + np.timedelta64(6, "h")
    assert safe.stops(high, high, over)[0] == Ended.TIME
    half = START + np.timedelta64(3, "h")
    assert safe.stops(half, half, over)[0] == Ended.TIME
    third = START + np.timedelta64(2, "h")  # cosine of 60 degrees: a quarter of the rise, 0.75 m
    assert safe.stops(third, third, over)[0] == Ended.HAZARD


@pytest.mark.parametrize(
    ("kind", "depth_m", "water_level", "restriction", "closed"),
    [
        ("submarine cable", np.nan, "", "", -np.inf),
        ("fairway", np.nan, "", "", -np.inf),
        ("wreck", 6.0, "always under water", "", 6.0),
        ("rock", np.nan, "awash", "", -np.inf),
        ("rock", -1.2, "covers and uncovers", "", -1.2),
        ("rock", -2.0, "always dry", "", -np.inf),
        ("restricted area", np.nan, "", "anchoring prohibited", np.inf),
        ("restricted area", np.nan, "", "entry prohibited, anchoring prohibited", -np.inf),
        ("sand waves", np.nan, "", "", np.inf),
    ],
)
def test_what_each_hazard_closes(kind, depth_m, water_level, restriction, closed):
    hazards = hazards_of((kind, depth_m, Point(0, 0))).assign(
        water_level=water_level, restriction=restriction
    )
    assert closed_depth(hazards)[0] == closed


def test_a_tide_that_is_not_known_stops():
    safe = SafeWater.of(grid_of(np.full((40, 40), 8.0)), tide(0.0, 3.0))
    late = START + np.timedelta64(9, "h")
    assert safe.stops(late, late, ways((100, 200, 300, 200)))[0] == Ended.SHOAL


def dense(line, every_m=2.0):
    """Points along a line in degrees, every two metres or closer, with their share of its way."""
    flat = gpd.GeoSeries([line], crs="EPSG:4326").to_crs("EPSG:32625").iloc[0]
    share = np.linspace(0, 1, 2 + int(flat.length / every_m))
    points = shapely.line_interpolate_point(flat, share, normalized=True)
    return points, TO_DEGREES.transform(shapely.get_x(points), shapely.get_y(points))


@settings(max_examples=examples(14), deadline=None, suppress_health_check=list(HealthCheck))
@given(
    seed=st.integers(0, 100_000),
    toward=st.floats(0, 360),
    speed=st.floats(0.05, 1.2),
    wind=st.floats(0.0, 8.0),
    land=st.floats(0.0, 0.25),
    low=st.floats(-0.8, 1.0),
    rise=st.floats(-2.5, 2.5).filter(lambda rise: abs(rise) > 0.1),
    least=st.floats(0.5, 3.0),
    clearance=st.floats(5.0, 60.0),
    held=st.booleans(),
)
def test_nothing_is_planned_or_fanned_through_land_hazard_or_shoal(
    seed, toward, speed, wind, land, low, rise, least, clearance, held
):
    """Random bottoms, tides and hazards; each line looked at every two metres, the fan's each step.

    What is safe is asked of the depths and of shapely, not of `SafeWater`.
    """
    random = np.random.default_rng(seed)
    blocks = random.uniform(0.2, 12.0, (9, 9))
    blocks[random.uniform(size=(9, 9)) < land] = np.nan
    grid = grid_of(np.kron(blocks, np.ones((6, 6))))
    heights = tide(low, low + rise)
    places = random.uniform(0, 540, (5, 2))
    hazards = hazards_of(
        ("wreck", np.nan, Point(places[0])),
        ("rock", float(random.uniform(-2, 3)), Point(places[1])),
        ("submarine cable", np.nan, LineString(places[1:3])),
        ("restricted area", np.nan, box(*places[3], *(places[3] + 60))),
        ("fairway", np.nan, box(*places[4], *(places[4] + 80))),
    )
    safe = SafeWater.of(grid, heights, hazards, least_water_m=least, clearance_m=clearance)
    water = DayWater(
        FixedCurrent(speed, toward), Leeway(0.03, 0, 0.02, 0, 0, 0.02), FixedWind(wind, 200.0),
        held_mps=(0.2, 0.5) if held else None,
    )  # fmt: skip
    setting = Setting(safe, water, BAND, DriftLimits(shortest_s=240.0, longest_s=900.0))
    end = START + np.timedelta64(45 + 15, "m")
    try:
        worth = structure_worth(grid, BAND, [])
        plan = plan_day(setting, worth, START, end, beside=Beside("P1", 25.0)).passes
    except SeabedError:
        return  # no bottom in the band, or no line
    closed = hazards.to_crs("EPSG:32625").geometry
    depth_m = np.array([np.nan, hazards["depth_m"][1], np.nan, np.inf, np.nan])
    for line in plan.itertuples():
        begin = as_utc(line.start).reshape(1)[0]
        points, (longitude, latitude) = dense(line.geometry)
        share = np.linspace(0, 1, len(points))
        times = begin + (share * line.drift_s * 1e9).astype("timedelta64[ns]")
        check(grid, heights, closed, depth_m, points, (longitude, latitude), times,
              least=least, clearance=clearance)  # fmt: skip
        boats = setting.fan(*line.geometry.coords[0][:2], begin, line.drift_s)
        known = np.isfinite(boats.longitude)
        x, y = boats.longitude[known], boats.latitude[known]
        flat = gpd.GeoSeries.from_xy(x, y, crs="EPSG:4326").to_crs("EPSG:32625").to_numpy()
        moments = np.broadcast_to(boats.times, known.shape)[known]
        check(grid, heights, closed, depth_m, flat, (x, y), moments,
              least=least, clearance=clearance)  # fmt: skip


def check(grid, heights, closed, depth_m, points, degrees, times, *, least, clearance):
    height = heights.height_m(times)
    # a line's seconds are spread evenly over its way here: the tide of up to a step's difference
    assert (sample(grid, *degrees) + height >= least - 0.02).all()
    for hazard, depth in zip(closed, depth_m, strict=True):
        if np.isinf(depth):
            continue
        near = shapely.distance(points, hazard) < clearance - 0.01
        covered = depth + height[near] >= least - 0.02 if np.isfinite(depth) else False
        assert np.all(covered) or not near.any()
