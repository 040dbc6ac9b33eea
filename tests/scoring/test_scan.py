"""Scan statistics against brute force; p against its own law."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from layers.scoring.along import LineFish
from layers.scoring.patches import scan_ground
from layers.scoring.scan import chance_to_see, scan_stretch, shifted


def ratio(count, expected, total):
    if count < 2 or count <= expected:
        return 0.0
    rest = (total - count) * np.log((total - count) / (total - expected)) if total > count else 0.0
    return count * np.log(count / expected) + rest


def every_window(hours, fish, most):
    """All runs of bins, one by one."""
    share, total = hours / hours.sum(), int(fish.sum())
    best = 0.0, -1, -1
    for first in range(len(fish)):
        for last in range(first, len(fish)):
            part = share[first : last + 1].sum()
            if part <= most + 1e-12:
                found = ratio(fish[first : last + 1].sum(), total * part, total)
                best = max(best, (found, first, last))
    return best


def heat_of_each(share, rows, most):
    """Sum, over each row's windows that begin and end on fish, of likelihood ratio less one."""
    total = int(rows[0].sum())
    heat = np.zeros(len(rows))
    for first in range(len(share)):
        for last in range(first, len(share)):
            part = share[first : last + 1].sum()
            if part <= most + 1e-12:
                counts = rows[:, first : last + 1].sum(axis=1)
                known = np.array([ratio(n, total * part, total) for n in range(total + 1)])[counts]
                ends = (rows[:, first] > 0) & (rows[:, last] > 0) & (known > 0)
                heat += np.where(ends, np.exp(known) - 1.0, 0.0)
    return heat


@pytest.mark.parametrize("seed", range(25))
def test_the_hottest_stretch_is_that_of_brute_force(seed):
    random = np.random.default_rng(seed)
    hours = random.gamma(1.0, 0.1, 40)
    fish = random.poisson(hours * random.gamma(0.5, 6.0, 40))
    found = scan_stretch(hours, fish, replicates=0)
    best, first, last = every_window(hours, fish, 0.5)
    assert found is not None
    assert found.ratio == pytest.approx(best, rel=1e-9)
    # ends are on fish: bins without fish at the ends only cool a window
    assert first <= found.first <= found.last <= last
    assert found.fish == fish[first : last + 1].sum()


@pytest.mark.parametrize("seed", range(8))
def test_the_hottest_patch_is_that_of_brute_force(seed):
    random = np.random.default_rng(seed)
    xy, hours = random.uniform(0, 300, (60, 2)), random.gamma(1.0, 0.1, 60)
    fish = random.poisson(hours * random.gamma(0.5, 6.0, 60))
    found = scan_ground(xy, hours, fish, (30.0, 60.0, 100.0), replicates=0)
    share, total = hours / hours.sum(), int(fish.sum())
    best = 0.0
    for centre in xy:
        for radius in (30.0, 60.0, 100.0):
            inside = np.hypot(*(xy - centre).T) <= radius
            if share[inside].sum() <= 0.5:
                best = max(best, ratio(fish[inside].sum(), total * share[inside].sum(), total))
    assert found is not None and found.ratio == pytest.approx(best, rel=1e-9)


def test_fish_that_all_come_from_one_place_show_no_patch():
    assert scan_ground(np.zeros((3, 2)), [1.0, 1.0, 1.0], [1, 1, 1], (10.0,)) is None


def test_bunching_counts_pairs_beyond_those_of_the_rate():
    """Six fish in the first of four samples of an hour: 15 pairs.  At 1.5 fish a sample the rate
    explains 4 * 1.5^2 / 2 within samples and 3 * 1.5^2 from one to the next: 11.25.
    """
    line = SimpleNamespace(
        sample_fish=np.array([6, 0, 0, 0]), drift=np.zeros(4), fish=np.array([6.0]),
        hours=np.array([4.0]), place=np.zeros(4, int), sample_hours=np.ones(4),
    )  # fmt: skip
    assert LineFish.bunching.fget(line) == pytest.approx(1 + 2 * (15 - 11.25) / 6)


def test_a_planted_stretch_is_found():
    hours, fish = np.full(30, 0.5), np.zeros(30, int)
    fish[10:14], fish[[2, 20, 25]] = 4, 1
    found = scan_stretch(hours, fish)
    assert (found.first, found.last, found.fish) == (10, 13, 16)
    assert found.expected == pytest.approx(19 * 4 / 30)
    assert found.p == 0.001  # the least that 999 replicates can say


def test_more_fish_where_there_was_more_effort_is_no_stretch():
    hours = np.ones(30)
    hours[10:14] = 8.0
    found = scan_stretch(hours, hours.astype(int))
    assert found is None or found.p > 0.5


def test_p_is_fair_on_even_lines():
    """At p < 0.05 at most 1 in 20: of 400 lines 20, with a standard deviation of 4.4."""
    random = np.random.default_rng(11)
    false = 0
    for seed in range(400):
        hours = random.gamma(2.0, 0.05, 30)
        fish = random.poisson(hours * 4.0)
        found = scan_stretch(hours, fish, replicates=199, seed=seed)
        false += found is not None and found.p < 0.05
    assert false <= 31


def test_stopping_early_never_changes_what_is_called_hot():
    """All 999 drawn by brute force beside those that the sequential rule draws, of one seed."""
    random = np.random.default_rng(5)
    stopped = 0
    for seed in range(30):
        hours = random.gamma(2.0, 0.05, 12)
        fish = random.poisson(hours * np.where(np.arange(12) // 3 == 1, 25.0, 6.0))
        found = scan_stretch(hours, fish, seed=seed)
        if found is None:
            continue
        share = hours / hours.sum()
        strewn = np.random.default_rng(seed).multinomial(fish.sum(), share, size=999)
        heat = heat_of_each(share, np.vstack([fish, strewn]), 0.5)
        as_hot = heat[1:] >= heat[0] * (1 - 1e-9)
        whole = (1 + as_hot.sum()) / 1000
        if as_hot.sum() < 50:
            assert found.p == whole
        else:
            drawn = int(np.flatnonzero(as_hot)[49]) + 1  # Besag & Clifford: the fiftieth, and stop
            assert found.p == 50 / drawn >= 0.05
            stopped += 1
    assert 5 < stopped < 25


def test_too_few_fish_or_hours():
    assert scan_stretch([1.0, 1.0], [1, 0]) is None
    assert scan_stretch([1.0, 1.0], [0, 0]) is None
    assert scan_stretch([0.0, 0.0], [1, 1]) is None
    assert scan_stretch([], []) is None
    assert scan_ground(np.zeros((0, 2)), [], [], (10.0,)) is None


def test_a_fish_where_there_was_no_effort_does_not_break_it():
    found = scan_stretch([0.0, 2.0, 1.0, 3.0], [2, 0, 0, 1], replicates=9)
    least = scan_stretch([1.0, 2.0, 1.0, 3.0], [2, 0, 0, 1], replicates=9)  # as the least hour
    assert found is not None and least is not None
    assert found.ratio == pytest.approx(least.ratio)
    one = scan_stretch([0.0, 0.5, 1.0, 3.0], [1, 1, 0, 1], replicates=9)
    least = scan_stretch([0.5, 0.5, 1.0, 3.0], [1, 1, 0, 1], replicates=9)
    assert one is not None and least is not None
    assert one.ratio == pytest.approx(least.ratio)


def test_shifting_keeps_the_fish_of_a_drift_together():
    """Two drifts, of ten and six samples: each replicate is one of their rotations, as likely."""
    place = np.array([*range(10), *range(2, 8)])
    fish = np.zeros(16, int)
    fish[[3, 4, 12]] = 2, 1, 3
    drift, visit = np.repeat(["b", "a"], [10, 6]), np.repeat(["x", "y"], [10, 6])
    drawn = shifted(place, fish, drift, visit, 10)(np.random.default_rng(0), 4000)
    assert drawn.shape == (4000, 10) and (drawn.sum(axis=1) == 6).all()
    rotations = {
        (*(np.roll(fish[:10], i) + np.concatenate([[0, 0], np.roll(fish[10:], j), [0, 0]])),)
        for i in range(10)
        for j in range(6)
    }
    found, counts = np.unique(drawn, axis=0, return_counts=True)
    assert {tuple(row) for row in found.tolist()} == rotations
    # each of 60 comes 67 times on average, with a standard deviation of 8
    assert counts.min() > 67 - 4 * 8.2


def test_drifts_of_a_visit_shift_together():
    place, fish = np.tile(np.arange(10), 2), np.tile(np.eye(10, dtype=int)[4], 2)
    drift = np.repeat(["a", "b"], 10)
    both = shifted(place, fish, drift, np.repeat("x", 20), 10)(np.random.default_rng(0), 200)
    assert (both.max(axis=1) == 2).all()
    apart = shifted(place, fish, drift, drift, 10)(np.random.default_rng(0), 200)
    assert (apart.max(axis=1) == 1).any()


def test_a_stretch_that_has_nearly_all_the_fish_is_seen():
    """A thousand times the rest's rate on a fifth of the line: 39 or 40 of 40 fish are there."""
    assert chance_to_see(np.ones(25), 40, times=1000.0) > 0.99


@pytest.mark.parametrize("fish", [11, 40])
def test_the_chance_to_see_is_that_of_scanning_planted_lines(fish):
    random = np.random.default_rng(4)
    hours, seen = np.ones(25), 0
    for seed in range(200):
        begin = int(random.integers(0, 21))
        worth = np.where((np.arange(25) >= begin) & (np.arange(25) < begin + 5), 3.0, 1.0)
        counts = random.multinomial(fish, worth / worth.sum())
        found = scan_stretch(hours, counts, replicates=199, seed=seed)
        seen += found is not None and found.p < 0.03
    # two shares of 200 each: a standard deviation of 5 % at most
    assert chance_to_see(hours, fish) == pytest.approx(seen / 200, abs=0.15)
