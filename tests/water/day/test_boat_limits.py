"""Hours within the boat's limits, by hand and by another library's sun."""

from __future__ import annotations

import ephem
import numpy as np
import pandas as pd
import pytest

from layers.planning import DayWater
from layers.water import CRAFT, BoatLimits, FixedCurrent, FixedWind, OpenHours, WindTable
from layers.water.day.limits import LimitedCurrents, open_spans
from layers.water.wind.wind_words import wind_by_hour

KNOT = 1852 / 3600
START = np.datetime64("2031-06-14T08:00", "ns")
END = START + np.timedelta64(4, "h")
PLACE = (-33.4, 46.2)
WHOLE = ((START, END),)


def spans(*, wind=None, currents=None, start=START, end=END, place=PLACE, **limits):
    return open_spans(
        start, end, limits=BoatLimits(**limits), wind=wind, currents=currents,
        longitude=place[0], latitude=place[1],
    )  # fmt: skip


def clock(hours, of=START):
    return of + np.timedelta64(round(hours * 60), "m")


@pytest.mark.parametrize(
    ("knots", "open_hours"), [(0, True), (19.9, True), (20, True), (20.1, False), (45, False)]
)
def test_a_wind_is_within_the_limit_up_to_the_limit_itself(knots, open_hours):
    hours = spans(wind=FixedWind(knots * KNOT, 225.0), wind_mps=20 * KNOT)
    assert hours.spans == (WHOLE if open_hours else ())
    assert len(hours.left_out) == (0 if open_hours else 1)
    if not open_hours:
        (row,) = hours.left_out.itertuples()
        assert (row.limit, row.start, row.end) == (
            "wind", pd.Timestamp(START, tz="UTC"), pd.Timestamp(END, tz="UTC"),
        )  # fmt: skip
        assert row.greatest_mps == pytest.approx(knots * KNOT)
        assert row.allowed_mps == pytest.approx(20 * KNOT)


def test_gusts_are_within_their_limit_up_to_the_limit_itself():
    for gust, open_hours in ((12.0, True), (12.1, False)):
        hours = spans(wind=FixedWind(5.0, 225.0, gust), wind_mps=10.0, gust_mps=12.0)
        assert hours.spans == (WHOLE if open_hours else ())


def test_a_rising_wind_shuts_the_day_at_the_minute_it_passes_the_limit():
    """From 10 kn at 08:00 to 30 kn at 12:00, straight on: 20 kn at 10:00 by hand."""
    wind = wind_by_hour(["8:00 SW 10 kn", "12:00 SW 30 kn"], "2031-06-14")
    hours = spans(wind=wind, wind_mps=20 * KNOT, gust_mps=50 * KNOT)
    ((opens, closes),) = hours.spans
    assert opens == START
    assert abs(closes - clock(2)) <= np.timedelta64(60, "s")
    assert closes <= clock(2)  # never a minute beyond
    assert hours.left_out["limit"].tolist() == ["wind"]
    assert hours.left_out["greatest_mps"][0] == pytest.approx(30 * KNOT)


def test_a_squall_in_the_middle_leaves_hours_on_either_side():
    wind = wind_by_hour(
        ["8:00 SW 10 kn", "9:00 SW 10 kn", "9:30 SW 10 gusting 40 kn", "10:00 SW 10 kn"],
        "2031-06-14",
    )
    hours = spans(wind=wind, gust_mps=25 * KNOT)
    # gusts rise by 30 kn in half an hour: 25 kn a quarter of an hour after 9:00, and back at 9:45
    (a, b), (c, d) = hours.spans
    assert (a, d) == (START, END)
    assert clock(1.25) - np.timedelta64(60, "s") <= b <= clock(1.25)
    assert clock(1.75) <= c <= clock(1.75) + np.timedelta64(60, "s")
    (row,) = hours.left_out.itertuples()
    assert row.limit == "gust" and row.greatest_mps == pytest.approx(40 * KNOT)
    assert (row.start, row.end) == (pd.Timestamp(b, tz="UTC"), pd.Timestamp(c, tz="UTC"))


def test_hours_of_a_wind_that_is_not_known_are_left_out():
    wind = WindTable(np.array([clock(0), clock(1)]), np.full(2, 4.0), np.full(2, 225.0))
    hours = spans(wind=wind)
    ((opens, closes),) = hours.spans
    assert (opens, closes) == (START, clock(2))  # the last row lasts an hour
    assert np.isnan(hours.left_out["greatest_mps"][0])


@pytest.mark.parametrize(
    ("knots", "open_hours"), [(3.99, True), (4.01, False), (float("nan"), True)]
)
def test_the_current_has_a_limit_of_its_own(knots, open_hours):
    hours = spans(currents=FixedCurrent(knots * KNOT, 40.0), current_mps=4 * KNOT)
    assert hours.spans == (WHOLE if open_hours else ())


class FastInTheEast:
    def velocity(self, times, longitude=None, latitude=None):
        east = np.where(np.asarray(longitude) > -33.0, 5 * KNOT, 1 * KNOT)
        return np.broadcast_to(east, np.shape(times)).astype(float), np.zeros(np.shape(times))


def test_an_hour_is_open_while_the_water_runs_slower_somewhere():
    both = open_spans(
        START, END, limits=BoatLimits(), wind=None, currents=FastInTheEast(),
        longitude=[-33.4, -32.9], latitude=[46.2, 46.2],
    )  # fmt: skip
    assert both.spans == WHOLE
    assert spans(currents=FastInTheEast(), place=(-32.9, 46.2)).spans == ()


def test_no_boat_drifts_where_the_current_is_beyond_the_limit():
    water = DayWater(FastInTheEast(), CRAFT["skiff, V-hull"], current_limit_mps=4 * KNOT)
    east, _ = water.velocity(np.array([START, START]), np.array([-33.4, -32.9]), np.full(2, 46.2))
    assert east[0] == pytest.approx(KNOT) and np.isnan(east[1])
    there = LimitedCurrents(FixedCurrent(1.0, 0.0), 1.0).velocity(START)
    assert float(there[1]) == 1.0


@pytest.mark.parametrize(
    ("day", "place"),
    [("2031-06-14", PLACE), ("2031-12-21", (5.0, 58.0)), ("2031-03-20", (151.0, -33.0))],
)
@pytest.mark.parametrize(("darkness", "horizon"), [("civil twilight", "-6"), ("sunset", "-0:34")])
def test_open_from_dawn_to_dusk_by_another_library(day, place, darkness, horizon):
    """PyEphem (VSOP87): the sun's centre 6 degrees down for civil twilight, and its almanac setting
    for rise and set (the upper limb 34' down, no pressure); within two minutes.
    """
    start = np.datetime64(day, "ns") - np.timedelta64(round(place[0] / 15 * 60), "m")
    end = start + np.timedelta64(24, "h")
    sun, there = ephem.Sun(), ephem.Observer()
    there.lon, there.lat = str(place[0]), str(place[1])
    there.pressure, there.horizon = 0, horizon
    there.date = pd.Timestamp(start).to_pydatetime()
    centre = darkness == "civil twilight"
    dawn = np.datetime64(there.next_rising(sun, use_center=centre).datetime(), "ns")
    dusk = np.datetime64(there.next_setting(sun, use_center=centre).datetime(), "ns")
    hours = spans(start=start, end=end, place=place, darkness=darkness)
    ((opens, closes),) = hours.spans
    minute = np.timedelta64(60, "s")
    assert -0.1 * minute <= opens - dawn <= 2 * minute
    assert -0.1 * minute <= dusk - closes <= 2 * minute
    assert hours.left_out["limit"].tolist() == ["darkness", "darkness"]
    assert spans(start=start, end=end, place=place, darkness="night").spans == ((start, end),)


def test_the_ways_out_and_home_have_the_open_hours_about_those_asked_for():
    """10 kn until 12:30, 30 kn at 13:30: 20 kn at 13:00, an hour after the lines are up."""
    wind = wind_by_hour(["0:00 S 10 kn", "12:30 S 10 kn", "13:30 S 30 kn"], "2031-06-14")
    hours = spans(wind=wind, darkness="night")
    assert hours.spans == WHOLE and not len(hours.left_out)
    ((out_from, home_by),) = hours.around
    assert out_from == START - np.timedelta64(3, "h")
    assert abs(home_by - clock(5)) <= np.timedelta64(60, "s")
    assert not hours.leaves_out(clock(-2), clock(0)) and not hours.leaves_out(clock(4), clock(4.9))
    assert hours.leaves_out(clock(4), clock(5.5))
    assert not OpenHours.whole(START, END).leaves_out(clock(-9), clock(9))


def test_a_wind_known_through_the_hours_asked_for_is_enough():
    wind = WindTable(np.array([clock(0), clock(3)]), np.full(2, 4.0), np.full(2, 225.0))
    ((out_from, home_by),) = spans(wind=wind).around
    assert out_from < START and home_by > END


def test_what_is_left_out_and_what_is_open_make_up_the_hours():
    wind = wind_by_hour(
        ["8:00 SW 30 kn", "9:00 SW 10 kn", "11:00 SW 10 gusting 30 kn"], "2031-06-14"
    )
    hours = spans(wind=wind)
    minutes = np.arange(START, END, np.timedelta64(60, "s"))
    within = np.zeros(len(minutes), bool)
    for opens, closes in hours.spans:
        within |= (minutes >= opens) & (minutes < closes)
    out = np.zeros(len(minutes), bool)
    for row in hours.left_out.itertuples():
        begin, end = (np.datetime64(at.tz_localize(None), "ns") for at in (row.start, row.end))
        out |= (minutes >= begin) & (minutes < end)
    assert (within ^ out).all()
