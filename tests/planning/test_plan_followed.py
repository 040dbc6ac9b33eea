"""A plan followed through the demo area's hidden truth."""

import pytest

from benchmarks.drift_worth import Planner, logbook_of_the_trips, new_days


@pytest.fixture(scope="module")
def planner(tmp_path_factory):
    return Planner(logbook_of_the_trips(tmp_path_factory.mktemp("log")), spacing_m=120.0)


@pytest.mark.parametrize("day", [0, 1], ids=["ebb", "flood"])
def test_a_plan_with_a_logbook_beats_random_lines_in_the_band(planner, day):
    """docs/planning.md has the measured factors, 14 and 5; three leaves room for gusts."""
    trip = new_days()[day]
    rates, plan = planner.follow(trip)
    assert rates.rod_hour > 3 * planner.random_lines(trip, plan, times=5).rod_hour
