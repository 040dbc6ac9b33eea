"""Metres, speeds, noise and the most likely path, against other ways to the same numbers."""

import itertools

import numpy as np
import pytest

from layers.tracks.motion import local_lines, noise_of, running_median
from layers.tracks.spells import broken_lines
from layers.tracks.viterbi import most_likely_states


@pytest.mark.parametrize("half_s", [4.0, 15.0, 200.0])
def test_local_lines_against_polyfit(half_s):
    rng = np.random.default_rng(7)
    time_s = np.cumsum(rng.choice([1.0, 2.0, 5.0, 30.0], 120))
    x, y = rng.normal(0, 5, 120).cumsum(), rng.normal(0, 5, 120).cumsum()
    moments = np.linspace(time_s[0], time_s[-1], 60)
    px, py, vx, vy = local_lines(time_s, x, y, moments, half_s)
    for i, moment in enumerate(moments):
        near = np.flatnonzero(np.abs(time_s - moment) <= half_s)
        if len(near) < 2:
            continue
        for values, place, speed in ((x, px, vx), (y, py, vy)):
            slope, start = np.polyfit(time_s[near] - moment, values[near], 1)
            assert place[i] == pytest.approx(start, abs=1e-8)
            assert speed[i] == pytest.approx(slope, abs=1e-9)


def test_local_lines_take_the_two_nearest_where_the_window_is_empty():
    time_s = np.array([0.0, 30.0, 60.0])
    x = np.array([0.0, 30.0, 0.0])
    _, _, vx, _ = local_lines(time_s, x, x, np.array([10.0, 40.0]), 5.0)
    np.testing.assert_allclose(vx, [1.0, -1.0])


def test_running_median_against_brute_force():
    values = np.random.default_rng(8).normal(size=50)
    expected = [
        np.median(values[i - r : i + r + 1]) for i in range(50) for r in [min(3, i, 49 - i)]
    ]
    np.testing.assert_array_equal(running_median(values, 3), expected)


@pytest.mark.parametrize("spacing", ["even", "uneven"])
def test_noise_is_found_under_motion_and_outliers(spacing):
    rng = np.random.default_rng(9)
    time_s = np.cumsum(np.ones(4000) if spacing == "even" else rng.choice([1.0, 3.0, 9.0], 4000))
    x = 8.0 * time_s + rng.normal(0, 4.0, 4000)
    y = rng.normal(0, 4.0, 4000)
    y[::40] += 200.0
    # Standard error of a median of 8,000 correlated values is about 2 %; outliers add some 6 %.
    assert noise_of(time_s, x, y) == pytest.approx(4.0, rel=0.12)


@pytest.mark.parametrize(("before", "after"), [(True, True), (True, False), (False, True)])
def test_broken_lines_against_least_squares(before, after):
    rng = np.random.default_rng(11)
    time_s = 1.9e9 + np.cumsum(rng.choice([1.0, 2.0, 7.0], 60))
    x, y = rng.normal(0, 5, 60).cumsum() + 4e4, rng.normal(0, 5, 60).cumsum()
    knees = time_s[10:50:3] + 0.4
    misfit, speed = broken_lines(time_s, x, y, knees, before, after)
    for i, knee in enumerate(knees):
        columns = [np.ones(60)]
        columns += [np.minimum(time_s - knee, 0)] if before else []
        columns += [np.maximum(time_s - knee, 0)] if after else []
        design, seen = np.column_stack(columns), np.column_stack([x - x.mean(), y])
        found = np.linalg.lstsq(design, seen)[0]
        assert misfit[i] == pytest.approx(((seen - design @ found) ** 2).sum(), rel=1e-6)
        assert speed[i] == pytest.approx(np.hypot(*found[-1]), rel=1e-5)


def brute_force(evidence, least, cost, free_start, free_end) -> float:
    """Score of the best allowed sequence, by trying all."""
    steps, states = evidence.shape
    best = -np.inf
    for path in itertools.product(range(states), repeat=steps):
        runs = [(k, len(list(group))) for k, group in itertools.groupby(path)]
        allowed = all(
            long >= least[k] or (i == 0 and free_start) or (i == len(runs) - 1 and free_end)
            for i, (k, long) in enumerate(runs)
        )
        if allowed:
            score = sum(evidence[i, k] for i, k in enumerate(path)) - cost * (len(runs) - 1)
            best = max(best, score)
    return best


@pytest.mark.parametrize("free_start", [True, False])
@pytest.mark.parametrize("free_end", [True, False])
@pytest.mark.parametrize("least", [(1, 1), (2, 3), (4, 1), (3, 2, 2), (1, 1, 1)])
def test_most_likely_states_against_brute_force(free_start, free_end, least):
    rng = np.random.default_rng(10 + 2 * free_start + free_end)
    for _ in range(25):
        evidence = rng.normal(0, 2, (8 if len(least) == 2 else 6, len(least)))
        path = most_likely_states(evidence, np.array(least), 1.0, free_start, free_end)
        runs = [(k, len(list(group))) for k, group in itertools.groupby(path)]
        score = evidence[np.arange(len(path)), path].sum() - (len(runs) - 1)
        assert score == pytest.approx(brute_force(evidence, least, 1.0, free_start, free_end))


def test_too_few_steps_for_any_state():
    path = most_likely_states(np.array([[0.0, 1.0]] * 3), np.array([9, 9]), 1.0, False, False)
    assert path.tolist() == [1, 1, 1]
