"""Every pass of a plan followed by another integrator, which shares no code with the planner."""

import numpy as np
import pandas as pd
import pytest
from affine import Affine
from followed import Heights, Streams, World, check_plan

from layers.planning import (
    DayWater,
    DriftLimits,
    SafeWater,
    Setting,
    legs_of,
    plan_day,
    structure_worth,
    timetable,
)
from layers.water import CurrentTable, FixedWind, HighLowTable, Leeway, OpenHours
from seabed.grid import make_grid

EPOCH = np.datetime64("2031-06-14T00:00", "ns")
LEEWAY = Leeway(0.0287, 0.0398, 0.0333, 0.0032, -0.0293, 0.0253)  # skiff, V-hull
LEAST_M = 1.5


def at(hour):
    return EPOCH + np.timedelta64(round(hour * 3600), "s")


def blown(wind_mps, from_deg):
    """Leeway straight downwind, from the published slope and offset."""
    toward = np.radians(from_deg + 180.0)
    speed = 0.0287 * wind_mps + (0.0398 if wind_mps else 0.0)
    return speed * np.sin(toward), speed * np.cos(toward)


def grid_of(depth):
    return make_grid(
        np.asarray(depth, np.float32), transform=Affine(10.0, 0, 500_000.0, 0, -10.0, 5_116_000.0),
        crs="EPSG:32625",
    )  # fmt: skip


def table_of(streams):
    times = np.array([at(hour) for hour in streams.hours])
    along = np.array(streams.along)
    return CurrentTable(
        times, along, along == 0, streams.flood_toward_deg, (streams.flood_toward_deg + 180) % 360
    )


def tide_of(heights):
    high = np.array(heights.metres) > np.mean(heights.metres)
    return HighLowTable(
        np.array([at(hour) for hour in heights.hours]), np.array(heights.metres), high
    )


def planned(world, currents, hours, band_m, *, wind=None, shortest_s=240.0):
    water = DayWater(currents, LEEWAY, wind, held_mps=world.held_mps, motor_limit_mps=2.0)
    safe = SafeWater.of(world.grid, tide_of(world.heights), least_water_m=LEAST_M)
    limits = DriftLimits(shortest_s=shortest_s, longest_s=900.0)
    setting = Setting(safe, water, band_m, limits)
    worth = structure_worth(world.grid, band_m, [])
    plan = plan_day(setting, worth, *hours, spacing_m=80.0, home=(-32.995, 46.185))
    return plan, legs_of(timetable(plan, setting, OpenHours.whole(*hours)))


FREE_AND_HELD = pytest.mark.parametrize("held", [None, (0.25, 0.5)], ids=["free", "held"])


@FREE_AND_HELD
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


@FREE_AND_HELD
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
