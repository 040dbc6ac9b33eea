"""The trim that a plan prints: for the start of a drift and, where it changes, for its end."""

from types import SimpleNamespace

import numpy as np
import pytest
from affine import Affine
from steady_drifts import PLACE, PLANE, START

from layers.jobs.plan.printed_rows import push_words
from layers.planning import DayWater, Doubt, DriftLimits, SafeWater, Setting, structure_worth
from layers.planning.day.plan_day import plan_day
from layers.planning.day.reasons import trim_words
from layers.planning.drift._motor import printed_pushes, trim_changes
from layers.water import CurrentTable, FixedCurrent, FixedWind, Leeway, WindTable
from layers.water.motion import Trim
from seabed.grid import make_grid

KNOT = 1852 / 3600
LEEWAY = Leeway(0.03, 0.0, 0.0, 0.0, 0.0, 0.0)
NO_DOUBT = Doubt(0.0, 0.0, 0.0, 0.0, 0.0)


def trim(push_kn, heading_deg):
    size = np.array([push_kn * KNOT])
    return Trim(np.array([float(heading_deg)]), size, size, np.array([True]))


@pytest.mark.parametrize(
    ("start", "end", "changes"),
    [
        ((0.5, 90), (0.5, 90), False),
        ((0.5, 90), (0.59, 99), False),
        ((0.5, 90), (0.61, 90), True),
        ((0.5, 90), (0.39, 90), True),
        ((0.5, 90), (0.5, 101), True),
        ((0.5, 355), (0.5, 4), False),  # round north
        ((0.5, 355), (0.5, 6), True),
        ((0.04, 90), (0.04, 270), False),  # nothing to speak of, either way
        ((0.0, np.nan), (0.09, 270), False),
        ((0.0, np.nan), (0.3, 270), True),
    ],
)
def test_a_trim_changes_by_more_than_a_tenth_of_a_knot_or_ten_degrees(start, end, changes):
    assert trim_changes(trim(*start), trim(*end))[0] == changes
    first, last = printed_pushes(trim(*start), trim(*end))
    speed, heading = end if changes else start
    way = np.radians(np.nan_to_num(heading))
    expected = speed * KNOT * np.array([np.sin(way), np.cos(way)])
    np.testing.assert_allclose(last[:, 0], expected, atol=1e-12)
    assert np.hypot(*first[:, 0]) == pytest.approx(start[0] * KNOT)


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        (None, None, "Motor up: drift free"),
        ((0.0, np.nan), (0.0, np.nan), "The boat needs no push"),
        ((0.04, 180), (0.0, np.nan), "The boat needs no push"),  # 0.0 kn in print
        ((0.3, 180), (0.3, 180), "Motor pushes gently against the drift, to slow it"),
        (
            (0.3, 180), (0.7, 185),
            "At first the motor pushes gently against the drift, to slow it; at the end the "
            "motor pushes steadily against the drift, to slow it",
        ),
        (
            (0.3, 60), (0.0, np.nan),
            "At first the motor pushes gently ahead and to the right of the drift; at the end the "
            "boat needs no push",
        ),
    ],
)  # fmt: skip
def test_the_words_say_the_start_and_where_it_differs_the_end(start, end, words):
    trims = (None if one is None else trim(*one) for one in (start, end))
    assert trim_words(*trims, 0.0) == words


def setting_of(currents, wind, **options):
    grid = make_grid(
        np.full((200, 300), 6.5, np.float32), crs="EPSG:4326",
        transform=Affine(1e-4, 0, PLACE[0] - 0.005, 0, -1e-4, PLACE[1] + 0.01),
    )  # fmt: skip
    water = DayWater(currents, LEEWAY, wind, held_mps=(0.2, 0.4), doubt=NO_DOUBT, **options)
    return Setting(SafeWater.of(grid), water, (5.0, 8.0), DriftLimits(longest_s=1800.0))


def test_a_plan_prints_both_ends_of_a_trim_that_changes():
    """Wind from abeam that freshens from 4 to 34 m/s in an hour: the push is its leeway's opposite.

    3 % of the wind: 0.12 m/s, and more by 0.9 an hour, which is 0.1 kn in 3 min 26 s.
    """
    wind = WindTable(
        START + np.array([0, 3600], "timedelta64[s]"), np.array([4.0, 34.0]), np.full(2, 180.0)
    )
    setting = setting_of(FixedCurrent(0.3, 90.0), wind)
    worth = structure_worth(setting.safe.grid, setting.band_m, [])
    end = START + np.timedelta64(3000, "s")
    passes = plan_day(setting, worth, START, end, spacing_m=200.0).passes
    assert len(passes)
    for row in passes.itertuples():
        after_s = (row.start.tz_localize(None).to_datetime64() - START) / np.timedelta64(1, "s")
        push = 0.12 + 0.9 * after_s / 3600
        assert row.push_mps == pytest.approx(push, abs=1e-6)
        assert row.push_end_mps == pytest.approx(push + 0.9 * row.drift_s / 3600, abs=1e-6)
        assert (row.push_deg, row.push_end_deg) == pytest.approx((180.0, 180.0), abs=0.01)


def test_a_trim_that_is_the_same_all_along_is_printed_for_both_ends():
    setting = setting_of(FixedCurrent(0.3, 90.0), FixedWind(5.0, 180.0))
    worth = structure_worth(setting.safe.grid, setting.band_m, [])
    end = START + np.timedelta64(3000, "s")
    lines = plan_day(setting, worth, START, end, spacing_m=200.0).lines
    assert (lines["push_end_mps"] == lines["push_mps"]).all()
    assert (lines["push_end_deg"] == lines["push_deg"]).all()


@pytest.mark.parametrize(("correct_every_s", "share"), [(np.inf, 1.0), (300.0, 0.25)])
def test_the_printed_trim_goes_the_planned_way_in_the_planned_water(correct_every_s, share):
    """Half an hour before slack, from 0.77 m/s to 0.51, 0.4 wanted: the rest is pushed against.

    The push that is printed changes evenly, the water's as a sine: an uncorrected boat ends ahead
    by the area between the sine and its chord, 6.6 m.  Corrected, it keeps a quarter or less.
    """
    times = START + np.array([-100, 80], "timedelta64[m]")
    currents = CurrentTable(times, np.array([1.2, 0.0]), np.array([False, True]), 90.0, 270.0)
    setting = setting_of(currents, FixedWind(0.0, 0.0), correct_every_s=correct_every_s)
    boats = setting.fan(*PLACE, START, 1800.0)
    east, _ = PLANE.transform(boats.longitude[:, -1], boats.latitude[:, -1])
    first, last = np.pi / 2 * np.array([100, 130]) / 180
    area = 1.2 * (np.sin(last) - np.sin(first)) * 10800 / (np.pi / 2)
    chord = 1.2 * (np.cos(first) + np.cos(last)) / 2 * 1800
    assert area - chord == pytest.approx(6.6, abs=0.1)
    ahead = east - 0.4 * 1800
    assert (ahead >= 0).all()
    if share == 1.0:
        np.testing.assert_allclose(ahead, area - chord, atol=0.05)
    assert (ahead <= share * (area - chord) + 0.05).all()


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        ((0.3, 237.0), (0.3, 237.0), "0.3 to 237"),
        ((0.3, 237.0), (0.52, 250.4), "0.3 to 237, then 0.5 to 250"),
        ((0.3, 237.0), (0.0, np.nan), "0.3 to 237, then none"),
        ((0.0, np.nan), (0.0, np.nan), "none"),
    ],
)
def test_a_push_is_written_with_its_end_where_that_differs(start, end, words):
    row = SimpleNamespace(
        push_mps=start[0] * KNOT, push_deg=start[1], push_end_mps=end[0] * KNOT,
        push_end_deg=end[1],
    )  # fmt: skip
    assert push_words(row, "kn") == words
