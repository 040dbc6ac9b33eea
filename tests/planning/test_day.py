"""The day's plan on bottoms and waters simple enough to know the answer."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import xarray as xr
from affine import Affine
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Geod, Transformer
from scipy.integrate import cumulative_trapezoid
from shapely.geometry import LineString
from thoroughness import examples

from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day._laying import _Day, lay_day
from layers.planning.day.choice import _gains, choose, use_up
from layers.planning.day.line import PASSES, PLAN
from layers.planning.day.reasons import Landmarks, why_words
from layers.planning.day.slots import slots_of_day, to_be_covered
from layers.planning.drift._candidates import Candidates, cut_off, worth_rates
from layers.planning.drift._drift import DriftTracks
from layers.planning.runs._runs import Runs
from layers.water import FixedCurrent, HighLowTable, Leeway
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


@pytest.fixture(scope="module")
def day():
    """Setting, worth, slots of 45, 45 and 30 minutes, and ways over the bank."""
    setting = setting_of(bank_grid(), DayWater(FixedCurrent(0.4, 90.0), STILL_IN_WIND))
    worth = structure_worth(setting.safe.grid, BAND, [])
    slots = slots_of_day(setting, worth, START, END, spacing_m=100.0)
    return setting, worth, slots, Runs.of(setting.safe, running_mps=10.0)


def best_of(slot):
    return int(np.argmax(slot.candidates.worth_per_hour))


def test_where_no_pass_can_be_made_another_is_looked_for_every_ten_minutes(day):
    """In the first half of 45 minutes, so that the next slot's line may begin early."""
    setting, _, slots, runs = day
    looked = []

    def choose_in(rest):
        looked.append((rest.begin - START) / np.timedelta64(1, "m"))
        return best_of(rest) if len(looked) < 5 else None

    laid = lay_day(
        slots[:1], [best_of(slots[0])], setting, runs, choose_in=choose_in, refuses=lambda one: True
    )
    assert laid.lines == []
    assert looked == [10.0, 20.0]


@pytest.mark.parametrize(("later_s", "waits_s"), [(-3600, 0), (0, 0), (1, 61), (90, 150)])
def test_the_first_pass_waits_till_the_boat_may_go_out(day, later_s, waits_s):
    """Later than it would leave for a pass at the slot's begin: it waits a minute more."""
    setting, _, slots, runs = day
    home = GRID_TO_DEGREES.transform(500_200.0, 5_115_700.0)

    def first(out_from):
        slot = replace(slots[0], out_from=out_from)
        return lay_day([slot], [best_of(slot)], setting, runs, home=home).lines[0].passes[0]

    leaves = first(START - np.timedelta64(1, "D"))[0].times[0]
    run, one = first(leaves + np.timedelta64(later_s, "s"))
    assert one.begin == START + np.timedelta64(waits_s, "s")
    assert run.times[0] == leaves + np.timedelta64(waits_s, "s")


def test_a_boat_is_home_when_its_run_is_over(day):
    setting, _, _, runs = day
    home, here = ((-33.0 + east, 46.19) for east in (0.005, 0.01))
    boat = _Day(setting, runs, best_of, None, home, here, lambda one: False, free=START)
    boat.go_home()
    lasts_s = (boat.free - START) / np.timedelta64(1, "s")
    assert boat.here == home
    assert boat.homes[0].seconds <= lasts_s < boat.homes[0].seconds + 1.0
    assert boat.homes[0].seconds % 1.0 > 0.01


def test_a_time_at_which_nothing_is_worth_anything_has_no_slot(day):
    setting, worth, *_ = day
    later = START + np.timedelta64(45, "m")
    slots = slots_of_day(
        setting, lambda time: worth * float(time > later), START, END, spacing_m=200.0
    )
    assert [slot.begin for slot in slots] == [later, later + np.timedelta64(45, "m")]


def test_slots_to_be_covered_are_one_where_they_follow_on(day):
    first, second, third = day[2]
    assert [slot.lasts_s for slot in to_be_covered(day[2], [True] * 3)] == [7200.0]
    some = to_be_covered(day[2], [False, True, True])
    assert [(slot.begin, slot.lasts_s) for slot in some] == [
        (first.begin, 2700.0), (second.begin, 4500.0),
    ]  # fmt: skip
    assert [slot.to_cover for slot in some] == [False, True]
    assert len(to_be_covered([first, third], [True] * 2)) == 2
    other = replace(second, home_by=second.home_by + np.timedelta64(1, "h"))
    assert len(to_be_covered([first, other], [True] * 2)) == 2


@pytest.mark.parametrize(("near", "verb"), [(24, "Runs along"), (8, "Passes")])
def test_a_line_runs_along_what_is_near_for_more_than_half_of_it(near, verb):
    """A line of 150 m is looked at in 32 places."""
    words = why_words({"edge R1": 5.0 * np.arange(near)}, 150.0, 120.0, 360.0)
    assert words == (
        f"{verb} edge R1 for {100 * near / 32:.0f}% of its way; 2 of 6 min in the band"
    )


def test_structure_is_named_by_its_rank_or_else_by_its_number():
    lines = [LineString([(0.0, 0.0), (1.0, 1.0)])] * 2
    edges = gpd.GeoDataFrame(
        {"edge_id": [7, 8], "rank": [3.0, np.nan]}, geometry=lines, crs="EPSG:4326"
    )
    humps = gpd.GeoDataFrame(
        {"feature_id": [4, 5], "kind": ["hump", "hole"]}, geometry=lines, crs="EPSG:4326"
    )
    names = Landmarks([edges, humps], edges.crs).names
    assert names == ["edge R3", "edge ED8", "hump H4", "hole D5"]


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


def test_worth_is_gathered_over_time_and_spent_on_running_back():
    """Uneven steps over known and unknown cells, across the 180th meridian, by other tools."""
    seconds = np.array([0.0, 30.0, 90.0, 100.0, 400.0])
    longitude = np.array([179.99, 179.995, 180.0, -179.998, -179.99])[None]
    latitude = np.array([60.0, 60.002, 60.003, 60.003, 60.01])[None]
    cells = np.array([[0, 1, -1, 2, 3]])
    worth = xr.DataArray(np.array([[2.0, 4.0], [np.nan, 6.0]]))
    times = START + (seconds * 1e9).astype("timedelta64[ns]")
    tracks = DriftTracks(times, longitude, latitude, np.zeros((1, 5)), np.zeros(1, np.int8), cells)
    limits = DriftLimits(set_up_s=60.0, lines_up_s=20.0, running_mps=5.0)
    under = np.array([2.0, 4.0, 0.0, 0.0, 6.0])
    back_m = Geod(ellps="WGS84").inv(
        np.full(5, 179.99), np.full(5, 60.0), longitude[0], latitude[0]
    )[2]
    spent_s = seconds + 80.0 + back_m / 5.0
    expected = cumulative_trapezoid(under, seconds, initial=0) / spent_s
    assert worth_rates(worth, tracks, limits)[0] == pytest.approx(expected, rel=1e-3)
    used = np.array([0.5, 1.0, 1.0, 0.0])  # what is left of 2 + 4 + 6 is 1 + 4
    one = Candidates(tracks, np.array([4]), np.array([3.0]))
    assert _gains(one, worth, used) == pytest.approx([3.0 * 5.0 / 12.0])


@pytest.mark.parametrize("at", [(0, 0), (3, 4), (7, 11)])
def test_ground_is_used_up_round_each_cell_of_a_drift(at):
    """A corridor of 20 m on cells of 10 m, by a loop over all cells; also at the border."""
    worth = grid_of(np.ones((8, 12)))
    fresh = np.ones(96)
    cells = np.array([at[0] * 12 + at[1], -1, 4 * 12 + 6])
    use_up(fresh, cells, worth, corridor_m=20.0, left=0.3)
    near = [
        any(max(abs(row - y), abs(column - x)) <= 2 for y, x in (at, (4, 6)))
        for row in range(8) for column in range(12)
    ]  # fmt: skip
    assert fresh == pytest.approx(np.where(near, 0.3, 1.0))


class EastAtAllPlaces:
    """A current that is asked place by place."""

    def velocity(self, times, longitude, latitude):
        return np.full(np.shape(longitude), 0.1), np.zeros(np.shape(longitude))


@pytest.mark.parametrize("currents", [FixedCurrent(0.1, 90.0), EastAtAllPlaces()])
def test_each_boat_is_stopped_by_the_water_of_its_own_hour(currents):
    """Rising from 1.0 m by 6 m in six hours: 1.5 m and more from the second hour on."""
    turns = START + np.array([0, 6], "timedelta64[h]")
    rising = HighLowTable(turns, np.array([0.0, 6.0]), np.array([False, True]))
    setting = setting_of(
        grid_of(np.ones((60, 60))), DayWater(currents, STILL_IN_WIND), heights=rising
    )
    place = GRID_TO_DEGREES.transform(500_300.0, 5_115_700.0)
    begins = START + np.array([0, 4, 5], "timedelta64[h]")
    tracks = setting.drifts(*(np.full(3, one) for one in place), begins, 600.0)
    assert np.isfinite(tracks.longitude[:, -1]).tolist() == [False, True, True]


def test_a_plan_that_ends_before_it_starts_is_refused():
    with pytest.raises(SeabedError, match="ends before it starts"):
        plan(bank_grid(), DayWater(FixedCurrent(1, 0), STILL_IN_WIND), end=START)


def test_no_lines_give_a_table_with_the_types_of_lines():
    assert PLAN.frame([]).dtypes["slot_start"] == "datetime64[ns, UTC]"
    assert PLAN.frame([]).dtypes["fan_stopped"] == "int64"
    assert PASSES.frame([]).dtypes["depth_min_m"] == "float64"
