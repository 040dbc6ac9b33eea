"""What is set aside and why: hand-made lines, and simulated surveys whose errors are known."""

import numpy as np
import pandas as pd
import pytest
from simulated_survey import DOUBLE, GOOD, LOST, SPIKE, survey, true_bottom

from seabed.soundings import flagged, sounding_table
from seabed.soundings.flags import flagging
from seabed.soundings.flags._filtering import line_level, running_median, second_difference
from seabed.soundings.flags.flagging import fit_noise
from seabed.soundings.orders import ORDER_1A, ORDERS
from seabed.soundings.sounding_table import empty_soundings


def line(depth, *, step_m=3.0, **columns):
    """Soundings a second apart on a line to the east."""
    count = len(depth)
    return sounding_table(
        time=np.datetime64("2031-06-14T09:00", "ns") + np.arange(count) * np.timedelta64(1, "s"),
        longitude=-33.0 + np.arange(count) * step_m / 77_000.0,
        latitude=np.full(count, 46.0),
        measured_m=np.asarray(depth, float),
        **{"to_surface_m": np.zeros(count), "sog_mps": np.full(count, step_m), **columns},
    )


def slope(count=120, seed=0):
    return 8.0 + 0.05 * np.arange(count) + np.random.default_rng(seed).normal(0, 0.05, count)


def flags(depth, **columns):
    table, report = flagged(line(depth, **columns))
    assert sum(report.counts.values()) == len(depth)
    assert table["measured_m"].tolist() == pytest.approx(np.float32(depth).tolist(), nan_ok=True)
    return table["flag"].astype(str).to_numpy()


def test_a_clean_line_keeps_every_sounding():
    assert (flags(slope()) == "").all()


def test_blanks_zeros_and_spikes():
    depth = slope()
    depth[[10, 11]] = np.nan
    depth[20] = 0.0
    depth[30] = -1.0
    depth[[50, 51, 80]] += [2.0, 1.7, -3.0]
    found = flags(depth)
    assert (found[[10, 11, 20, 30]] == "lost bottom").all()
    assert (found[[50, 51, 80]] == "spike").all()
    assert (np.delete(found, [10, 11, 20, 30, 50, 51, 80]) == "").all()


def test_a_double_echo_has_the_transducer_in_it_once():
    depth = slope()
    depth[40:52] = 2 * depth[40:52] + 0.5
    found = flags(depth, to_surface_m=np.full(len(depth), 0.5))
    assert (found[40:52] == "double echo").all()
    assert (np.delete(found, np.s_[40:52]) == "").all()


def test_a_bank_is_no_spike_and_a_step_stays():
    """A hump 3 m high and 30 m wide, and a ledge of 4 m, under a boat at 3 m/s."""
    at = np.arange(160)
    depth = slope(160) - 3.0 * np.exp(-0.5 * ((at - 50) / 5.0) ** 2) + 4.0 * (at > 110)
    assert (flags(depth) == "").mean() > 0.98


def test_a_number_that_sticks_under_a_moving_boat():
    depth = slope()
    depth[60:90] = depth[60]
    found = flags(np.round(depth, 2))
    assert (found[62:89] == "lost bottom: same number repeated").all()
    assert (found[:58] == "").all()
    # the same from a boat that does not move
    assert (flags(np.round(np.where(np.arange(120) < 60, 8.0, 8.1), 2), step_m=0.01) == "").all()


def test_coarse_numbers_on_a_flat_are_not_stuck():
    rng = np.random.default_rng(1)
    depth = np.round(6.0 + 0.02 * rng.normal(size=300), 1)
    assert (depth[1:] == depth[:-1]).mean() > 0.9  # that is how they come
    assert (flags(depth) == "").all()


def test_noise_with_depth_and_at_speed():
    """As put in: 0.1 m and 1 % of the depth, threefold above 6 m/s."""
    rng = np.random.default_rng(4)
    depth = np.repeat(np.linspace(4, 30, 4000), 5)
    speed = np.where(np.arange(20_000) % 4000 < 1000, 8.5, 2.5)
    sigma = (0.1 + 0.01 * depth) * np.where(speed > 6, 3, 1)
    noisy = depth + rng.normal(size=len(depth)) * sigma
    off = second_difference(noisy, np.zeros(len(depth), np.int32), np.ones(len(depth), bool))
    noise = fit_noise(off, noisy, speed)
    assert noise.metres == pytest.approx(0.1, abs=0.015)
    assert noise.share == pytest.approx(0.01, abs=0.0015)
    np.testing.assert_allclose(noise.sigma_m(depth, speed), sigma, rtol=0.15)


def test_speed_that_makes_it_too_noisy():
    rng = np.random.default_rng(5)
    speed = np.where(np.arange(600) < 200, 9.0, 2.5)
    depth = 8.0 + rng.normal(size=600) * np.where(speed > 5, 0.5, 0.1)
    found = flags(depth, sog_mps=speed)
    assert (found[:200] == "too noisy at this speed").mean() > 0.95
    assert (found[200:] == "").mean() > 0.99


def test_flags_that_are_there_stay_and_sigma_is_of_the_good():
    table = line(slope())
    table["flag"] = pd.Categorical(["mine"] + [""] * 119)
    table.loc[5, ["longitude", "latitude"]] = np.nan
    found, report = flagged(table)
    assert found["flag"].astype(str)[[0, 5, 6]].tolist() == ["mine", "no position", ""]
    assert report.counts["mine"] == 1
    assert found["sigma_m"].isna().tolist() == [i in (0, 5) for i in range(120)]
    assert len(flagged(empty_soundings())[0]) == 0


def test_scores_on_simulated_surveys():
    truth = true_bottom()
    for seed in (1, 2, 3):
        sailed = survey(seed=seed, truth=truth)
        table, _ = flagged(sailed.table(cleaned=False))
        bad = (table["flag"] != "").to_numpy()
        slow = ~sailed.fast
        assert bad[(sailed.kind == SPIKE) & slow].mean() >= 0.98
        assert bad[(sailed.kind == DOUBLE) & slow].mean() >= 0.98
        assert bad[(sailed.kind == LOST) & slow].mean() >= 0.95
        assert bad[(sailed.kind == GOOD) & slow].mean() <= 0.002
        kept = ~bad & slow
        assert table["sigma_m"][kept].mean() == pytest.approx(sailed.noise_m[kept].mean(), rel=0.15)


def test_the_running_median_against_brute_force():
    rng = np.random.default_rng(6)
    depth = rng.normal(size=200)
    number = pd.Series(np.repeat([0, 1, 2], [90, 3, 107]).astype(np.int32)).to_numpy()
    use = rng.random(200) > 0.2
    found = running_median(depth, number, use, 9)
    for i in np.flatnonzero(use):
        rows = np.flatnonzero(use & (number == number[i]))
        at = int(np.searchsorted(rows, i))
        near = rows[max(0, at - 4) : at + 5]
        assert found[i] == pytest.approx(np.median(depth[near]))


def test_repeated_medians_against_their_definition():
    """Siegel (1982): the median of the medians of the slopes through each point."""
    rng = np.random.default_rng(7)
    seconds = np.sort(rng.uniform(0, 60, 60))
    depth = 5 + 0.3 * seconds + rng.normal(size=60)
    number, use = np.zeros(60, np.int32), np.ones(60, bool)
    level, scale = line_level(seconds, depth, number, use, np.array([30]), neighbours=5)
    near = np.delete(np.arange(25, 36), 5)
    slopes = [
        np.median([(depth[j] - depth[i]) / (seconds[j] - seconds[i]) for j in near if j != i])
        for i in near
    ]
    at = depth[near] - np.median(slopes) * (seconds[near] - seconds[30])
    assert level[0] == pytest.approx(np.median(at))
    assert scale[0] == pytest.approx(1.4826 * np.median(np.abs(at - np.median(at))))


def test_orders_of_the_standard():
    """Order 1a: 0.5 m and 1.3 % (IHO S-44); at 20 m the root of 0.5² + 0.26²; the rest rise."""
    assert ORDER_1A.uncertainty_m(20.0) == pytest.approx(np.sqrt(0.25 + 0.0676))
    at = [float(order.uncertainty_m(20.0)) for order in ORDERS]
    assert at == sorted(at)


def test_the_parts_that_soundings_are_judged_in_change_nothing(monkeypatch):
    depth = slope(1000)
    depth[5::90] *= 2.0
    depth[40::110] += 3.0
    soundings = line(depth)
    whole, report = flagged(soundings)
    monkeypatch.setattr(flagging, "_AT_ONCE", 70)
    parts, of_parts = flagged(soundings)
    pd.testing.assert_frame_equal(parts, whole)
    assert (
        of_parts.counts == report.counts
        and report.counts["spike"] > 5 < report.counts["double echo"]
    )
