"""Passes of a visit, and tackle of a trip: a published example, brute force, small worlds."""

from __future__ import annotations

import re
from itertools import product

import numpy as np
import pandas as pd
import pytest

from benchmarks.worlds import passes, seasons, tackle
from layers.scoring.within.depletion import fit_depletion
from layers.scoring.within.tackle import _split, _Use, compare_tackle, tackle_sentences

# Smallmouth bass of Little Silver Lake, ten catches of equal effort (Omand 1951, from memory), for
# which Ricker (1975, example 6.1) gives 0.10676 of the stock taken by each, by Leslie's method: a
# regression on these numbers gives his figures to the last digit.
BASS = np.array([131, 69, 99, 78, 56, 76, 49, 42, 63, 47])
RICKER = 0.10676


def test_the_fall_of_a_published_example():
    """One season of eight alike visits: the estimate is that of one, with trips to witness it."""
    lower, _ = np.polyfit(np.cumsum(BASS) - BASS / 2, BASS, 1)
    assert -lower == pytest.approx(RICKER, abs=5e-6)
    visits = 8
    found = fit_depletion(
        np.tile(BASS, visits), np.ones(80), np.zeros(80), np.repeat(np.arange(visits), 10),
        np.arange(80),
    )  # fmt: skip
    # the count of one season as a multinomial leaves a standard error of 0.0134 on the fall
    assert found.fall == pytest.approx(-np.log(1 - RICKER), abs=0.0134)
    assert found.share(1) == (1.0, 1.0, 1.0)


def test_the_fall_is_said_in_words():
    random = np.random.default_rng(1)
    due = np.tile(6.0 * 0.7 ** np.arange(4), 30)
    trip = np.repeat(np.arange(30), 4)
    found = fit_depletion(random.poisson(due), np.ones(120), np.zeros(120), trip, np.arange(120))
    _, low, high = found.share(4, level=0.98)
    assert low < 0.7**3 < high
    best, low, high = found.share(4)
    assert found.sentence() == (
        f"The fourth pass of a visit pays {best:.0%} of the first ({low:.0%} to {high:.0%}; "
        "30 visits of several passes)."
    )


def test_few_passes_say_nothing():
    trip = np.repeat(np.arange(4), 4)
    assert fit_depletion(np.full(16, 5), np.ones(16), np.zeros(16), trip, np.arange(16)) is None


def test_other_lines_between_begin_a_visit_anew():
    """Fish fall by the pass, but each pass is on another line than the one before it."""
    count, line = np.tile([8, 6, 4, 2], 20), np.tile([0, 1, 0, 1], 20)
    trip = np.repeat(np.arange(20), 4)
    assert fit_depletion(count, np.ones(80), line, trip, np.arange(80)) is None


@pytest.mark.parametrize(
    ("world", "least", "most"), [("leaves_when_blank", 0, 3), ("fall_30", 9, 12)]
)
def test_depletion_in_small_worlds(world, least, most):
    # claims where there is none: 6 % of 12, two standard errors above; where there is: 95 %
    said = sum(passes.judged(seed, world)["says"] for seed in range(5000, 5012))
    assert least <= said <= most


def test_the_law_of_a_split_is_that_of_all_that_may_happen():
    """Every way to deal 6 fish to three rods, none left out, by brute force."""
    uses = {"1": _Use(3, 2.0, 2.0), "2": _Use(1, 1.0, 1.0), "3": _Use(2, 1.0, 1.5)}
    due = np.array([2.0, 1.0, 1.5])
    chance = np.zeros(7)
    for deal in product(range(3), repeat=6):
        if len(set(deal)) == 3:
            chance[deal.count(0)] += due[list(deal)].prod()
    _, law, total = _split(uses, "1")
    assert total == 6
    ours = np.exp(law) / np.exp(law).sum()
    assert ours == pytest.approx(chance[1:5] / chance.sum(), abs=1e-9)


def test_a_better_rod_is_found_and_said():
    drifts, fish = tackle.season(5003, "rod_150")
    lines = pd.DataFrame({"line": drifts["line"].unique(), "rate_all": 2.0})
    table = compare_tackle(drifts, fish, lines)
    row = table[(table["factor"] == "rod") & (table["value"] == "2")].iloc[0]
    assert row["times_low"] < 1.5 < row["times_high"]
    first = tackle_sentences(table)[0]
    assert ("times as many fish as others on the same trips" in first) == table["differs"].any()


def test_a_sentence_says_the_difference_that_the_trips_show():
    """Four times the same trips: half the error, so that half the log ratio is seen."""
    drifts, fish = tackle.season(5003, "even")
    lines = pd.DataFrame({"line": drifts["line"].unique(), "rate_all": 2.0})
    later = [
        [
            table.assign(**{name: f"{i} " + table[name] for name in ("trip", "drift_id")}
                         if "trip" in table else {"drift_id": f"{i} " + table["drift_id"]})
            for i in range(4)
        ]
        for table in (drifts, fish)
    ]  # fmt: skip
    four = compare_tackle(*(pd.concat(parts, ignore_index=True) for parts in later), lines)

    def seen(table):
        (said,) = [one for one in tackle_sentences(table) if one.startswith("Rod:")]
        trips, times = re.search(r"; (\d+) trips show ([\d.]+) times", said).groups()
        return int(trips), np.log(float(times))

    (once, reach), (more, less) = seen(compare_tackle(drifts, fish, lines)), seen(four)
    assert more == 4 * once
    assert less == pytest.approx(reach / 2, abs=0.1)  # times are printed to a tenth


@pytest.mark.parametrize("world", ["on_good_days", "late"])
def test_good_days_and_late_hours_make_no_bait_better(world):
    said = sum(tackle.judged(seed, world)["says"] for seed in range(5000, 5010))
    assert said <= 2  # 6 % of 10, two standard errors above


def test_one_bait_alone_is_not_compared():
    drifts, fish = tackle.season(1, "even")
    lines = pd.DataFrame({"line": drifts["line"].unique(), "rate_all": 2.0})
    assert not len(compare_tackle(drifts, fish.assign(bait="worm", rod="", person=""), lines))
    assert tackle_sentences(compare_tackle(drifts, fish.iloc[:0], lines)) == []


def test_angles_of_the_line_are_compared_in_steps_of_fifteen_degrees():
    drifts, fish = tackle.season(1, "even")
    lines = pd.DataFrame({"line": drifts["line"].unique(), "rate_all": 2.0})
    words = np.resize(["5", "10 deg", "20°", "25", "slack"], len(fish))
    table = compare_tackle(drifts, fish.assign(bait="", rod="", person="", angle=words), lines)
    assert set(table["factor"]) == {"angle"}
    assert set(table["value"]) == {"0 to 15 degrees", "15 to 30 degrees"}


def test_intervals_of_lines_hold_the_truth_as_often_as_they_say():
    told = [seasons.judged(seed, "gamma")["held"] for seed in range(5000, 5020)]
    # 20 seasons of some 10 lines that hang together: a standard error of 4 %
    assert 0.68 <= np.mean(told) <= 0.92
