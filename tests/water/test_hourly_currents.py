"""Currents by hours from high water, against the hand method written out in loops."""

import numpy as np
import pytest

from layers.water import HighLowTable, read_currents
from seabed.errors import WaterError

KN = 1852 / 3600
START = np.datetime64("2031-06-01T03:00", "ns")
TURN = np.timedelta64(22_356, "s")
"""Half of a lunar tide, 6 h 12 min 36 s: a high water every 12 h 25 min 12 s."""


def tide(days: float = 60.0, least: float = 1.0, most: float = 3.0) -> HighLowTable:
    """Ranges that swell from neaps to springs and back in 14.7653 days."""
    number = np.arange(int(days * 86400 / 22356))
    times = START + number * TURN
    phase = 2 * np.pi * (times - START) / np.timedelta64(int(14.7653 * 86400e9), "ns")
    half = ((most + least) / 2 - (most - least) / 2 * np.cos(phase)) / 2
    high = number % 2 == 0
    return HighLowTable(times, 2.0 + np.where(high, half, -half), high)


HOURS = ((-6, 0.2, 0.1, 170), (-3, 1.6, 0.8, 350), (0, 0.4, 0.2, 350), (3, 1.8, 0.9, 170),
         (6, 0.3, 0.1, 170))  # fmt: skip
WORDS = ", ".join(f"HW{hour:+d} {sp}/{np_} kn toward {way}" for hour, sp, np_, way in HOURS)


def by_hand(table: HighLowTable, time: np.datetime64, springs: float, neaps: float):
    """Take the high water that is nearest, and the hours on either side, as one does on paper."""
    moments = []
    for k in np.flatnonzero(table.high):
        sides = [abs(table.heights_m[k] - table.heights_m[j]) for j in (k - 1, k + 1)
                 if 0 <= j < len(table.times)]  # fmt: skip
        share = (sum(sides) / len(sides) - neaps) / (springs - neaps)
        for hour, sp, np_, way in HOURS:
            rate = (np_ + share * (sp - np_)) * KN
            at = table.times[k] + np.timedelta64(hour * 3600, "s")
            moments.append((at, rate * np.sin(np.radians(way)), rate * np.cos(np.radians(way))))
    moments.sort()
    before = max(one for one in moments if one[0] <= time)
    after = min(one for one in moments if one[0] > time)
    share = (time - before[0]) / (after[0] - before[0])
    return tuple(before[i] + share * (after[i] - before[i]) for i in (1, 2))


def test_hours_and_ranges_as_on_paper():
    """The two greatest and least ranges of a fortnight lie within 4 % of the 3 m and 1 m set."""
    table = tide()
    current = read_currents(WORDS, heights=table)
    times = START + np.timedelta64(20 * 24 * 3600, "s") + np.arange(0, 15 * 24, 5) * np.timedelta64(
        3600, "s"
    )  # fmt: skip
    east, north = current.velocity(times)
    hand = np.array([by_hand(table, time, 3.0, 1.0) for time in times])
    assert np.isfinite(east).all()
    assert np.abs(np.stack([east, north], axis=1) - hand).max() < 0.04 * 1.8 * KN
    fastest = np.hypot(east, north).max()
    assert 1.6 * KN < fastest < 1.95 * KN  # springs are in these days


def test_a_current_is_the_same_whatever_days_it_has_worked_out():
    table = tide(4.0)
    one, other = (read_currents(WORDS, heights=table) for _ in range(2))
    assert one == other
    one._blocks[0] = (table.times[:2], np.zeros((2, 2)))
    assert one == other


def test_springs_and_neaps_are_the_two_greatest_and_least_ranges():
    """Low waters at 0 m, high waters at 2 m but for two of 3 m and two of 1 m each fortnight."""
    number = np.arange(240)
    peak = np.full(240, 2.0)
    peak[number % 57 // 2 == 4], peak[number % 57 // 2 == 5] = 3.0, 3.0
    peak[number % 57 // 2 == 14], peak[number % 57 // 2 == 15] = 1.0, 1.0
    table = HighLowTable(
        START + number * TURN, np.where(number % 2 == 0, peak, 0.0), number % 2 == 0
    )
    current = read_currents(WORDS, heights=table)
    assert current._levels(START + np.timedelta64(60, "D")) == pytest.approx((1.0, 3.0))


def test_hours_reach_thirteen_from_high_water(tmp_path):
    """Half of a daily tide, and no further; a direction is a number in a table too."""
    read_currents("HW-13 0.8 kn toward 340, HW+13 1 kn toward 360", heights=tide())
    file = tmp_path / "diamond.csv"
    file.write_text("Hours,Dir,Sp_kn\n-3,north,1\n+3,160,1\n")
    with pytest.raises(WaterError, match="its direction are not two numbers"):
        read_currents(file, heights=tide())


def test_one_rate_is_that_of_every_tide_and_the_ends_are_unknown():
    table = tide(4.0)
    current = read_currents("HW-2 0.5 kn toward 90, HW+1 1 kn toward 90", heights=table)
    high = table.times[table.high][2]
    hours = np.array([-2.5, -2.0, -0.5, 1.0, 1.5])
    east, north = current.velocity(high + (hours * 3600).astype("timedelta64[s]"))
    assert east / KN == pytest.approx([np.nan, 0.5, 0.75, 1.0, np.nan], nan_ok=True, abs=1e-9)
    assert np.allclose(north[1:4], 0.0, atol=1e-12)


def test_a_printed_table_is_the_same_as_its_words(tmp_path):
    file = tmp_path / "diamond.csv"
    rows = [f"{hour:+d},{way},{sp},{np_}" for hour, sp, np_, way in HOURS]
    file.write_text("\n".join(["Hours,Dir,Sp_kn,Np_kn", *rows]))
    times = START + np.arange(500, 560) * np.timedelta64(1800, "s")
    one = read_currents(file, heights=tide()).velocity(times)
    other = read_currents(WORDS, heights=tide()).velocity(times)
    assert np.array_equal(one, other, equal_nan=True)


@pytest.mark.parametrize(
    ("words", "heights", "what"),
    [
        ("HW-3 0.8 kn toward 340", tide(), "one hour from high water"),
        ("HW-3 0.8 kn toward 340, HW-5 1 kn toward 30", tide(), "not in order"),
        ("HW-3 0.8 kn toward 340, HW+20 1 kn toward 30", tide(), "further than 13"),
        ("HW-3 0.8 kn toward 340, HW+2 1 kn toward 400", tide(), "beyond 360"),
        ("HW-3 0.4/0.8 kn toward 340, HW+2 1 kn toward 30", tide(), "neaps is faster"),
        ("HW-3 0.8 kn toward 340, HW+2 90 kn toward 30", tide(), "can't be right"),
        ("HW-3 0.8 kn north, HW+2 1 kn toward 30", tide(), "can't read the current 'HW-3 0.8 kn"),
        ("HW-3 0.8 kn toward 340, HW+2 1 kn toward 30", None, "need the tide"),
    ],
)
def test_what_is_wrong_is_one_message(words, heights, what):
    with pytest.raises(WaterError, match=what):
        read_currents(words, heights=heights)


def test_springs_and_neaps_take_a_fortnight():
    current = read_currents(WORDS, heights=tide(6.0))
    with pytest.raises(WaterError, match="a whole fortnight"):
        current.velocity(START + np.timedelta64(48 * 3600, "s"))


def test_a_day_far_from_every_high_water_is_unknown():
    east, north = read_currents(WORDS, heights=tide()).velocity([START - np.timedelta64(900, "D")])
    assert np.isnan(east).all() and np.isnan(north).all()
