"""How much later the water turns on a ground, on seasons whose lag is known."""

from __future__ import annotations

import numpy as np
import pytest
from simulated_season import CRAFT_LEEWAY, season
from thoroughness import THOROUGH

from layers.water.learned.against_table import FilledCurrent, against_table
from layers.water.learned.drift_motions import drift_motions
from layers.water.learned.learning import learn_current
from layers.water.seen.corrected import Sighting, corrected

LATE_S, RATIO = 35 * 60.0, 0.8
LATE = np.timedelta64(int(LATE_S), "s")


class Station:
    """The table of a station: the ground's current is 35 min later and 0.8 times as fast."""

    everywhere = True

    def __init__(self, along):
        self.along = along

    def speed_along(self, times):
        return self.along.value(np.asarray(times, "datetime64[ns]") + LATE) / RATIO

    def velocity(self, times, longitude=None, latitude=None):
        speed = self.speed_along(times)
        return np.zeros(speed.shape), speed


@pytest.fixture(scope="module")
def learned_seasons():
    """Learned currents of two seasons, in the thorough set six, each with its own."""
    made = []
    for seed in range(1, 7 if THOROUGH else 3):
        one = season(seed)
        motions = drift_motions(one.fixes, one.drifts, one.wind)
        made.append((one, learn_current(motions, one.heights, CRAFT_LEEWAY)))
    return made


def test_lag_and_ratio_over_seasons(learned_seasons):
    """Turns are found within a quarter of an hour, and the eight-of-ten interval holds the truth in
    most: each case should by chance miss in 2 of 10, more than half of 12 in 1 of 250.
    """
    held, known = 0, 0
    for one, learned in learned_seasons:
        against = against_table(learned, Station(one.along))
        assert against is not None
        assert against.ratio[1] == pytest.approx(RATIO, abs=0.15)
        assert against.lag_s == pytest.approx(LATE_S, abs=15 * 60)
        held += against.ratio[0] <= RATIO <= against.ratio[2]
        known += 1
        for later in (against.flood, against.ebb):
            if later is not None:
                known += 1
                assert later.middle_s == pytest.approx(LATE_S, abs=20 * 60)
                held += later.low_s <= LATE_S <= later.high_s
    assert known >= 2 * len(learned_seasons)
    assert held >= 0.5 * known


def test_stages_that_no_drift_has_seen_are_filled_by_the_station():
    one = season(7, only_rising=True)
    learned = learn_current(
        drift_motions(one.fixes, one.drifts, one.wind), one.heights, CRAFT_LEEWAY
    )
    station = Station(one.along)
    against = against_table(learned, station)
    assert against is not None
    filled = FilledCurrent(learned, station, against)
    times = np.datetime64("2031-05-20", "ns") + np.arange(0, 48 * 12) * np.timedelta64(300, "s")
    unseen = ~learned.seen(times)
    assert unseen.any()
    flow, truth = np.array(filled.velocity(times)), np.array(one.current(times))
    assert np.isfinite(flow).all()
    assert np.hypot(*(flow - truth)[:, unseen]).mean() < 0.15
    seen = learned.velocity(times)
    assert (flow[0][~unseen] == seen[0][~unseen]).all()
    spread = filled.spread(times)
    assert np.isfinite(spread).all()
    assert (np.linalg.eigvalsh(spread) > 0).all()


def test_covariance_between_times_is_that_of_each_and_sightings_use_it(learned_seasons):
    """Blocks of one time are `spread`; a sighting at the prior's own doubt goes half the way."""
    learned = learned_seasons[0][1]
    times = np.datetime64("2031-05-20", "ns") + np.arange(24) * np.timedelta64(3600, "s")
    seen = learned.seen(times)
    whole, spread = learned.between(times, times), learned.spread(times)
    for i in np.flatnonzero(seen):
        block = whole[2 * i : 2 * i + 2, 2 * i : 2 * i + 2]
        assert block == pytest.approx(spread[i], rel=1e-9)
    assert np.linalg.eigvalsh(whole).min() > -1e-9
    i = int(np.flatnonzero(seen)[0])
    east, north = (float(part[0]) for part in learned.velocity(times[[i]]))
    shown = Sighting(times[i], east + 0.2, north, spread[i], "typed")
    better = corrected(learned, [shown])
    assert better.velocity(times[[i]])[0] == pytest.approx([east + 0.1], abs=1e-3)
    assert better.doubt_at(times[[i]])[0] == pytest.approx(spread[i] / 2, rel=1e-6)
    assert better.changes() is None


def test_a_table_of_other_days_says_nothing(learned_seasons):
    class Other(Station):
        def speed_along(self, times):
            return np.full(np.shape(times), np.nan)

    one, learned = learned_seasons[0]
    assert against_table(learned, Other(one.along)) is None
