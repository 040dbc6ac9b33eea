"""The day's plan on bottoms and waters simple enough to know the answer."""

import numpy as np
import pandas as pd
import pytest
from affine import Affine
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Transformer
from thoroughness import examples

from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day.choice import choose
from layers.planning.day.line import lines_table, passes_table
from layers.planning.drift._candidates import cut_off
from layers.water import FixedCurrent, Leeway
from seabed.errors import SeabedError
from seabed.grid import make_grid
from seabed.grid.places import sample

START = np.datetime64("2031-06-14T08:00", "ns")
END = START + np.timedelta64(2, "h")
STILL_IN_WIND = Leeway(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
BAND = (5.0, 8.0)
CELL = 10.0
GRID_TO_DEGREES = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)


def grid_of(depth):
    west, north = 500_000.0, 5_116_000.0  # UTM zone 25N, open ocean
    return make_grid(
        np.asarray(depth, np.float32),
        transform=Affine(CELL, 0, west, 0, -CELL, north),
        crs="EPSG:32625",
    )


def bank_grid():
    """Deep water with one bank in the band, 200 m by 600 m, long axis east-west."""
    depth = np.full((200, 200), 20.0)
    depth[90:110, 70:130] = 6.5
    return grid_of(depth)


def setting_of(grid, water, *, heights=None, hazards=None, limits=None):
    return Setting(
        SafeWater.of(grid, heights, hazards),
        water,
        BAND,
        limits or DriftLimits(shortest_s=240.0, longest_s=1200.0),
    )


def plan(grid, water, *, end=END, limits=None, **options):
    worth = structure_worth(grid, BAND, [])
    return plan_day(setting_of(grid, water, limits=limits), worth, START, end, **options).lines


def test_the_plan_drifts_the_bank_down_current_from_its_up_current_side():
    lines = plan(bank_grid(), DayWater(FixedCurrent(0.4, 90.0), STILL_IN_WIND))
    assert len(lines) == 3  # two hours in slots of 45 minutes, the last one cut by the end
    assert lines.slot_end.max() <= pd.Timestamp(END, tz="UTC")
    first = lines.iloc[0]
    assert first.bearing_deg == pytest.approx(90.0, abs=1.0)
    assert first.sog_mps == pytest.approx(0.4, rel=1e-3)
    assert first.share_in_band > 0.9
    # 1,200 s at 0.4 m/s is 480 m: it fits the 600 m bank, and no more drift is to be had
    assert first.distance_m == pytest.approx(480.0, rel=1e-3)


@pytest.mark.parametrize(
    ("minutes", "slots"),
    [(3.9, []), (4, [4]), (44, [44]), (45, [45]), (48, [45]), (50, [45, 5]), (135, [45] * 3)],
)
def test_nothing_is_planned_past_the_end(minutes, slots):
    """Slots of 45 minutes, drifts of 4 to 30: what is left of the last counts if it holds one."""
    end = START + np.timedelta64(int(minutes * 60), "s")
    setting = setting_of(
        bank_grid(),
        DayWater(FixedCurrent(0.2, 90.0), STILL_IN_WIND),
        limits=DriftLimits(shortest_s=240.0),
    )
    made = plan_day(setting, structure_worth(setting.safe.grid, BAND, []), START, end)
    # each slot has a line, if only one pass: none of them waits for the end
    assert len(made.lines) == len(slots)
    ends = START + np.cumsum([0, *slots]) * np.timedelta64(60, "s")
    for line, begin, over in zip(made.lines.itertuples(), ends, ends[1:], strict=False):
        assert abs(line.slot_start - pd.Timestamp(begin, tz="UTC")) <= pd.Timedelta(minutes=22.5)
        assert line.slot_end <= pd.Timestamp(over, tz="UTC") + pd.Timedelta(
            seconds=line.drift_s / 2
        )
    if slots:
        assert made.lines.slot_start.iloc[0] == pd.Timestamp(START, tz="UTC")
        assert made.passes.end.max() <= pd.Timestamp(end, tz="UTC")
        assert made.lines["passes"].sum() == len(made.passes)


def test_the_plan_turns_with_the_water():
    east = plan(bank_grid(), DayWater(FixedCurrent(0.4, 90.0), STILL_IN_WIND)).iloc[0]
    west = plan(bank_grid(), DayWater(FixedCurrent(0.4, 270.0), STILL_IN_WIND)).iloc[0]
    assert west.bearing_deg == pytest.approx(270.0, abs=1.0)
    assert east.geometry.coords[0][0] < west.geometry.coords[0][0]


def test_later_slots_go_beside_earlier_ones():
    lines = plan(bank_grid(), DayWater(FixedCurrent(0.4, 90.0), STILL_IN_WIND), corridor_m=30.0)
    starts = lines.geometry.apply(lambda line: line.coords[0][1])
    assert starts.nunique() == len(lines)


def test_a_band_that_is_not_there_is_one_clear_message():
    with pytest.raises(SeabedError, match="no bottom in the depth band"):
        plan(grid_of(np.full((50, 50), 20.0)), DayWater(FixedCurrent(0.4, 0.0), STILL_IN_WIND))


def test_no_current_and_no_wind_give_no_line_that_moves():
    lines = plan(bank_grid(), DayWater(FixedCurrent(0.0, 0.0), STILL_IN_WIND))
    assert (lines.distance_m < 1e-6).all()


@settings(max_examples=examples(25), deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    seed=st.integers(0, 10_000),
    toward=st.floats(0, 360),
    speed=st.floats(0.05, 1.2),
    land=st.floats(0.0, 0.3),
)
def test_nothing_is_ever_planned_through_land_or_shoal(seed, toward, speed, land):
    random = np.random.default_rng(seed)
    blocks = random.uniform(0.5, 12.0, (10, 10))
    blocks[random.uniform(size=(10, 10)) < land] = np.nan
    grid = grid_of(np.kron(blocks, np.ones((8, 8))))
    water = DayWater(FixedCurrent(speed, toward), STILL_IN_WIND)
    try:
        lines = plan(grid, water, limits=DriftLimits(shortest_s=240.0, longest_s=900.0))
    except SeabedError:
        return
    for line in lines.geometry:
        longitude, latitude = np.array(line.coords).T
        assert (sample(grid, longitude, latitude) >= 1.5).all()


def drifts_over(grid, worth, longitude, latitude):
    water = DayWater(FixedCurrent(0.4, 90.0), STILL_IN_WIND)
    setting = Setting(SafeWater.of(grid), water, BAND)
    tracks = setting.drifts(longitude, latitude, np.full(len(longitude), START), 1800.0)
    return cut_off(worth, tracks, setting.limits)


@pytest.mark.parametrize("west", [179.99, -180.01])
def test_a_plan_on_the_180th_meridian_is_the_plan_anywhere_else(west):
    """A start may be named either way; the worth under it is the same."""
    grid = make_grid(
        np.full((40, 100), 6.5, np.float32),
        transform=Affine(2e-4, 0, west, 0, -2e-4, 0.004), crs="EPSG:4326",
    )  # fmt: skip
    worth = structure_worth(grid, BAND, [])
    found = drifts_over(grid, worth, np.array([179.995, -179.995, 180.005]), np.zeros(3))
    assert (found.worth_per_hour > 0).all()
    assert found.worth_per_hour[1] == pytest.approx(found.worth_per_hour[2])


def test_ground_that_is_used_up_is_not_chosen_again():
    grid = bank_grid()
    worth = structure_worth(grid, BAND, [])
    centre = GRID_TO_DEGREES.transform(500_800.0, 5_115_000.0)  # on the bank
    one = drifts_over(grid, worth, np.array([centre[0]]), np.array([centre[1]]))
    assert one.worth_per_hour[0] > 0
    assert choose([one, one], [worth, worth], corridor_m=20.0, left=0.0) == [0, None]
    assert choose([one, one], [worth, worth], corridor_m=20.0, left=0.5) == [0, 0]


def test_a_plan_that_ends_before_it_starts_is_refused():
    with pytest.raises(SeabedError, match="ends before it starts"):
        plan(bank_grid(), DayWater(FixedCurrent(1, 0), STILL_IN_WIND), end=START)


def test_no_lines_give_a_table_with_the_types_of_lines():
    assert lines_table([]).dtypes["slot_start"] == "datetime64[ns, UTC]"
    assert lines_table([]).dtypes["fan_stopped"] == "int64"
    assert passes_table([]).dtypes["depth_min_m"] == "float64"
