"""Lines that paid, drifted again; and passes laid end to end."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from affine import Affine
from pyproj import Geod
from rasterio.features import rasterize
from shapely.geometry import LineString

from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day.beside import Beside
from layers.planning.day.slots import slots_of_day
from layers.planning.ground.proven_lines import proven_lines, setting_for, starts_on, tide_hour
from layers.planning.what_if.drifts import what_if
from layers.water import FixedCurrent, FixedWind, HighLowTable, Leeway
from seabed.grid import make_grid, transform_of

START = np.datetime64("2031-06-14T08:00", "ns")
END = START + np.timedelta64(90, "m")
GEOD = Geod(ellps="WGS84")
MARK = (-33.0, 46.19)
COURSE = 110.0
TIDE = HighLowTable(
    START + np.array([-8, -2, 4, 10], "timedelta64[h]"), np.array([2.0, 0.0, 2.0, 0.0]),
    np.array([True, False, True, False]),
)  # fmt: skip


def ground():
    """All in the band, 2 km square, cells of 10 m, the mark in its middle."""
    return make_grid(
        np.full((200, 200), 6.5, np.float32),
        transform=Affine(10.0, 0, 499_000.0, 0, -10.0, 5_116_400.0), crs="EPSG:32625",
    )  # fmt: skip


def logged(*, course=COURSE, sog=0.5, begins=("2031-06-07T08:00", "2031-06-08T08:00")):
    """One drift of ten minutes on each day, along a line eastward."""
    east, north, _ = GEOD.fwd(*MARK, course, sog * 600.0)
    start = pd.DatetimeIndex(begins).tz_localize("UTC")
    return gpd.GeoDataFrame(
        {
            "line": "E1", "trip": [str(begin)[:10] for begin in begins], "start": start,
            "end": start + pd.Timedelta(minutes=10), "distance_m": sog * 600.0, "sog_mps": sog,
            "course_deg": course,
        },
        geometry=[LineString([MARK, (east, north)])] * len(begins), crs="EPSG:4326",
    )  # fmt: skip


def lines_of(drifts, *, rod_hours=2.0, fish=6):
    return gpd.GeoDataFrame(
        {"line": ["E1"], "fish": fish, "rod_hours": rod_hours, "course_deg": COURSE},
        geometry=[drifts.geometry.iloc[0]], crs="EPSG:4326",
    )  # fmt: skip


def setting_of(currents, *, wind=None, held=None):
    water = DayWater(currents, Leeway(0.03, 0.0, 0.0, 0.0, 0.0, 0.0), wind, held_mps=held)
    limits = DriftLimits(shortest_s=240.0, longest_s=600.0, set_up_s=60.0, running_mps=10.0)
    return Setting(SafeWater.of(ground()), water, (5.0, 8.0), limits)


def test_two_days_turn_the_tables_by_two_thirds_of_what_they_show():
    told = FixedCurrent(0.4, 90.0)
    (line,) = proven_lines(logged(), lines_of(logged()), told, None)
    # they ran 20 degrees to the right, 1.25 times as fast; east + i north turns the other way
    shown = 1.25 * np.exp(-1j * np.radians(20.0))
    assert line.times == pytest.approx(1 + (shown - 1) * 2 / 3)
    east, north = setting_for(line, setting_of(told)).water.currents.velocity(
        np.array([START]), np.array([MARK[0]]), np.array([MARK[1]])
    )
    assert complex(east[0], north[0]) == pytest.approx(0.4 * line.times)
    assert setting_for(None, setting_of(told)).water.currents is told


def test_the_tables_are_asked_in_the_middle_of_a_drift():
    """The water of the tables runs as fast as it is metres east of the mark over 500."""

    class Rising:
        def velocity(self, times, longitude, latitude):
            metres = GEOD.inv(np.full_like(longitude, MARK[0]), latitude, longitude, latitude)[2]
            return metres / 500.0, np.zeros_like(metres)

    (line,) = proven_lines(logged(course=90.0), lines_of(logged(course=90.0)), Rising(), None)
    # 150 m from the mark 0.3 m/s, where it ran 0.5
    assert line.times == pytest.approx(1 + (0.5 / 0.3 - 1) * 2 / 3, abs=1e-3)


def test_lines_without_fish_or_with_little_effort_are_not_made_again():
    told = FixedCurrent(0.4, 90.0)
    assert proven_lines(logged(), lines_of(logged(), fish=0), told, None) == ()
    assert proven_lines(logged(), lines_of(logged(), rod_hours=0.2), told, None) == ()


def test_starts_are_laid_beside_a_line_and_before_it():
    """A line of 294 m: from 60 m before it every 20 m, and 15 and 30 m to either side."""
    drifts = logged(sog=0.49)
    (line,) = proven_lines(drifts, lines_of(drifts), FixedCurrent(0.4, 90.0), None)
    azimuth, _, metres = GEOD.inv(*(np.full(18 * 5, one) for one in MARK), *starts_on(line))
    turned = np.radians(azimuth - COURSE)
    places = sorted(
        zip((metres * np.cos(turned)).round(1), (metres * np.sin(turned)).round(1), strict=True)
    )
    assert np.array(places) == pytest.approx(
        np.array([(x, y) for x in range(-60, 294, 20) for y in (-30, -15, 0, 15, 30)]), abs=0.2
    )


def test_a_line_is_made_again_only_at_its_stage():
    east = FixedCurrent(0.4, 90.0)
    drifts = logged(begins=("2031-06-14T08:00", "2031-06-14T09:00"))
    (line,) = proven_lines(drifts, lines_of(drifts), east, TIDE)
    # high water is at 12:00: its drifts' middles were 3:55 and 2:55 before
    assert line.hours == pytest.approx((-3 - 55 / 60, -2 - 55 / 60))
    at = {minute: line.runs_at(
            (then := START + np.timedelta64(minute, "m")), east, tide_hour(then, TIDE)
        )
          for minute in (-60, -50, 120, 130)}  # fmt: skip
    assert at == {-60: False, -50: True, 120: True, 130: False}
    assert not line.runs_at(START, FixedCurrent(0.4, 200.0), tide_hour(START, TIDE))
    assert line.runs_at(START, FixedCurrent(0.4, 130.0), None)


@pytest.mark.parametrize("held", [None, (0.3, 0.45)])
def test_a_plan_makes_the_line_again_in_the_water_its_drifts_showed(held):
    told = FixedCurrent(0.4, 90.0)
    paid = proven_lines(logged(), lines_of(logged()), told, None)
    setting = setting_of(told, wind=FixedWind(4.0, 180.0), held=held)
    worth = structure_worth(ground(), (5.0, 8.0), [])
    strip = logged().geometry.iloc[[0]].to_crs("EPSG:32625").buffer(25.0)
    inside = rasterize(strip, out_shape=worth.shape, transform=transform_of(worth))
    worth = worth.copy(data=inside.astype(float))
    slots = slots_of_day(setting, worth, START, END, proven=paid, spacing_m=100.0)
    both = plan_day(setting, worth, START, END, slots=slots, beside=Beside("P1"))
    plan = both.lines[both.lines["kind"] == "line"]
    assert set(plan["again_of"]) == {"E1"}
    assert plan["why"].str.startswith("E1 again, at the stage at which it paid.").all()
    along = 0.4 * paid[0].times
    if held is None:
        along += 0.03 * 4.0 * 1j  # the wind's push, northward
        expected = np.degrees(np.arctan2(along.real, along.imag)) % 360
    else:
        expected = COURSE
    assert plan["bearing_deg"].to_numpy() == pytest.approx(expected, abs=0.05)
    told_if = what_if(both.lines, setting, slots)
    late = told_if[told_if["scenario"] == "an hour late"]
    assert "P1 L1" in set(late["plan_id"])
    # this water is the same at all hours, over the line as they showed it: an hour moves nothing
    assert late["end_shift_m"].to_numpy() == pytest.approx(0.0, abs=0.5)
