"""Passes of a visit, and tackle of a trip: a published example, brute force, small worlds."""

from __future__ import annotations

import re
from itertools import product

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.optimize import brentq
from thoroughness import THOROUGH

from benchmarks.worlds import passes, seasons, tackle
from layers.scoring.within.depletion import Depletion, fit_depletion
from layers.scoring.within.tackle import (
    _all_trip,
    _in_turns,
    _row,
    _split,
    _times,
    _Use,
    compare_tackle,
    tackle_sentences,
)

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


@pytest.mark.parametrize(("passes", "word"), [(74, "third"), (75, "fourth")])
def test_the_fourth_pass_is_named_from_two_and_a_half_a_visit(passes, word):
    found = Depletion(0.3, 0.05, passes, 30, 30, 1.0)
    assert found.sentence().startswith(f"The {word} pass of a visit pays ")


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


def test_hours_of_a_trip_by_hand():
    """Two drifts of one and two hours on lines that pay 2 and 1 an hour.

    Bait changes at 9:30, half-way between the last worm at 9:00 and the first squid at 10:00; rods
    fish every hour.
    """
    spans = np.array([[8.0, 9.0], [9.0, 11.0]]) * 3600
    drifts = spans, np.array([2.0, 1.0])
    value, moment = np.array(["worm", "worm", "squid"]), np.array([8.5, 9.0, 10.0]) * 3600
    turns = _in_turns(value, moment, np.zeros(3, str), drifts)
    assert turns == {"worm": _Use(2, 1.5, 2.5), "squid": _Use(1, 1.5, 1.5)}
    assert _all_trip(value, drifts) == {"worm": _Use(2, 3.0, 4.0), "squid": _Use(1, 3.0, 4.0)}


def test_trips_that_could_not_be_otherwise_say_nothing():
    """One fish each of two: fifty such trips leave no chance to compute."""
    row = _row("bait", "worm", [{"worm": _Use(1, 2.0, 2.0), "squid": _Use(1, 2.0, 2.0)}] * 50)
    assert row["trips_beside"] == 50
    assert np.isnan([row["times"], row["p"]]).all()
    row = _row("bait", "worm", [{"worm": _Use(2, 2.0, 2.0), "squid": _Use(1, 2.0, 2.0)}] * 50)
    assert np.isfinite(row["p"])


def test_limits_of_a_ratio_are_students_about_the_likeliest():
    """Two values on equal hours, of three and more fish: a binomial without its ends.

    The likeliest log ratio is where the score is zero; its error is the root of the summed squares
    of the scores over the slope of their sum, by differences; Student's law for one degree less.
    """
    fish = [(3, 5), (2, 4), (6, 9), (1, 3), (4, 5), (2, 6), (5, 6)]
    splits = [_split({"a": _Use(n, 1.0, 1.0), "b": _Use(m - n, 1.0, 1.0)}, "a") for n, m in fish]

    def scores(at):
        out = []
        for n, m in fish:
            k = np.arange(1, m)
            chance = stats.binom.pmf(k, m, 1 / (1 + np.exp(-at)))
            out.append(n - (k * chance).sum() / chance.sum())
        return np.array(out)

    best = brentq(lambda at: scores(at).sum(), -4, 4)
    slope = -(scores(best + 1e-4).sum() - scores(best - 1e-4).sum()) / 2e-4
    error = np.sqrt((scores(best) ** 2).sum() * 7 / 6) / slope
    reach = stats.t.ppf(0.9, 6) * error
    found = _times(splits)
    assert np.log([found["times"], found["times_low"], found["times_high"]]) == pytest.approx(
        [best, best - reach, best + reach], abs=1e-4
    )
    even = scores(0.0)
    chance = 2 * stats.t.sf(abs(even.sum()) / np.sqrt((even**2).sum()), 6)
    assert found["p"] == pytest.approx(chance)


def test_a_value_that_took_all_it_could_has_no_ratio():
    splits = [_split({"a": _Use(2, 1.0, 1.0), "b": _Use(1, 1.0, 1.0)}, "a")] * 7
    found = _times(splits)
    assert np.isnan([found["times"], found["times_low"], found["times_high"]]).all()
    assert 0 < found["p"] < 0.05


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
    told = [
        seasons.judged(seed, "gamma")["held"] for seed in range(5000, 5020 if THOROUGH else 5010)
    ]
    # 20 or 10 seasons of some 10 lines that hang together: a standard error of 4 or 6 %
    assert 0.68 <= np.mean(told) <= 0.92
