"""No pass and no run of a plan, home or out, is in hours beyond the boat's limits.

Winds by hour drawn at random over a bank of our own; what is beyond is judged from the wind itself,
minute by minute, and from another library's sun.
"""

from __future__ import annotations

import ephem
import numpy as np
import pandas as pd
from affine import Affine
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from thoroughness import examples

from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day.slots import slots_of_day
from layers.planning.day.timetable import timetable
from layers.water import BoatLimits, FixedCurrent, Leeway
from layers.water.day.limits import open_spans
from layers.water.wind.wind_words import wind_by_hour
from seabed.grid import make_grid

KNOT = 1852 / 3600
DAY = np.datetime64("2031-06-14T00:00", "ns")
BAND = (5.0, 8.0)
PLACE = (-33.0, 46.19)
HOME = (-33.0080, 46.1900)  # some 500 m west of the bank
RUNNING_MPS = 2.0  # slow, so that the ways out and home take four minutes to ten
LIMITS = BoatLimits()
STILL = Leeway(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def bank():
    depth = np.full((160, 200), 20.0, np.float32)
    depth[60:100, 60:150] = 6.5
    return make_grid(
        depth, transform=Affine(10, 0, 499_200.0, 0, -10, 5_116_000.0), crs="EPSG:32625"
    )


GRID = bank()


def clock(hours: float) -> np.datetime64:
    return DAY + np.timedelta64(round(hours * 60), "m")


def planned(wind, first: float, last: float):
    start, end = clock(first), clock(last)
    water = DayWater(FixedCurrent(0.4, 90.0), STILL, wind)
    setting = Setting(
        SafeWater.of(GRID), water, BAND, DriftLimits(longest_s=900.0, running_mps=RUNNING_MPS)
    )
    hours = open_spans(
        start, end, limits=LIMITS, wind=wind, currents=water.currents, longitude=PLACE[0],
        latitude=PLACE[1],
    )  # fmt: skip
    worth = structure_worth(GRID, BAND, [])
    slots = slots_of_day(setting, worth, start, end, hours=hours, spacing_m=150.0)
    plan = plan_day(setting, worth, start, end, slots=slots, home=HOME)
    return plan, timetable(plan, setting, hours), hours


@settings(max_examples=examples(12), deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.lists(st.integers(4, 34), min_size=3, max_size=5),
    st.lists(st.integers(0, 14), min_size=5, max_size=5),
)
@example([4, 22, 19, 29], [0] * 5)  # the second open hours are too short for a pass
def test_every_leg_keeps_to_winds_within_the_limits(winds, extras):
    words = [
        f"{8 + number}:{15 * (number % 4):02d} S {knots} gusting {knots + more} kn"
        for number, (knots, more) in enumerate(zip(winds, extras, strict=False))
    ]
    wind = wind_by_hour(words, DAY)
    plan, table, hours = planned(wind, 8.0, 8.0 + len(winds))
    assume(hours.spans)
    legs = [*plan.passes.itertuples(), *plan.runs.itertuples()]
    for leg in legs:
        minutes = pd.date_range(leg.start, leg.end, freq="30s")
        speed, _ = wind.at(minutes)
        assert speed.max() <= LIMITS.wind_mps + 1e-9, leg
        assert wind.gusts(minutes).max() <= LIMITS.gust_mps + 1e-9, leg
    if legs:
        homes = plan.runs[plan.runs["plan_id"] == ""]
        used = [
            any(
                a <= np.datetime64(one.start.tz_localize(None)) < b
                for one in plan.passes.itertuples()
            )
            for a, b in hours.spans
        ]
        assert len(homes) == sum(used)  # home between hours that are open, and at the end
        order = table[table["what"].isin(["drift", "run"])].sort_values("start")
        assert (order["start"].to_numpy()[1:] >= order["end"].to_numpy()[:-1]).all()
    for line in plan.lines.itertuples():
        ends = line.latest_start + pd.Timedelta(seconds=line.drift_s)
        speed, _ = wind.at(pd.date_range(line.latest_start, ends, freq="30s"))
        assert speed.max() <= LIMITS.wind_mps + 1e-9


def test_the_boat_leaves_after_dawn_and_is_home_before_dusk():
    """PyEphem (VSOP87): the sun's centre 6 degrees below the horizon, within a quarter minute."""
    sun, there = ephem.Sun(), ephem.Observer()
    there.lon, there.lat, there.pressure, there.horizon = str(PLACE[0]), str(PLACE[1]), 0, "-6"
    there.date = pd.Timestamp(clock(3)).to_pydatetime()
    dawn = pd.Timestamp(there.next_rising(sun, use_center=True).datetime(), tz="UTC")
    dusk = pd.Timestamp(there.next_setting(sun, use_center=True).datetime(), tz="UTC")
    near = pd.Timedelta(seconds=15)
    plan, _, _ = planned(wind_by_hour(["0:00 S 5 kn"], DAY), 4.5, 7.0)
    assert plan.runs["start"].min() >= dawn - near
    assert plan.runs["start"].min() <= dawn + pd.Timedelta(minutes=4)  # and not much later
    plan, _, _ = planned(wind_by_hour(["0:00 S 5 kn"], DAY), 21.0, 23.9)
    assert plan.runs["end"].max() <= dusk + near
    assert plan.passes["end"].max() >= dusk - pd.Timedelta(minutes=30)
