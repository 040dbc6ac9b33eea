"""What could hurt, on ways and waters simple enough to know the answer."""

from __future__ import annotations

import ephem
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from pyproj import Geod
from shapely.geometry import LineString

from layers.planning import DayWater
from layers.planning.day.dangers import dangers_of
from layers.water import CRAFT, BoatLimits, CurrentTable, FixedCurrent, FixedWind, OpenHours
from layers.water.day.limits import open_spans
from layers.water.times import as_utc
from layers.water.wind.wind_words import wind_by_hour

KNOT = 1852 / 3600
START = np.datetime64("2031-06-14T12:00", "ns")
END = START + np.timedelta64(2, "h")
PLACE = (-33.4, 46.2)
GEOD = Geod(ellps="WGS84")
WHOLE = OpenHours.whole(START, END)


def at(minutes: float, of: np.datetime64 = START) -> pd.Timestamp:
    return pd.Timestamp(of, tz="UTC") + pd.Timedelta(minutes=minutes)


def ways(*rows: tuple[str, float, float, float], of: np.datetime64 = START) -> gpd.GeoDataFrame:
    """Straight ways north: name, first and last minute, knots; a vertex every half minute."""
    table = []
    for name, first, last, knots in rows:
        count = round((last - first) * 2) + 1
        metres = np.linspace(0, knots * KNOT * (last - first) * 60, count)
        along = [GEOD.fwd(*PLACE, 0.0, one)[:2] for one in metres]
        table.append(
            {"plan_id": name, "start": at(first, of), "end": at(last, of), "caution": "",
             "geometry": LineString(along)}
        )  # fmt: skip
    columns = ["plan_id", "start", "end", "caution", "geometry"]
    return gpd.GeoDataFrame(table, columns=columns, geometry="geometry", crs="EPSG:4326")


def kinds(passes, runs=None, *, current=(0.5, 0.0), wind=None, hours=WHOLE, **more):
    water = DayWater(FixedCurrent(current[0] * KNOT, current[1]), CRAFT["skiff, V-hull"], wind)
    return dangers_of(passes, ways() if runs is None else runs, water, hours, **more)


def test_a_fair_day_has_nothing_to_say():
    passes = ways(("P1", 0, 20, 0.7), ("P1", 25, 45, 0.7), ("P2", 60, 80, 0.7))
    assert kinds(passes, wind=FixedWind(5 * KNOT, 0.0), asked_mps=(0.4 * KNOT, 0.9 * KNOT)) == ()
    assert kinds(ways()) == ()


def test_runs_that_are_not_known_to_be_safe_come_first_those_alike_as_one():
    runs = ways(("P1", 0, 5, 9), ("P1", 20, 21, 9), ("P2", 40, 42, 9), ("", 60, 65, 9))
    runs["caution"] = ["", "crosses a bar", "crosses a bar", "crosses a bar"]
    found = kinds(ways(("P1", 5, 20, 3.2)), runs, current=(3.2, 0.0))
    assert [(one.kind, one.lines, one.cause) for one in found] == [
        ("run", ("P1", "P2"), "crosses a bar"),
        ("run", (), "crosses a bar"),
        ("strong current", ("P1",), ""),
    ]
    assert (found[0].start, found[0].end) == (at(20), at(42))


@pytest.mark.parametrize(("knots", "strong"), [(2.99, False), (3.0, True), (3.6, True)])
def test_three_knots_of_current_are_strong(knots, strong):
    found = kinds(ways(("P1", 0, 20, knots)), current=(knots, 0.0))
    assert [one.kind for one in found] == (["strong current"] if strong else [])
    if strong:
        (one,) = found
        assert one.lines == ("P1",) and (one.start, one.end) == (at(0), at(20))
        assert one.greatest_mps == pytest.approx(knots * KNOT)


@pytest.mark.parametrize(
    ("wind_kn", "from_deg", "current_kn", "against"),
    [
        (10, 0, 1.0, True),  # a northerly on water that runs north
        (10, 44, 1.0, True),
        (10, 46, 1.0, False),  # across
        (10, 180, 1.0, False),  # with it
        (10, 316, 1.0, True),
        (6.9, 0, 1.0, False),  # Beaufort 2: no crest breaks
        (7, 0, 1.0, True),  # Beaufort 3 begins
        (10, 0, 0.4, False),
    ],
)
def test_wind_against_water(wind_kn, from_deg, current_kn, against):
    found = kinds(
        ways(("P1", 0, 20, 0.7)),
        current=(current_kn, 0.0),
        wind=FixedWind(wind_kn * KNOT, from_deg),
    )
    assert [one.kind for one in found] == (["wind against water"] if against else [])
    if against:
        assert found[0].greatest_mps == pytest.approx(wind_kn * KNOT)
        assert found[0].allowed_mps == pytest.approx(current_kn * KNOT)


def test_wind_against_water_names_the_strongest_current_of_its_hours():
    times = as_utc(pd.to_datetime(["2031-06-14T12:00", "2031-06-14T15:00"]))
    rising = CurrentTable(times, np.array([0.6, 3.0]) * KNOT, np.zeros(2, bool), 0.0, 180.0)
    water = DayWater(rising, CRAFT["skiff, V-hull"], FixedWind(9 * KNOT, 0.0))
    passes = ways(("P1", 0, 20, 0.7), ("P2", 40, 60, 0.7))
    (one,) = dangers_of(passes, ways(), water, WHOLE)
    last = float(np.hypot(*rising.velocity(np.array([END - np.timedelta64(1, "h")]), *PLACE))[0])
    assert one.lines == ("P1", "P2")
    assert one.greatest_mps == pytest.approx(9 * KNOT)
    assert one.allowed_mps == pytest.approx(last) and last > 0.7 * KNOT


def test_gusts_raise_a_sea_too():
    wind = FixedWind(5 * KNOT, 0.0, 12 * KNOT)
    (one,) = kinds(ways(("P1", 0, 20, 0.7)), current=(1.0, 0.0), wind=wind)
    assert one.kind == "wind against water" and one.greatest_mps == pytest.approx(12 * KNOT)


def test_a_drift_faster_than_asked_over_the_ground():
    passes = ways(("P1", 0, 20, 0.9), ("P2", 30, 50, 1.4))
    (one,) = kinds(passes, asked_mps=(0.4 * KNOT, 0.9 * KNOT))
    assert one.kind == "fast drift" and one.lines == ("P2",)
    assert one.greatest_mps == pytest.approx(1.4 * KNOT, rel=1e-4)
    assert one.allowed_mps == pytest.approx(0.9 * KNOT)
    assert kinds(passes) == ()  # nothing was asked for


def test_the_same_danger_hours_apart_is_said_twice():
    wind = wind_by_hour(["12:00 N 9 kn", "12:30 N 9 kn", "12:31 S 9 kn", "13:30 S 9 kn",
                         "13:31 N 9 kn"], "2031-06-14")  # fmt: skip
    passes = ways(("P1", 0, 20, 0.7), ("P2", 95, 115, 0.7))
    first, second = kinds(passes, current=(1.0, 0.0), wind=wind)
    assert (first.lines, second.lines) == (("P1",), ("P2",))
    assert first.end <= at(20) and second.start >= at(95)


def test_dark_and_lights_by_another_library():
    """PyEphem: sunset with the upper limb 34' down, civil dusk with the centre 6 degrees down."""
    sun, there = ephem.Sun(), ephem.Observer()
    there.lon, there.lat, there.pressure = str(PLACE[0]), str(PLACE[1]), 0
    there.date = pd.Timestamp(START).to_pydatetime()
    there.horizon = "-0:34"
    sunset = pd.Timestamp(there.next_setting(sun).datetime(), tz="UTC")
    there.horizon = "-6"
    dusk = pd.Timestamp(there.next_setting(sun, use_center=True).datetime(), tz="UTC")
    of = np.datetime64(sunset.tz_localize(None).floor("min"), "ns")
    passes = ways(("P1", -30, 0, 0.7), ("P2", 5, 25, 0.7), ("P3", 50, 70, 0.7), of=of)
    home = ways(("", 75, 90, 20), of=of)
    assert at(25, of) < dusk < at(50, of)
    dark, lights = kinds(passes, home)
    assert [one.kind for one in (dark, lights)] == ["dark", "lights"]
    assert dark.lines == ("P3",) and dark.start == at(50, of)
    assert dark.end == at(90, of)  # the run home
    assert lights.lines == ("P2",) and lights.start == at(5, of)


def test_what_is_left_out_is_said_and_a_run_in_it_first():
    wind = wind_by_hour(["12:00 S 10 kn", "13:00 S 10 kn", "13:20 S 30 kn"], "2031-06-14")
    water = DayWater(FixedCurrent(0.5 * KNOT, 0.0), CRAFT["skiff, V-hull"], wind)
    hours = open_spans(
        START, END, limits=BoatLimits(), wind=wind, currents=water.currents,
        longitude=PLACE[0], latitude=PLACE[1],
    )  # fmt: skip
    passes, runs = ways(("P1", 0, 60, 0.5)), ways(("P1", -20, -2, 20), ("", 60, 75, 20))
    out, wind_out = dangers_of(passes, runs, water, hours)
    # 10 kn more each ten minutes from 13:00 on: 20 kn at 13:10, in the run home
    assert (out.kind, out.cause, out.lines) == ("out beyond limits", "home", ())
    assert (wind_out.kind, wind_out.cause) == ("left out", "wind")
    assert wind_out.start == at(70) and wind_out.end == at(120)
    assert wind_out.greatest_mps == pytest.approx(30 * KNOT)
    beyond = dangers_of(passes, runs, water, hours, beyond=True)
    assert [one.kind for one in beyond] == ["beyond limits"]


def test_the_worst_comes_first_and_the_datum_last():
    found = kinds(
        ways(("P1", 0, 20, 3.2)), current=(3.2, 0.0), wind=FixedWind(25 * KNOT, 0.0),
        hours=open_spans(START, END, limits=BoatLimits(), wind=FixedWind(25 * KNOT, 0.0),
                         currents=None, longitude=PLACE[0], latitude=PLACE[1]),
        asked_mps=(0.2, 0.5), beyond=True, unknown=["the table ends"], datum="unknown",
    )  # fmt: skip
    assert [one.kind for one in found] == [
        "beyond limits", "strong current", "wind against water", "fast drift", "unknown water",
        "datum",
    ]  # fmt: skip
