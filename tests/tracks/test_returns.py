"""Drifts with a return under motor at drifting speed, against boats whose every second is known."""

import numpy as np
import pytest
from simulated import Boat, Sea, kind_by_second

from layers.tracks import CutSettings, clean, cut
from layers.tracks.corrections import Correction, correct

CALM = Sea(sampling_s=2, noise_m=3.0, wander_share=0.3, swell_mps=0.1)


def passes(back_kn: float, *, drift_kn: float = 0.8, seed: int = 0, turned_after: int = 99) -> Boat:
    """Five drifts toward the south-west, four returns the other way."""
    one = Boat(np.random.default_rng(seed), CALM)
    one.run(300, 20, 0)
    for number in range(5):
        toward = 220 if number < turned_after else 40
        one.drift(400, drift_kn, toward)
        if number < 4:
            one.run(round(400 * drift_kn / back_kn), back_kn, toward + 180)
    one.run(300, 20, 180)
    return one


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("back_kn", [1.6, 2.0, 2.4])
def test_returns_at_drifting_speed_are_runs(back_kn, seed):
    trip = passes(back_kn, seed=seed).trip()
    pieces = cut(clean(trip.fixes)[0])
    assert pieces["kind"].tolist() == ["run", *["drift", "run"] * 5]
    assert (kind_by_second(pieces, trip) == trip.kinds).mean() > 0.95
    assert pieces.attrs["doubts"] == []


def test_one_speed_both_ways_is_two_drifts_and_said():
    trip = passes(0.82).trip()
    pieces = cut(clean(trip.fixes)[0])
    assert pieces["kind"].tolist() == ["run", *["drift"] * 9, "run"]
    (doubt,) = pieces.attrs["doubts"]
    assert "drift_toward" in doubt
    drifts = pieces[pieces["kind"] == "drift"]
    away = (drifts["course_deg"].diff().dropna().to_numpy() + 180) % 360 - 180
    assert (np.abs(np.abs(away) - 180) < 30).all()


def test_drift_toward_parts_them_all_the_same():
    fixes = clean(passes(0.82).trip().fixes)[0]
    pieces = cut(fixes, CutSettings(drift_toward_deg=220.0))
    assert pieces["kind"].tolist() == ["run", *["drift", "run"] * 5]
    backward = cut(fixes, CutSettings(drift_toward_deg=40.0))
    assert backward["kind"].tolist() == ["run", *["drift", "run"] * 4]


@pytest.mark.parametrize("back_kn", [2.5, 2.7])
def test_two_fast_ways_are_parted_and_said(back_kn):
    """Two to three knots both ways: the faster is the return here, and need not be elsewhere."""
    pieces = cut(clean(passes(back_kn, drift_kn=2.0).trip().fixes)[0])
    assert pieces["kind"].tolist() == ["run", *["drift", "run"] * 5]
    (doubt,) = pieces.attrs["doubts"]
    assert "drift_toward" in doubt


def test_a_tide_that_turns_is_said():
    fixes = clean(passes(2.0, turned_after=3).trip().fixes)[0]
    (doubt,) = cut(fixes).attrs["doubts"]
    assert "corrections" in doubt


def test_one_turn_alone_is_believed_to_be_a_drift():
    """A single reversal may be the water's: nothing is taken off the effort."""
    one = Boat(np.random.default_rng(1), CALM)
    one.run(300, 20, 0)
    one.drift(500, 0.8, 220)
    one.drift(250, 1.6, 40)
    one.run(300, 20, 180)
    assert cut(clean(one.trip().fixes)[0])["kind"].tolist() == ["run", "drift", "run"]


@pytest.mark.parametrize("runs_kn", [10.0, 16.0])
def test_drifts_of_three_to_four_knots_between_fast_runs(runs_kn):
    one = Boat(np.random.default_rng(2), CALM)
    one.run(300, 20, 0)
    for kn in (3.2, 3.6, 3.9, 3.4):
        one.drift(300, kn, 180)
        one.run(round(300 * kn / runs_kn), runs_kn, 0)
    one.run(300, 20, 180)
    trip = one.trip()
    fixes = clean(trip.fixes)[0]
    pieces = cut(fixes)
    assert pieces["kind"].tolist() == ["run", *["drift", "run"] * 4]
    assert (kind_by_second(pieces, trip) == trip.kinds).mean() > 0.95
    own = CutSettings(drift_speed_mps=(0.05, 1.0))
    assert "drift" not in cut(fixes, own)["kind"].tolist()  # the skipper's own limit holds


def test_hops_of_a_minute_and_a_half():
    one = Boat(np.random.default_rng(3), Sea(sampling_s=1, noise_m=2.0, swell_mps=0.05))
    one.run(300, 20, 0)
    for _ in range(5):
        one.drift(80, 1.0, 180)
        one.run(20, 8, 0)
    one.run(300, 20, 180)
    trip = one.trip()
    pieces = cut(clean(trip.fixes)[0])
    assert (pieces["kind"] == "drift").sum() == 5


def test_corrections_keep_neighbouring_drifts_apart():
    fixes = clean(passes(0.82).trip().fixes)[0]
    pieces = cut(fixes)
    third = pieces[pieces["kind"] == "drift"].iloc[2]
    one = Correction("run", third["start"], third["end"], "by hand", 1)
    corrected, unused = correct(pieces, fixes, [one])
    assert unused == []
    assert corrected["kind"].tolist() == ["run", "drift", "drift", "run", *["drift"] * 6, "run"]
