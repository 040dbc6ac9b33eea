"""A small run of the simulation in benchmarks/scoring_simulation.py, of one world alone.

The bounds are what is asked of a thousand seasons, widened by two standard errors of as few.
"""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.scoring_simulation import rows_of, simulate

SEASONS = 40


@pytest.fixture(scope="module")
def parts():
    return simulate(SEASONS, seed=17, response_seasons=5)


@pytest.mark.parametrize("which", ["cover all", "cover kept"])
def test_intervals_hold_the_truth_as_often_as_they_say(parts, which):
    held = parts["Poisson"][which]
    slack = 2 * np.sqrt(0.8 * 0.2 / len(held)) + 0.02  # lines of one season hang together
    assert 0.76 - slack <= np.mean(held) <= 0.84 + slack


def test_intervals_hold_where_fish_come_in_bunches(parts):
    assert np.mean(parts["bunched"]["cover all"]) > 0.70
    assert np.mean(parts["bunched"]["bunched"]) > 0.6


def test_our_order_loses_less_than_fish_counted(parts):
    lost = {name: np.mean(values) for name, values in parts["Poisson"].items() if "lost" in name}
    assert lost["lost by ours"] < 0.8 * lost["lost by fish counted"]


def test_even_lines_show_few_hot_stretches(parts):
    assert np.mean(parts["even"]["hot said"]) <= 0.06 + 2 * np.sqrt(0.06 * 0.94 / SEASONS)


def test_hot_stretches_are_seen_in_the_right_place(parts):
    assert np.mean(parts["hot"]["hot said"]) > 3 * np.mean(parts["even"]["hot said"])
    assert np.mean(parts["hot"]["hot right"]) > 0.9


def test_the_response_finds_what_is_there_and_nothing_else(parts):
    assert sum(parts["response"]["both found"]) >= 3
    assert sum(parts["response"]["silent"]) >= 3


def test_the_table_has_all_that_was_asked(parts):
    asked = [row for row in rows_of(parts) if row[2] != "-"]
    assert len(asked) == 11
