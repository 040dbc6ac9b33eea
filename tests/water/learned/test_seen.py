"""The day's current corrected by what was seen: against closed forms and drawn days."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from thoroughness import THOROUGH

from layers.water import FixedCurrent
from layers.water.currents.currents import CurrentTable
from layers.water.line.cable import Tackle
from layers.water.seen.corrected import Sighting, TableDoubt, corrected
from layers.water.seen.sightings import SEEN_SHARE, parse_sighting, sightings_of_drifts
from layers.water.wind.leeway import Leeway
from seabed.errors import WaterError

KNOT = 0.514444
DAY = np.datetime64("2031-06-14T00:00", "ns")
ONLY_REST = TableDoubt(share=0.0, deg=0.0, late_s=0.0, rest_mps=0.1, rest_hours=6.0)


def at(*hours: float):
    return DAY + np.round(np.array(hours) * 3600e9).astype("timedelta64[ns]")


def sighting(hour: float, north: float, sd: float, east: float = 0.0) -> Sighting:
    return Sighting(at(hour)[0], east, north, sd**2 * np.eye(2), "typed")


def test_one_sighting_by_the_closed_form_of_two_normals():
    """Prior 0.4 +- 0.1, seen 0.2 +- 0.05: mean (0.4/0.01 + 0.2/0.0025) / (1/0.01 + 1/0.0025) =
    0.24, variance 1 / 500; six hours later e^-1 of the change is left.
    """
    better = corrected(FixedCurrent(0.4, 0.0), [sighting(7.5, 0.2, 0.05)], ONLY_REST)
    north = better.velocity(at(7.5, 13.5))[1]
    assert north == pytest.approx([0.24, 0.4 - 0.16 / np.e], abs=1e-4)
    left = better.doubt_at(at(7.5, 13.5))[:, 1, 1]
    assert left[0] == pytest.approx(0.002, rel=1e-6)
    assert left[1] == pytest.approx(0.01 - 0.01**2 * np.exp(-2) / 0.0125, rel=1e-6)


def test_a_table_that_is_weak_all_day_is_weak_later_too():
    """Share alone: seen 0.3 of 0.4 exactly makes all hours three quarters."""
    only = TableDoubt(share=0.15, deg=0.0, late_s=0.0, rest_mps=0.0)
    better = corrected(FixedCurrent(0.4, 60.0), [_exact(7.0, 0.3, 60.0)], only)
    east, north = better.velocity(at(7.0, 20.0))
    assert np.hypot(east, north) == pytest.approx([0.3, 0.3], abs=1e-3)
    changes = better.changes()
    assert changes is not None
    assert changes["share"] == (pytest.approx(-0.25, abs=1e-3), pytest.approx(0.0, abs=1e-2))


def _exact(hour, speed, toward):
    angle = np.radians(toward)
    return sighting(hour, speed * np.cos(angle), 1e-4, speed * np.sin(angle))


def wave_table(late_min: float = 0.0, share: float = 1.0) -> CurrentTable:
    """Slack every 6 h from midnight (and `late_min`), 0.5 m/s between, north then south."""
    hours = np.arange(-12.0, 37.0, 3.0)
    along = np.array([0.0, 0.5, 0.0, -0.5] * 5)[: len(hours)] * share
    return CurrentTable(at(*(hours + late_min / 60)), along, along == 0.0, 0.0, 180.0)


def test_a_late_tide_is_seen_at_slack_and_held_through_the_day():
    """A water 15 min later than its table: two sightings about slack find the lag within its own
    doubt, and halve the error of the next slack and of the afternoon.
    """
    table, truth = wave_table(), wave_table(15.0)
    seen = [sighting(hour, float(truth.velocity(at(hour))[1][0]), 0.02) for hour in (5.5, 6.2)]
    better = corrected(table, seen)
    changes = better.changes()
    assert changes is not None
    late, doubt = changes["late_s"]
    assert abs(late - 900) < 2 * doubt
    assert 300 < late < 1200
    later = at(*np.arange(7.0, 16.0, 0.1))
    off = [
        np.abs(one.velocity(later)[1] - truth.velocity(later)[1]).mean() for one in (better, table)
    ]
    assert off[0] < 0.6 * off[1]


def test_over_drawn_days_the_interval_holds_the_truth():
    """Days drawn from the prior itself: after two sightings the 90 % interval of the current four
    hours later holds the true one in 90 % (within 3 standard deviations), and the error is less
    than the table's.
    """
    rng, doubt = np.random.default_rng(5), TableDoubt()
    table, moments, hours = wave_table(), at(7.0, 8.0, 12.0), np.array([7.0, 8.0, 12.0])
    prior = np.array(table.velocity(moments)).T
    rate = (
        np.array(table.velocity(moments + np.timedelta64(300, "s")))
        - np.array(table.velocity(moments - np.timedelta64(300, "s")))
    ).T / 600
    turned = np.stack([prior[:, 1], -prior[:, 0]], axis=-1)
    alike = np.linalg.cholesky(np.exp(-np.abs(hours[:, None] - hours) / doubt.rest_hours))
    held, better_off, table_off, days = 0, 0.0, 0.0, 400 if THOROUGH else 120
    for _ in range(days):
        share, turn, late = rng.standard_normal(3)
        rest = doubt.rest_mps * alike @ rng.standard_normal((3, 2))
        true = prior + doubt.share * share * prior + np.radians(doubt.deg) * turn * turned
        true = true - doubt.late_s * late * rate + rest
        noisy = true[:2] + 0.05 * rng.standard_normal((2, 2))
        seen = [
            Sighting(moments[i], *noisy[i], 0.05**2 * np.eye(2), "") for i in range(2)
        ]  # fmt: skip
        better = corrected(table, seen)
        north = float(better.velocity(moments[2:])[1][0])
        sd = float(np.sqrt(better.doubt_at(moments[2:])[0, 1, 1]))
        held += abs(north - true[2, 1]) < 1.645 * sd
        better_off += (north - true[2, 1]) ** 2
        table_off += (prior[2, 1] - true[2, 1]) ** 2
    assert held / days == pytest.approx(0.90, abs=3 * np.sqrt(0.9 * 0.1 / days))
    assert better_off < table_off


def test_a_drift_shows_its_velocity_less_the_leeway_in_its_middle():
    """Three pieces in a wind from the south, which pushes a craft of 3 % and no spread north."""
    craft = Leeway(0.03, 0.0, 0.02, 0.0, 0.0, 0.0)
    motions = pd.DataFrame({
        "trip": "t", "drift_id": "d", "time": at(7.0, 7.2, 7.4), "east_mps": [0.1, 0.2, 0.3],
        "north_mps": 0.5, "wind_mps": 5.0, "wind_from_deg": 180.0,
    })  # fmt: skip
    (seen,) = sightings_of_drifts(motions, craft)
    assert seen.time == at(7.2)[0]
    push = np.array(craft.velocity(5.0, 180.0))
    assert (seen.east_mps, seen.north_mps) == pytest.approx((0.2 - push[0], 0.5 - push[1]))


def test_errors_that_sightings_share_do_not_average_out():
    """Ten drifts of one leeway: their common 0.05 stays, so the prior's 0.1 keeps its weight."""
    shared = [
        Sighting(at(7.0)[0], 0.0, 0.2, 1e-8 * np.eye(2), "", shared_mps=0.05) for _ in range(10)
    ]
    better = corrected(FixedCurrent(0.4, 0.0), shared, ONLY_REST)
    assert better.velocity(at(7.0))[1] == pytest.approx([0.24], abs=1e-3)


def test_words_of_a_sighting_are_read_alike():
    day = date(2031, 6, 14)
    for words in ("7:40 0.5 kn toward 340", "at 7:40 it ran 340 at 0.5", "07:40, 0.5 kn to 340",
                  "at 7.40 it ran toward 340 at 0.5 kn"):  # fmt: skip
        seen = parse_sighting(words, day, "Etc/GMT+2", Tackle())
        assert str(seen.time)[:16] == "2031-06-14T09:40"
        assert (seen.east_mps, seen.north_mps) == pytest.approx(
            (0.5 * KNOT * np.sin(np.radians(340)), 0.5 * KNOT * np.cos(np.radians(340))), rel=1e-4
        )
        # a tenth of a knot and a share of the speed, as the docs of the figures say
        sd = np.hypot(0.1 * KNOT, SEEN_SHARE * 0.5 * KNOT)
        assert seen.spread == pytest.approx(sd**2 * np.eye(2), rel=1e-4)
    line = parse_sighting("7:40 30 deg toward 340, 1.5 oz, 25 ft", day, "UTC", Tackle())
    assert np.hypot(line.east_mps, line.north_mps) == pytest.approx(0.75 * KNOT, abs=0.01)
    along = np.array([line.east_mps, line.north_mps]) / np.hypot(line.east_mps, line.north_mps)
    assert 0.04 < np.sqrt(along @ line.spread @ along) < 0.08


@pytest.mark.parametrize("words", ["0.5 kn toward 340", "7:40", "25:00 1 kn toward 3", "7:40 fast"])
def test_words_that_are_no_sighting_say_so(words):
    with pytest.raises(WaterError):
        parse_sighting(words, date(2031, 6, 14), "UTC", Tackle())


def test_hours_at_which_the_table_is_unknown_are_refused():
    with pytest.raises(WaterError, match="not known at the hours"):
        corrected(wave_table(), [sighting(24 * 40.0, 0.2, 0.1)])
