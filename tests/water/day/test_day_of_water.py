"""A day: its hours, windows, sun, picture, calendar; clock changes and year ends."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree as ET

import ephem
import icalendar
import numpy as np
import pandas as pd
import pytest

from layers.area import Area
from layers.cautions import CAUTIONS_SHORT
from layers.present.calendar_file import calendar_text
from layers.present.day_words import day_rows, day_sheet
from layers.present.pictures.day import day_picture
from layers.water import DriftTarget, FixedCurrent, FixedWind, day_of_water, day_windows
from layers.water.day.sun import sun_times
from layers.water.heights.stage import turns
from layers.water.stations.harmonics import Harmonics
from layers.water.stations.station import AxisCurrents, HarmonicHeights
from layers.water.times import day_bounds

KNOT = 1852 / 3600
HEIGHTS = HarmonicHeights(
    Harmonics(("M2", "K1"), np.array([1.0, 0.2]), np.array([10.0, 50.0]), 1.5)
)
CURRENTS = AxisCurrents(Harmonics(("M2",), np.array([0.6]), np.array([310.0])), 40.0, 220.0)


@pytest.mark.parametrize(
    ("day", "timezone", "hours"),
    [
        (date(2031, 3, 30), "Atlantic/Azores", 23),
        (date(2031, 10, 26), "Atlantic/Azores", 25),
        (date(2031, 12, 31), "Atlantic/Azores", 24),
        (date(2031, 10, 5), "Australia/Lord_Howe", 23.5),
        (date(2031, 3, 9), "America/Havana", 23),
        (date(2031, 6, 7), "Etc/GMT+2", 24),
    ],
)
def test_a_day_has_its_own_hours(day: date, timezone: str, hours: float) -> None:
    """Clock changes by the tz database; Lord Howe's is half an hour, Havana's at midnight."""
    table = day_of_water(day, timezone, heights=HEIGHTS, currents=CURRENTS)
    assert len(table) == hours * 60
    start, end = day_bounds(day, timezone)
    assert table["time"].iloc[0] == pd.Timestamp(start, tz="UTC")
    assert table["time"].is_monotonic_increasing
    assert (end - start) / np.timedelta64(3600, "s") == hours
    local = table["time"].dt.tz_convert(timezone)
    assert {moment.date() for moment in local} == {day}


def test_year_end_is_seamless() -> None:
    """The height at a year's last minute and the next year's first differ by a minute's rise."""
    last = day_of_water(date(2031, 12, 31), "UTC", heights=HEIGHTS)
    first = day_of_water(date(2032, 1, 1), "UTC", heights=HEIGHTS)
    steps = np.diff(np.r_[last["height_m"].iloc[-3:], first["height_m"].iloc[:3]])
    np.testing.assert_allclose(steps, steps[0], rtol=0.05)


def test_rows_of_a_spring_day_skip_the_hour_that_is_not() -> None:
    table = day_of_water(date(2031, 3, 30), "Atlantic/Madeira", heights=HEIGHTS)
    rows = day_rows(table, timezone="Atlantic/Madeira", every_minutes=60)
    hours = [word[11:19] for word in rows["time"]]
    assert hours[:4] == ["00:00:00", "02:00:00", "03:00:00", "04:00:00"]
    assert rows["time"][0].endswith("+00:00") and rows["time"][1].endswith("+01:00")
    assert len(rows) == 23


def test_kinds_of_drifting_by_hand() -> None:
    """Speeds chosen for each word; a calm, so the boat goes as the water does."""
    target = DriftTarget(
        speed_mps=(0.2, 0.5), motor_limit_mps=0.4, slack_below_mps=0.1, shortest_minutes=1
    )
    for speed, word in (
        (0.05, "slack"),
        (0.15, "motor"),
        (0.3, "alone"),
        (0.8, "motor"),
        (1, "no"),
    ):
        table = day_of_water(
            date(2031, 6, 7), "UTC", currents=FixedCurrent(speed, 40.0), target=target
        )
        assert set(table["drifting"]) == {word}, speed
        windows = day_windows(table, target=target)
        assert list(windows["kind"]) == ([] if word == "no" else [word])
    unknown = day_of_water(date(2031, 6, 7), "UTC", heights=HEIGHTS, target=target)
    assert set(unknown["drifting"]) == {""}
    assert day_windows(unknown).empty


def test_wind_across_the_line_needs_the_motor() -> None:
    """0.3 m/s of water toward 040 and a wind from 310 that pushes 0.3 across: 45 degrees off."""
    target = DriftTarget(speed_mps=(0.2, 0.5), motor_limit_mps=0.5, slack_below_mps=0.1)
    from layers.water import Leeway

    table = day_of_water(
        date(2031, 6, 7),
        "UTC",
        currents=FixedCurrent(0.3, 40.0),
        wind=FixedWind(10.0, 310.0),
        leeway=Leeway(0.03, 0, 0, 0, 0, 0),
        target=target,
    )
    assert set(table["drifting"]) == {"motor"}
    assert table["push_mps"].iloc[0] == pytest.approx(0.3)
    assert table["push_heading_deg"].iloc[0] == pytest.approx(310.0)
    assert table["drift_toward_deg"].iloc[0] == pytest.approx(85.0)
    assert "wind across the tide" in day_windows(table)["words"][0]


def test_windows_cover_their_minutes_once() -> None:
    table = day_of_water(date(2031, 6, 7), "UTC", currents=CURRENTS, wind=FixedWind(4.0, 230.0))
    windows = day_windows(table)
    assert (windows["end"] > windows["start"]).all()
    assert (windows["start"].iloc[1:].to_numpy() >= windows["end"].iloc[:-1].to_numpy()).all()
    for _, row in windows.iterrows():
        inside = table[(table["time"] >= row["start"]) & (table["time"] < row["end"])]
        assert set(inside["drifting"]) == {row["kind"]}
        assert len(inside) == row["minutes"]
    slack = windows[windows["kind"] == "slack"]
    # M2 alone at 0.6 m/s is under 0.2 kn for 2 asin(0.1029/0.6)/(2 pi) of 12.42 h: 41 minutes.
    assert slack["minutes"].iloc[1:-1].between(38, 44).all()


@pytest.mark.parametrize(("longitude", "latitude"), [(-33.4, 46.2), (5.0, 52.0), (151.0, -33.0)])
def test_sunrise_and_sunset_by_another_library(longitude: float, latitude: float) -> None:
    """PyEphem (VSOP87), its documented setting for almanac times: no pressure, the upper limb 34'
    down; within twenty seconds (almanacs print minutes).
    """
    for day in (date(2031, 1, 5), date(2031, 6, 21), date(2031, 10, 1)):
        there = ephem.Observer()
        there.lon, there.lat = str(longitude), str(latitude)
        there.pressure, there.horizon = 0, "-0:34"
        there.date = day.isoformat()
        ours = sun_times(day, "UTC", longitude=longitude, latitude=latitude)
        for theirs, moment in (
            (there.next_rising(ephem.Sun()), ours.rises),
            (there.next_setting(ephem.Sun()), ours.sets),
        ):
            apart = np.datetime64(theirs.datetime(), "ns") - moment
            assert np.abs(apart) < np.timedelta64(20, "s"), (day, apart)


def test_midnight_sun_and_polar_night() -> None:
    assert sun_times(date(2031, 6, 21), "UTC", longitude=20, latitude=75).otherwise == "up all day"
    assert sun_times(date(2031, 12, 21), "UTC", longitude=20, latitude=75).otherwise == (
        "down all day"
    )


def test_calendar_is_read_by_another_library() -> None:
    table = day_of_water(date(2031, 6, 7), "Etc/GMT+2", currents=CURRENTS)
    windows = day_windows(table)
    text = calendar_text(windows, place="Tollivane Sound, the far; end", made="2031-06-01T00:00Z")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert "\n" not in text.replace("\r\n", "")
    found = icalendar.Calendar.from_ical(text).walk("VEVENT")
    assert len(found) == len(windows)
    assert len({str(event["UID"]) for event in found}) == len(windows)
    for event, (_, row) in zip(found, windows.iterrows(), strict=True):
        assert event["DTSTART"].dt == row["start"]
        assert event["DTEND"].dt == row["end"]
        assert str(event["LOCATION"]) == "Tollivane Sound, the far; end"
        assert str(event["DESCRIPTION"]) == CAUTIONS_SHORT


def test_a_calendar_beyond_the_limits_says_so_first() -> None:
    windows = day_windows(day_of_water(date(2031, 6, 7), "UTC", currents=CURRENTS))
    windows = windows.assign(limit=["wind", *[""] * (len(windows) - 1)])
    text = calendar_text(
        windows, place="", made="2031-06-01T00:00Z", warnings=["Wind 45 kn; the limit is 20 kn."]
    )
    events = icalendar.Calendar.from_ical(text).walk("VEVENT")
    assert str(events[0]["SUMMARY"]).startswith("Beyond the boat's limits (wind): ")
    assert not any("limits" in str(event["SUMMARY"]) for event in events[1:])
    for event in events:
        assert str(event["DESCRIPTION"]) == f"Wind 45 kn; the limit is 20 kn. {CAUTIONS_SHORT}"


def test_picture_is_whole_svg_and_stands_alone() -> None:
    table = day_of_water(date(2031, 6, 7), "UTC", heights=HEIGHTS, currents=CURRENTS)
    windows = day_windows(table)
    start, end = day_bounds(date(2031, 6, 7), "UTC")
    text = day_picture(
        table,
        windows,
        title="A <day>\uffff\x07",
        timezone="UTC",
        sun=sun_times(date(2031, 6, 7), "UTC", longitude=-33.4, latitude=46.2),
        turns=turns(HEIGHTS, start, end),
    )
    root = ET.fromstring(text)
    words = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "A <day>" in words
    assert CAUTIONS_SHORT in words
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    titles = list(root.iter("{http://www.w3.org/2000/svg}title"))
    assert len(titles) == len(windows)


def test_picture_of_an_unknown_day() -> None:
    table = day_of_water(date(2031, 6, 7), "UTC")
    text = day_picture(table, day_windows(table), title="Nothing known", timezone="UTC")
    ET.fromstring(text)
    assert text.count(">unknown<") == 2


def test_sheet_says_so_where_nothing_is_known() -> None:
    table = day_of_water(date(2031, 6, 7), "UTC")
    text = day_sheet(table, day_windows(table), timezone="UTC")
    assert "No windows" in text
    assert "unknown" in text
    assert "nan" not in text.lower()


def test_what_is_wanted_of_a_drift_by_default_is_what_an_area_says_by_default():
    """The words of the area file and of the command's help, in knots."""
    target, boat = DriftTarget(), Area().boat
    assert target.motor_limit_mps == boat.motor_limit_mps == pytest.approx(2.0 * KNOT)
    assert target.speed_mps == pytest.approx((0.4 * KNOT, 0.9 * KNOT))
    assert target.slack_below_mps == pytest.approx(0.2 * KNOT)
