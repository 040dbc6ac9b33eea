"""Current tables, wind and leeway."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from layers.water import CRAFT, FixedCurrent, FixedWind, leeway_of, read_currents
from layers.water.motion import boat_velocity, set_and_drift
from layers.water.wind.wind_words import parse_direction, read_wind, wind_by_hour
from seabed.errors import WaterError

KNOT = 1852 / 3600

TABLE = """time,event,speed_kn
2031-06-14 00:00,slack,
2031-06-14 03:00,flood,1.2
2031-06-14 06:00,slack,0
2031-06-14 09:00,ebb,-1.0
2031-06-14 15:00,flood,1.4
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "current.csv"
    path.write_text(text, encoding="utf-8")
    return path


def utc(*words: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(words).tz_localize("UTC")


def test_quarter_sine_between_slack_and_greatest(tmp_path: Path) -> None:
    """One hour after slack of a three-hour rise: sin(30°) = half the greatest flood."""
    currents = read_currents(written(tmp_path, TABLE), flood_toward=90, ebb_toward=200)
    at = utc("2031-06-14 01:00", "2031-06-14 03:00", "2031-06-14 05:00", "2031-06-14 06:00")
    east, north = currents.velocity(at)
    np.testing.assert_allclose(east / KNOT, [0.6, 1.2, 0.6, 0.0], atol=1e-12)
    np.testing.assert_allclose(north, 0.0, atol=1e-12)


def test_ebb_runs_its_own_way_and_half_cosine_without_slack(tmp_path: Path) -> None:
    currents = read_currents(written(tmp_path, TABLE), flood_toward=40, ebb_toward=200)
    toward, speed = set_and_drift(*currents.velocity(utc("2031-06-14 09:00", "2031-06-14 12:00")))
    np.testing.assert_allclose(toward, [200.0, 40.0], atol=1e-9)
    np.testing.assert_allclose(speed / KNOT, [1.0, 0.2], atol=1e-12)


def test_one_direction_gives_the_other_and_outside_is_unknown(tmp_path: Path) -> None:
    currents = read_currents(written(tmp_path, TABLE), ebb_toward=220)
    toward, _ = set_and_drift(*currents.velocity(utc("2031-06-14 03:00")))
    assert toward[0] == pytest.approx(40.0)
    east, north = currents.velocity(utc("2031-06-13 23:59", "2031-06-14 15:01"))
    assert np.isnan(east).all() and np.isnan(north).all()


BAD = {
    "no direction": (TABLE, {}, "the way the flood runs is not given"),
    "flood after flood": (
        TABLE.replace("ebb,-1.0", "flood,1.0"),
        {"flood_toward": 40},
        "line 5: flood follows flood",
    ),
    "slack after slack": (
        TABLE.replace("2031-06-14 03:00,flood,1.2\n", ""),
        {"flood_toward": 40},
        "line 3: a slack follows a slack",
    ),
    "gap": (
        TABLE + "2031-06-15 12:00,ebb,1\n",
        {"flood_toward": 40},
        "line 7: 21.0 hours without",
    ),
    "event": (TABLE.replace("ebb,", "out,"), {"flood_toward": 40}, "'out' is not an event"),
    "unit": (TABLE.replace("speed_kn", "speed"), {"flood_toward": 40}, "no unit"),
}


@pytest.mark.parametrize("name", BAD)
def test_current_table_refused(tmp_path: Path, name: str) -> None:
    text, options, message = BAD[name]
    with pytest.raises(WaterError, match=message):
        read_currents(written(tmp_path, text), **options)


def test_fixed_current_and_no_wind() -> None:
    velocity = boat_velocity(FixedCurrent(0.5, 270.0), None, CRAFT["skiff, V-hull"])
    east, north = velocity(utc("2031-06-14 03:00", "2031-06-14 04:00"), None, None)
    np.testing.assert_allclose(east, -0.5)
    np.testing.assert_allclose(north, 0.0, atol=1e-12)


@pytest.mark.parametrize(
    ("craft", "downwind_cm", "crosswind_cm"),
    [
        ("skiff, outboard", 31.5, 12.9),
        ("skiff, V-hull", 28.7 + 3.98, 3.2 - 2.93),
        ("skiff, aluminium", 25.2 + 13.37, 10.7 - 3.58),
        ("sport boat", 65.4, 21.9),
        ("sport fisher", 55.5, 22.7),
        ("kayak with a person", 11.6 + 11.12, 4.1),
    ],
)
def test_leeway_at_ten_metres_a_second(craft: str, downwind_cm: float, crosswind_cm: float) -> None:
    """Slope times ten plus offset of Allen & Plourde (1999) and Allen (2005), by hand.

    Wind from the west: downwind is east, to its right is south.
    """
    east, north = leeway_of(craft.upper()).velocity(10.0, 270.0, crosswind=1.0)
    assert east == pytest.approx(downwind_cm / 100)
    assert north == pytest.approx(-crosswind_cm / 100)
    left_east, left_north = leeway_of(craft).velocity(10.0, 270.0, crosswind=-1.0)
    # the V-hull has a left branch of its own: -0.62 % and 1.03 cm/s, spread 3.05
    left_cm = 6.2 - 1.03 if craft == "skiff, V-hull" else crosswind_cm
    assert (left_east, left_north) == (pytest.approx(east), pytest.approx(left_cm / 100))


def test_spread_across_takes_in_both_branches() -> None:
    """A boat goes to either side: the mean square of both about straight downwind, by hand."""
    right, left = (3.2 - 2.93, 2.53), (-6.2 + 1.03, 3.05)
    both = np.sqrt(np.mean([mean**2 + spread**2 for mean, spread in (right, left)]))
    assert float(leeway_of("skiff, V-hull").spread(10.0)[1]) == pytest.approx(both / 100)
    assert float(leeway_of("sport boat").spread(10.0)[1]) == pytest.approx(
        np.hypot(21.9, 2.8) / 100
    )


def test_calm_gives_no_leeway() -> None:
    assert leeway_of("skiff, V-hull").velocity(0.0, 123.0) == (0.0, 0.0)


def test_unknown_craft_names_the_known_ones() -> None:
    with pytest.raises(WaterError, match=r"unknown craft 'raft'.*skiff, V-hull"):
        leeway_of("raft")


@pytest.mark.parametrize(
    ("word", "degrees"), [("N", 0), ("ssw", 202.5), ("NNW", 337.5), ("230°", 230), (360, 0)]
)
def test_direction(word: str | float, degrees: float) -> None:
    assert parse_direction(word) == degrees


@pytest.mark.parametrize("word", ["N-ish", "", "361", "-5", "southwest-ish"])
def test_direction_refused(word: str) -> None:
    with pytest.raises(WaterError, match="is not a wind direction"):
        parse_direction(word)


def test_wind_table_turns_through_north(tmp_path: Path) -> None:
    text = "time,speed_mps,from\n2031-06-14 00:00,4,350\n2031-06-14 02:00,4,NNE\n"
    speed, from_deg = read_wind(written(tmp_path, text)).at(
        utc("2031-06-14 01:00", "2031-06-13 23:00", "2031-06-14 02:30", "2031-06-14 04:00")
    )
    assert from_deg[0] == pytest.approx(6.25)
    assert speed[0] == pytest.approx(4 * np.cos(np.radians(16.25)))
    np.testing.assert_array_equal(np.isnan(speed), [False, True, False, True])


def test_wind_is_not_carried_over_a_long_hole(tmp_path: Path) -> None:
    text = "time,speed_kn,from\n2031-06-14 00:00,8,230\n2031-06-14 08:00,8,230\n"
    speed, _ = read_wind(written(tmp_path, text)).at(
        utc("2031-06-14 00:00", "2031-06-14 04:00", "2031-06-14 08:00")
    )
    np.testing.assert_array_equal(np.isnan(speed), [False, True, False])


def test_wind_table_with_a_vague_direction(tmp_path: Path) -> None:
    text = "time,speed_kn,from\n2031-06-14 00:00,8,N-ish\n"
    with pytest.raises(WaterError, match=r"line 2: 'N-ish' is not a wind direction.*NE"):
        read_wind(written(tmp_path, text))


def test_wind_by_hour() -> None:
    wind = wind_by_hour(["6:00 SW 8 kn", "12 W 12 kn"], pd.Timestamp("2031-06-14 02:00", tz="UTC"))
    speed, from_deg = wind.at(utc("2031-06-14 08:00", "2031-06-14 14:00"))
    np.testing.assert_allclose(speed / KNOT, [8.0, 12.0])
    np.testing.assert_allclose(from_deg, [225.0, 270.0])
    with pytest.raises(WaterError, match="can't read the wind 'SW 8 kn'"):
        wind_by_hour(["SW 8 kn"], "2031-06-14")
    with pytest.raises(WaterError, match="do not rise"):
        wind_by_hour(["8:00 W 8 kn", "7:00 W 8 kn"], "2031-06-14")


def test_fixed_wind_has_the_shape_of_the_times() -> None:
    speed, from_deg = FixedWind(4.0, 360.0).at(utc("2031-06-14", "2031-06-15"))
    assert speed.tolist() == [4.0, 4.0]
    assert from_deg.tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("craft", "figures"),
    [
        ("skiff, V-hull", (2.87, 3.98, 3.33, 0.32, -2.93, 2.53)),
        ("sport boat", (6.54, 0.0, 3.00, 2.19, 0.0, 2.80)),
        ("kayak with a person", (1.16, 11.12, 4.12, 0.41, 0.0, 4.39)),
    ],
)
def test_leeway_has_its_published_figures(craft: str, figures: tuple[float, ...]) -> None:
    """Allen & Plourde (1999), Allen (2005): slope %, offset, spread cm/s, down and across."""
    ours = dataclasses.astuple(CRAFT[craft])[:6]
    assert ours == pytest.approx([figure / 100 for figure in figures])
