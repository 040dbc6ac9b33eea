"""Civil twilight, the moon and the dark, held against another library and a book's examples."""

from __future__ import annotations

from datetime import date

import ephem
import numpy as np
import pytest

from layers.present.day_words import light_words
from layers.water.day.moon import (
    _LATITUDE,
    _LONGITUDE_DISTANCE,
    days_since_2000,
    light_on,
    moon_phase,
    moon_place,
    moon_times,
)
from layers.water.day.sun import sun_altitude, sun_times

PLACES = [(-33.4, 46.2), (5.0, 52.0), (151.0, -33.0)]
DAYS = [date(2031, 1, 5), date(2031, 3, 14), date(2031, 6, 21), date(2031, 10, 1)]


def observer(day: date, longitude: float, latitude: float, horizon: str) -> ephem.Observer:
    there = ephem.Observer()
    there.lon, there.lat = str(longitude), str(latitude)
    there.pressure, there.horizon, there.date = 0, horizon, day.isoformat()
    return there


@pytest.mark.parametrize(("longitude", "latitude"), PLACES)
def test_civil_twilight_by_another_library(longitude: float, latitude: float) -> None:
    """PyEphem, the sun's centre 6 degrees down; within half a minute (almanacs print minutes)."""
    for day in DAYS:
        ours = sun_times(day, "UTC", longitude=longitude, latitude=latitude)
        there = observer(day, longitude, latitude, "-6")
        for theirs, moment in (
            (there.next_rising(ephem.Sun(), use_center=True), ours.dawn),
            (there.next_setting(ephem.Sun(), use_center=True), ours.dusk),
        ):
            assert moment is not None
            apart = np.datetime64(theirs.datetime(), "ns") - moment
            assert np.abs(apart) < np.timedelta64(30, "s"), (day, apart)


def test_the_sun_is_as_high_as_another_library_has_it() -> None:
    """Within the hundredth of a degree promised from 1950 to 2050, at 500 hours of those.

    PyEphem looks from the ground: its sun is lower by the parallax of 8.794" times cosine.
    """
    hours = np.random.default_rng(8).integers(0, 100 * 365 * 24, 500)
    moments = np.datetime64("1950-01-01T00:00", "ns") + hours * np.timedelta64(1, "h")
    there, theirs = observer(DAYS[0], 5, 52, "0"), []
    for moment in moments:
        there.date = ephem.Date(str(moment)[:19].replace("T", " "))
        theirs.append(np.degrees(float(ephem.Sun(there).alt)))
    truth = np.array(theirs) + 8.794 / 3600 * np.cos(np.radians(theirs))
    assert np.abs(sun_altitude(moments, longitude=5, latitude=52) - truth).max() < 0.01


@pytest.mark.parametrize(("longitude", "latitude"), PLACES)
def test_moonrise_and_moonset_by_another_library(longitude: float, latitude: float) -> None:
    """PyEphem as for the sun; within half a minute.  A day without one has none in both."""
    looked_at = 0
    for day in (date(2031, 6, d) for d in range(1, 30)):
        ours = moon_times(day, "UTC", longitude=longitude, latitude=latitude)
        there = observer(day, longitude, latitude, "-0:34")
        for theirs, moment in (
            (there.next_rising(ephem.Moon()).datetime(), ours.rises),
            (there.next_setting(ephem.Moon()).datetime(), ours.sets),
        ):
            if theirs.date() != day:
                assert moment is None
                continue
            assert moment is not None
            looked_at += 1
            apart = np.abs(np.datetime64(theirs, "ns") - moment)
            assert apart < np.timedelta64(30, "s"), (day, apart)
    assert looked_at > 50


def test_the_moons_place_and_phase_of_a_printed_example() -> None:
    """Meeus (1998), examples 47.a and 48.a, for 0h TD of 12 April 1992; figures from memory.

    The terms left out are below 0.004 degrees each; they come to 0.01 degrees and 50 km.
    """
    moment = np.array("1992-04-12T00:00", "datetime64[ns]")
    longitude, latitude, away = moon_place(days_since_2000(moment))
    assert float(longitude) == pytest.approx(133.162655, abs=0.01)
    assert float(latitude) == pytest.approx(-3.229126, abs=0.01)
    assert float(away) == pytest.approx(368409.7, abs=50)
    assert float(moon_phase(moment)[0]) == pytest.approx(0.6786, abs=0.001)


def test_phase_by_another_library_through_a_month() -> None:
    """Lit share within half a percent of PyEphem's, and the quarters on their days."""
    moments = np.datetime64("2031-06-01T12:00", "ns") + np.arange(60) * np.timedelta64(12, "h")
    lit, _ = moon_phase(moments)
    for moment, share in zip(moments, lit, strict=True):
        theirs = ephem.Moon(str(moment)[:16].replace("T", " ")).moon_phase
        assert share == pytest.approx(theirs, abs=0.005)
    full = ephem.next_full_moon("2031/6/1").datetime()
    at_full = moon_phase(np.array(full, "datetime64[ns]"))[1]
    assert float(at_full) == pytest.approx(180.0, abs=0.1)
    assert moon_times(full.date(), "UTC", longitude=0, latitude=0).phase == "full moon"


def test_the_far_north_has_its_own_words() -> None:
    """At 75 N the sun is up all day in June, and at 70 N in December twilight comes without it."""
    june = sun_times(date(2031, 6, 21), "UTC", longitude=20, latitude=75)
    assert (june.dawn, june.dusk) == (None, None)
    assert light_words(june, None, "UTC") == ["Sun up all day"]
    december = sun_times(date(2031, 12, 21), "UTC", longitude=20, latitude=70)
    (words,) = light_words(december, None, "UTC")
    assert words.startswith("Civil twilight from ")
    assert words.endswith("sun down all day")
    month = [moon_times(date(2031, 6, d), "UTC", longitude=20, latitude=80) for d in range(1, 30)]
    assert {moon.otherwise for moon in month} == {"", "up all day", "down all day"}
    assert (
        "moon up all day"
        in light_words(None, next(m for m in month if m.otherwise == "up all day"), "UTC")[
            0
        ].lower()
    )


def test_a_drift_says_how_dark_it_gets() -> None:
    at = {"longitude": -33.4, "latitude": 46.2}

    def light(first: str, last: str) -> str:
        return light_on(
            np.arange(
                np.datetime64(first, "s"), np.datetime64(last, "s"), np.timedelta64(600, "s")
            ),
            **at,
        )

    assert light("2031-06-14T08:00", "2031-06-14T12:00") == ""
    assert light("2031-06-14T05:50", "2031-06-14T06:15") == "twilight"  # sunrise 06:21 UTC
    assert light("2031-06-14T00:00", "2031-06-14T00:30") == "dark, no moon"
    assert light("2031-06-06T01:00", "2031-06-06T01:05") == "dark, moon 100% lit"  # one moment
    assert light("2031-06-06T01:00", "2031-06-06T02:00") == (
        "dark, moon 100% lit"  # full on the 5th, 11:58 by PyEphem
    )


def test_no_term_of_the_moon_is_missing_from_what_another_library_says() -> None:
    """What is left against PyEphem, taken apart by each term's own argument (Meeus 47.2-47.5).

    1,500 hours of 40 years; what smaller terms leave has a spread of 0.006 degrees, so that an
    amplitude errs by 0.0002: six times that.
    """
    hours = np.sort(np.random.default_rng(8).integers(0, 40 * 365 * 24, 1500))
    moments = np.datetime64("1990-01-01T00:00", "ns") + hours * np.timedelta64(1, "h")
    days = days_since_2000(moments)
    ours = np.array(moon_place(days)[:2]).T
    theirs = []
    for moment in moments:
        when = ephem.Date(str(moment)[:19].replace("T", " "))
        place = ephem.Ecliptic(ephem.Moon(when), epoch=when)
        theirs.append((np.degrees(place.lon), np.degrees(place.lat)))
    left = (ours - theirs + 180) % 360 - 180
    left -= left.mean(axis=0)
    assert left.std(axis=0).max() < 0.007
    centuries = days / 36525
    arguments = np.radians(
        np.array([297.8501921, 357.5291092, 134.9633964, 93.2720950])[:, None]
        + np.outer([445267.1114034, 35999.0502909, 477198.8675055, 483202.0175233], centuries)
    )
    for axis, table in enumerate((_LONGITUDE_DISTANCE, _LATITUDE)):
        for term in table:
            amplitude = 2 * np.mean(left[:, axis] * np.sin(term[:4] @ arguments))
            assert abs(amplitude) < 0.0012, (axis, term)
