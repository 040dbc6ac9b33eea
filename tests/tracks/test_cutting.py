"""Cutting, against simulated boats whose every second is known."""

import numpy as np
import pandas as pd
import pytest
from pyproj import Geod
from simulated import Boat, Sea, kind_by_second, random_trip, stretches
from thoroughness import THOROUGH

from layers.tracks import PIECES, CutSettings, clean, cut
from seabed.errors import TrackError

CALM = Sea(sampling_s=1, noise_m=3.0, wander_share=0.3, swell_mps=0.1, swing_m=3.0)


def boat(sea: Sea = CALM, seed: int = 0) -> Boat:
    return Boat(np.random.default_rng(seed), sea)


def overlap(one: tuple[int, int], two: tuple[int, int]) -> int:
    return min(one[1], two[1]) - max(one[0], two[0])


def drift_ends(pieces: pd.DataFrame, trip) -> list[tuple[int, int]]:
    """Errors of start and end of each true drift, seconds; fails if one was not found."""
    said = stretches(kind_by_second(pieces, trip), "drift")
    errors = []
    for true in trip.drifts():
        found = max(said, key=lambda one: overlap(one, true), default=(0, 0))
        assert overlap(found, true) > 0.5 * (true[1] - true[0]), f"lost the drift at {true}"
        errors.append((found[0] - true[0], found[1] - true[1]))
    return errors


def hold_conserved(pieces: pd.DataFrame, fixes: pd.DataFrame) -> None:
    """Every second of each outing in exactly one piece."""
    for _, own in pieces.groupby("outing"):
        assert (own["start"].iloc[1:].to_numpy() == own["end"].iloc[:-1].to_numpy()).all()
        assert (own["first_fix"].iloc[1:].to_numpy() == own["last_fix"].iloc[:-1].to_numpy()).all()
    assert (fixes["time"].iloc[pieces["first_fix"]].to_numpy() == pieces["start"].to_numpy()).all()
    assert (fixes["time"].iloc[pieces["last_fix"]].to_numpy() == pieces["end"].to_numpy()).all()
    assert (pieces["duration_s"] > 0).all()
    np.testing.assert_allclose(
        pieces["duration_s"], (pieces["end"] - pieces["start"]).dt.total_seconds()
    )


def test_columns_and_order():
    one = boat()
    one.run(300, 20, 40)
    one.drift(600, 0.8, 40)
    one.run(120, 15, 220)
    pieces = cut(clean(one.trip().fixes)[0])
    assert tuple(pieces.columns) == PIECES.names
    assert pieces.crs.to_epsg() == 4326
    assert pieces["piece_id"].tolist() == [0, 1, 2]
    assert pieces["kind"].tolist() == ["run", "drift", "run"]
    drift = pieces.iloc[1]
    assert drift["sog_mps"] == pytest.approx(0.8 * 1852 / 3600, rel=0.25)
    assert (drift["course_deg"] - 40 + 180) % 360 - 180 == pytest.approx(0, abs=20)
    assert set(pieces.geom_type) == {"LineString"}


def test_distance_is_along_the_geometry_and_free_of_noise():
    one = boat(Sea(sampling_s=1, noise_m=6.0, wander_share=0.0, swell_mps=0.0))
    one.drift(1800, 1.0, 90)
    trip = one.trip()
    (piece,) = cut(clean(trip.fixes)[0]).itertuples()
    assert piece.kind == "drift"
    geodesic = Geod(ellps="WGS84").geometry_length(piece.geometry)
    assert piece.distance_m == pytest.approx(geodesic, rel=1e-5)
    true = np.hypot(*np.sum(one.velocity[0], axis=0))
    raw = Geod(ellps="WGS84").line_length(trip.fixes["longitude"], trip.fixes["latitude"])
    assert raw > 5 * true
    assert piece.distance_m == pytest.approx(true, rel=0.25)


@pytest.mark.parametrize("kn", [0.5, 1.5, 2.5])
def test_a_drift_driven_by_motor_is_a_drift(kn):
    one = boat()
    one.run(300, 20, 0)
    one.drift(600, kn, 180)
    one.run(300, 20, 0)
    trip = one.trip()
    pieces = cut(clean(trip.fixes)[0])
    assert pieces["kind"].tolist() == ["run", "drift", "run"]
    assert np.abs(drift_ends(pieces, trip)).max() <= 20


@pytest.mark.parametrize("swing_m", [0.5, 6.0])
@pytest.mark.parametrize("noise_m", [2.0, 8.0])
def test_a_hold_stays_in_place_while_speed_is_noise(swing_m, noise_m):
    one = boat(Sea(noise_m=noise_m, swing_m=swing_m, wander_share=0.3))
    one.run(300, 20, 0)
    one.hold(900)
    one.run(300, 20, 180)
    trip = one.trip()
    pieces = cut(clean(trip.fixes)[0])
    assert pieces["kind"].tolist() == ["run", "hold", "run"]
    assert np.isnan(pieces["course_deg"].iloc[1])
    assert (kind_by_second(pieces, trip) == trip.kinds).mean() > 0.97


def test_runs_back_up_between_drifts_split_them():
    one = boat()
    one.run(300, 20, 0)
    for kn in (10, 15, 20):
        one.drift(400, 0.9, 180)
        one.run(60, kn, 0)
    trip = one.trip()
    pieces = cut(clean(trip.fixes)[0])
    assert pieces["kind"].tolist() == ["run", "drift"] * 3 + ["run"]
    assert np.abs(drift_ends(pieces, trip)).max() <= 20


@pytest.mark.parametrize("long", [10, 30, 60])
def test_a_short_slow_down_in_a_run_is_no_drift(long):
    one = boat()
    one.run(600, 20, 0, slow_down=(250, long, 1.5))
    assert cut(clean(one.trip().fixes)[0])["kind"].tolist() == ["run"]


def test_a_slow_idle_out_of_harbour_is_a_run():
    one = boat()
    one.run(400, 4.5, 0)
    assert cut(clean(one.trip().fixes)[0])["kind"].tolist() == ["run"]


def test_a_drift_that_becomes_a_hold():
    one = boat()
    one.drift(600, 0.8, 30)
    one.hold(600)
    one.drift(600, 0.8, 30)
    trip = one.trip()
    pieces = cut(clean(trip.fixes)[0])
    assert pieces["kind"].tolist() == ["drift", "hold", "drift"]
    assert np.abs(drift_ends(pieces, trip)).max() <= 20


def test_gaps_and_outings():
    one = boat()
    one.drift(400, 0.8, 0)
    one.lose(300, 5.0, 0)
    one.drift(400, 0.8, 0)
    trip = one.trip()
    next_day = trip.fixes.assign(time=trip.fixes["time"] + pd.Timedelta(days=1))
    fixes, report = clean(pd.concat([trip.fixes, next_day]))
    pieces = cut(fixes)
    assert pieces["kind"].tolist() == ["drift", "gap", "drift"] * 2
    assert pieces["outing"].tolist() == [0, 0, 0, 1, 1, 1]
    assert report.gaps == 2
    gap = pieces.iloc[1]
    assert gap["last_fix"] == gap["first_fix"] + 1
    assert len(gap.geometry.coords) == 2
    hold_conserved(pieces, fixes)


def test_a_few_fixes_between_gaps_are_no_drift():
    one = boat()
    one.drift(400, 0.8, 0)
    for _ in range(2):
        one.lose(300, 1.0, 0)
        one.drift(60, 0.8, 0)
    one.lose(300, 1.0, 0)
    one.run(60, 20, 0)
    one.lose(300, 1.0, 0)
    one.drift(400, 0.8, 0)
    fixes = clean(one.trip().fixes)[0]
    pieces = cut(fixes)
    assert pieces["kind"].tolist() == ["drift", "gap", "run", "gap", "drift"]
    hold_conserved(pieces, fixes)


def test_the_track_may_end_soon_after_a_drift_began():
    """What is cut off by the end of the track need not last its least time."""
    one = boat(Sea(sampling_s=20, noise_m=3.0))
    one.run(400, 20, 0)
    one.drift(70, 0.6, 0)
    trip = one.trip()
    pieces = cut(clean(trip.fixes)[0])
    assert pieces["kind"].tolist() == ["run", "drift"]
    assert np.abs(drift_ends(pieces, trip)).max() <= 20


def test_settings_decide():
    one = boat()
    one.run(300, 20, 0)
    one.drift(300, 1.0, 180)
    one.run(300, 20, 0)
    fixes = clean(one.trip().fixes)[0]
    assert "drift" in cut(fixes)["kind"].tolist()
    assert "drift" not in cut(fixes, CutSettings(shortest_slow_s=600))["kind"].tolist()
    faster = CutSettings(drift_speed_mps=(0.05, 15.0))
    assert cut(fixes, faster)["kind"].tolist() == ["drift"]
    slower = CutSettings(drift_speed_mps=(2.0, 2.5))
    assert cut(fixes, slower)["kind"].tolist() == ["run", "hold", "run"]
    gaps = clean(one.trip().fixes.iloc[::60])[0]
    assert cut(gaps, CutSettings(longest_gap_s=30))["kind"].tolist() == ["gap"]


def test_two_fixes_and_a_motionless_boat():
    fixes = boat_fixes([0.0, 10.0], [0.0, 0.0])
    pieces = cut(fixes)
    assert len(pieces) == 1
    hold_conserved(pieces, fixes)
    still = boat_fixes(np.arange(0, 600, 10.0), np.zeros(60))
    assert cut(still)["kind"].tolist() == ["hold"]


def boat_fixes(seconds, north_m) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "time": pd.Timestamp("2031-06-14T08:00:00Z") + pd.to_timedelta(seconds, unit="s"),
            "longitude": -24.5,
            "latitude": -31.5 + np.asarray(north_m) / 111_320,
        }
    )


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda f: f.iloc[:1], "needs two fixes"),
        (lambda f: f.iloc[::-1], "not in order of time"),
        (lambda f: f.assign(latitude=np.nan), "some fixes have no position"),
    ],
)
def test_unclean_fixes(spoil, message):
    with pytest.raises(TrackError, match=message):
        cut(spoil(boat_fixes([0, 10, 20], [0, 5, 10])))


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"drift_speed_mps": (2.0, 1.0)}, "drift_speed must rise"),
        ({"hold_radius_m": 0.0}, "hold_radius must be above 0"),
        ({"longest_gap_s": 7200.0, "outing_break_s": 3600.0}, "outing_break must not be shorter"),
    ],
)
def test_bad_settings(settings, message):
    with pytest.raises(TrackError, match=message):
        CutSettings(**settings)


@pytest.mark.parametrize("sampling_s", [1, 5, 10, 30])
def test_moved_turned_and_later_it_cuts_the_same(sampling_s):
    """The kinds don't depend on where, which way round or when."""
    trip = random_trip(4, Sea(sampling_s=sampling_s, noise_m=4.0))
    fixes = clean(trip.fixes)[0]
    pieces = cut(fixes)
    moved = fixes.assign(time=fixes["time"] + pd.Timedelta(days=400), longitude=fixes["longitude"])
    moved["longitude"] = (moved["longitude"] + 204.5 + 180) % 360 - 180
    again = cut(moved)
    assert again["kind"].tolist() == pieces["kind"].tolist()
    assert again["first_fix"].tolist() == pieces["first_fix"].tolist()


def test_simulated_trips():
    """Forty or ten mornings: other boats and seas, 1 to 30 s a fix, 2 to 10 m of noise."""
    right = seconds = found = drifts = 0
    errors: list[int] = []
    for seed in range(1000, 1040 if THOROUGH else 1010):
        trip = random_trip(seed)
        fixes, report = clean(trip.fixes)
        assert report.dropped == 0
        pieces = cut(fixes)
        hold_conserved(pieces, fixes)
        said = kind_by_second(pieces, trip)
        assert not np.isin(said, ["", "!"]).any()
        right, seconds = right + (said == trip.kinds).sum(), seconds + len(said)
        own = stretches(said, "drift")
        for true in trip.drifts():
            best = max(own, key=lambda one: overlap(one, true))
            drifts += 1
            if overlap(best, true) > 0.5 * (true[1] - true[0]):
                found += 1
                errors += [abs(best[0] - true[0]), abs(best[1] - true[1])]
    assert right / seconds >= 0.97
    assert found / drifts >= 0.99
    assert np.median(errors) <= 20
    assert np.mean(np.array(errors) <= 20) >= 0.85


def test_simulated_trips_with_a_good_receiver():
    """A fix every 1 to 5 s within 3 m: every drift found, nearly all ends within 20 s."""
    errors: list[tuple[int, int]] = []
    for seed in range(2000, 2012 if THOROUGH else 2006):
        trip = random_trip(seed, Sea(sampling_s=[1, 2, 5][seed % 3], noise_m=3.0, swing_m=3.0))
        pieces = cut(clean(trip.fixes)[0])
        said = kind_by_second(pieces, trip)
        assert (said == trip.kinds).mean() >= 0.97
        errors += drift_ends(pieces, trip)
    assert np.mean(np.abs(errors) <= 20) >= 0.97


def test_a_second_device_that_starts_a_moment_later_makes_no_drift():
    """A boat lies still for one fix, and runs: the moment between two devices is no drift."""
    one = boat(Sea(sampling_s=1, noise_m=1.5, wander_share=0.0, swell_mps=0.0))
    one.run(180, 17, 40)
    one.drift(700, 0.8, 40)
    one.run(120, 15, 220)
    fixes = one.trip().fixes
    kept = fixes.iloc[np.r_[0, 3 : len(fixes) : 20]].reset_index(drop=True)
    kept.loc[1, ["longitude", "latitude"]] = kept.loc[0, ["longitude", "latitude"]] + 2e-5
    pieces = cut(clean(kept)[0])
    assert pieces["kind"].tolist() == ["run", "drift", "run"]
    hold_conserved(pieces, clean(kept)[0])
