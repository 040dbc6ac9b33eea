"""Every pass of a plan followed by another integrator, which shares no code with the planner."""

import numpy as np
import pandas as pd
import pytest
from thoroughness import THOROUGH

from benchmarks.planning.followed import Heights, Streams, World, check_plan
from benchmarks.planning.passes_truth import EPOCH, LEAST_M, at, blown, grid_of, planned, table_of
from layers.water import FixedWind

HELD = {"free": None, "held": (0.25, 0.5)}
FREE_AND_HELD = pytest.mark.parametrize("held", HELD.values(), ids=HELD)
HELD_ALONE = (
    FREE_AND_HELD if THOROUGH else pytest.mark.parametrize("held", [HELD["held"]], ids=["held"])
)


@HELD_ALONE
def test_a_falling_tide_ends_the_passes_over_a_shoal(held):
    """Half a metre of charted depth on the bank; the tide falls by 2 m from 6:00 to 12:00."""
    depth = np.full((120, 160), 6.0)
    depth[40:80, 40:120] = 0.5
    heights = Heights((6.0, 12.0), (2.0, 0.0))
    streams = Streams(EPOCH, (5.0, 9.0, 13.0), (0.0, 0.45, 0.0), 90.0)
    world = World(EPOCH, streams, heights, blown(4.0, 200.0), held, grid_of(depth))
    hours = at(8.0), at(10.5)
    plan, legs = planned(world, table_of(streams), hours, (0.2, 1.0), wind=FixedWind(4.0, 200.0))
    check_plan(world, plan.lines, legs, hours, LEAST_M, within_m=0.01)
    # 0.5 m and the tide hold 1.5 m of water until half of the fall is over, at nine o'clock
    assert plan.passes["end"].max() <= pd.Timestamp(at(9.0), tz="UTC")
    assert len(plan.passes) >= 2


@HELD_ALONE
def test_a_tide_that_turns_in_the_session(held):
    depth = np.full((120, 160), 9.0)
    depth[40:80, 30:130] = 6.0
    heights = Heights((4.0, 10.0, 16.0), (0.4, 2.4, 0.3))
    streams = Streams(EPOCH, (3.5, 6.5, 9.6, 12.5, 15.5), (0.0, 0.6, 0.0, -0.7, 0.0), 75.0)
    world = World(EPOCH, streams, heights, blown(5.0, 170.0), held, grid_of(depth))
    hours = at(7.5), at(12.0)
    plan, legs = planned(world, table_of(streams), hours, (5.0, 7.0), wind=FixedWind(5.0, 170.0))
    check_plan(world, plan.lines, legs, hours, LEAST_M, within_m=0.01)
    bearings = plan.lines["bearing_deg"]
    flood = np.cos(np.radians(bearings - 75.0)) > 0
    turn = plan.lines["slot_start"].dt.tz_localize(None) >= at(9.6)
    assert flood.any() and (~flood).any()
    if held:
        assert (flood == ~turn).all()


class Shear:
    """A stream toward the north-east that is the stronger the farther north, and dies away."""

    def velocity(self, times, longitude=None, latitude=None):
        hour = (np.asarray(times, "datetime64[ns]") - EPOCH) / np.timedelta64(3600, "s")
        return self(hour, longitude, latitude)

    def __call__(self, hour, longitude, latitude):
        speed = 0.3 + 40.0 * (np.asarray(latitude) - 46.185)  # a tenth more in 280 m
        speed = speed * (1.0 - 0.08 * (np.asarray(hour) - 8.0))
        turn = np.radians(50.0 + 3000.0 * (np.asarray(longitude) + 32.99))
        return speed * np.sin(turn), speed * np.cos(turn)


@FREE_AND_HELD
def test_a_shear(held):
    depth = np.full((120, 160), 9.0)
    depth[30:90, 30:130] = 6.0
    world = World(
        EPOCH, Shear(), Heights((4.0, 10.0, 16.0), (0.4, 2.4, 0.3)), blown(3.0, 300.0), held,
        grid_of(depth),
    )  # fmt: skip
    hours = at(8.0), at(10.0)
    plan, legs = planned(world, Shear(), hours, (5.0, 7.0), wind=FixedWind(3.0, 300.0))
    check_plan(world, plan.lines, legs, hours, LEAST_M, within_m=0.01)
