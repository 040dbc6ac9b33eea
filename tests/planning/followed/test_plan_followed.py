"""Plans followed through the demo area's hidden truth.

docs/how_well.md has the measured factors over eight days; those asked for here leave room for
gusts, for starts tried farther apart, and for two days, or one, being few.
"""

import numpy as np
import pytest
from thoroughness import THOROUGH

from benchmarks.planning.drift_truth import TOLD_OF, new_days, own_trips
from benchmarks.planning.drift_worth import Planner, logbook_of_the_trips


@pytest.fixture(scope="module")
def planner(tmp_path_factory):
    return Planner(logbook_of_the_trips(tmp_path_factory.mktemp("log")), spacing_m=200.0)


@pytest.fixture(scope="module")
def days(planner):
    """An ebb, and in the thorough set a flood, neither of which the planner was tried on."""
    found = []
    for trip in new_days(TOLD_OF[: 2 if THOROUGH else 1]):
        rates, plan = planner.follow(trip)
        found.append((trip, rates, plan))
    return found


def test_a_plan_with_a_logbook_beats_random_lines_in_the_band(planner, days):
    for trip, rates, plan in days:
        assert rates.rod_hour > 5 * planner.random_lines(trip, plan, times=5).rod_hour


def test_it_beats_the_skippers_own_trips(days):
    own = [trip.rates for trip in own_trips()]
    for name in ("rod_hour", "hour"):
        planned = np.mean([getattr(rates, name) for _, rates, _ in days])
        assert planned > 1.1 * np.mean([getattr(rates, name) for rates in own])


def test_it_beats_the_same_logbook_without_a_current(planner, days):
    planned = np.mean([rates.rod_hour for _, rates, _ in days])
    by_rates = np.mean([planner.by_rates_alone(trip).rod_hour for trip, _, _ in days])
    assert planned > 1.1 * by_rates
