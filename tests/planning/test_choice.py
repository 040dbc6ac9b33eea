"""Which drifts are chosen: ground used up by others, and lines from which boats go astray."""

import numpy as np
import pytest
from affine import Affine
from pyproj import Transformer

from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day.choice import choose, refused_by_fan
from layers.planning.day.slots import slots_of_day
from layers.planning.drift._candidates import cut_off
from layers.water import FixedCurrent, Leeway
from seabed.grid import make_grid

START = np.datetime64("2031-06-14T08:00", "ns")
END = START + np.timedelta64(45, "m")
STILL_IN_WIND = Leeway(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
BAND = (5.0, 8.0)
CELL = 10.0
WEST, NORTH = 500_000.0, 5_116_000.0
DEGREES = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
EAST_GOING = DayWater(FixedCurrent(0.4, 90.0), STILL_IN_WIND)


def grid_of(depth):
    return make_grid(
        np.asarray(depth, np.float32),
        transform=Affine(CELL, 0, WEST, 0, -CELL, NORTH), crs="EPSG:32625",
    )  # fmt: skip


@pytest.fixture(scope="module")
def lanes():
    """Give ten drifts east over even ground, 10 m apart, the northern worth a little more."""
    grid = grid_of(np.full((40, 120), 6.5))
    worth = structure_worth(grid, BAND, [])
    worth = worth.copy(data=worth.values * np.linspace(1.0, 0.9, 40, dtype=np.float32)[:, None])
    south = np.arange(10) * 10.0
    longitude, latitude = DEGREES.transform(np.full(10, WEST + 205.0), NORTH - 105.0 - south)
    setting = Setting(SafeWater.of(grid), EAST_GOING, BAND, DriftLimits(longest_s=600.0))
    tracks = setting.drifts(
        np.asarray(longitude), np.asarray(latitude), np.full(10, START), 600.0, depths=False
    )
    candidates = cut_off(worth, tracks, setting.limits)
    assert (candidates.worth_per_hour > 0).all()
    return candidates, worth


@pytest.mark.parametrize(("corridor_m", "second"), [(10.0, 2), (40.0, 5), (70.0, 8)])
def test_a_line_uses_up_the_ground_within_its_corridor(lanes, corridor_m, second):
    """The next line is the first farther off than half the corridor's width."""
    candidates, worth = lanes
    chosen = choose([candidates] * 2, [worth] * 2, corridor_m=corridor_m, left=0.0)
    assert chosen == [0, second]


def test_no_ground_is_left_within_a_wide_corridor(lanes):
    candidates, worth = lanes
    assert choose([candidates] * 2, [worth] * 2, corridor_m=100.0, left=0.0) == [0, None]


def test_the_next_best_comes_for_one_that_is_refused(lanes):
    candidates, worth = lanes
    times_asked = np.zeros(10, int)

    def refuses(slot, rows):
        assert slot == 0
        times_asked[rows] += 1
        return rows < 3

    assert choose([candidates], [worth], corridor_m=40.0, refuses=refuses) == [3]
    # one, then two, then four more: no candidate is asked about twice
    assert times_asked.tolist() == [1] * 7 + [0] * 3


def test_a_slot_whose_drifts_are_all_refused_has_none(lanes):
    candidates, worth = lanes
    chosen = choose(
        [candidates] * 2, [worth] * 2, corridor_m=10.0, left=0.5,
        refuses=lambda slot, rows: np.full(len(rows), slot == 0),
    )  # fmt: skip
    assert chosen == [None, 0]


@pytest.fixture(scope="module")
def beside_a_shoal():
    """Give deep water with a long bank by a drying shoal, and a shorter one with sea room.

    10 degrees of doubt are 80 m to either side of a drift of 480 m: from the long bank, 60 m wide,
    one boat in four or more comes to the shoal.
    """
    depth = np.full((200, 200), 20.0)
    depth[144:150, 40:160] = 6.5
    depth[150:] = 0.5
    depth[40:60, 70:115] = 6.5
    safe = SafeWater.of(grid_of(depth))
    return Setting(safe, EAST_GOING, BAND, DriftLimits(longest_s=1200.0))


def test_a_line_from_which_boats_meet_a_shoal_is_not_chosen(beside_a_shoal):
    setting = beside_a_shoal
    worth = structure_worth(setting.safe.grid, BAND, [])
    slots = slots_of_day(setting, worth, START, END)
    tried = [slot.candidates for slot in slots], [slot.worth for slot in slots]
    (carefree,) = choose(*tried, corridor_m=40.0)
    (careful,) = choose(*tried, corridor_m=40.0, refuses=refused_by_fan(slots, setting))
    starts = slots[0].candidates.tracks.latitude[[carefree, careful], 0]
    y = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True).transform(
        [slots[0].candidates.tracks.longitude[0, 0]] * 2, starts
    )[1]
    assert NORTH - y[0] > 1400.0  # the long bank
    assert NORTH - y[1] < 700.0


def test_a_plan_tells_how_many_of_its_boats_are_stopped(beside_a_shoal):
    worth = structure_worth(beside_a_shoal.safe.grid, BAND, [])
    plan = plan_day(beside_a_shoal, worth, START, END)
    assert plan.lines.geometry.iloc[0].coords[0][1] > 46.19  # the bank with sea room
    for table in (plan.lines, plan.passes):
        assert (table["fan_boats"] == 256).all()
        assert (table["fan_stopped"] == 0).all()
