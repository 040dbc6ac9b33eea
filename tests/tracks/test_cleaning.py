"""Cleaning: what is set aside, why, and that the counts add up."""

import numpy as np
import pandas as pd
import pytest

from layers.tracks import CutSettings, clean
from seabed.errors import TrackError

START = pd.Timestamp("2031-06-14T08:00:00Z")
DEGREE = 1 / 111_320.0  # of latitude a metre, near enough


def straight(count: int = 60, *, step_s: float = 10.0, mps: float = 5.0, **columns) -> pd.DataFrame:
    """A boat going due north."""
    seconds = np.arange(count) * step_s
    return pd.DataFrame(
        {
            "time": (START + pd.to_timedelta(seconds, unit="s")).as_unit("ns"),
            "longitude": -24.5,
            "latitude": -31.5 + seconds * mps * DEGREE,
            "depth_m": np.nan,
            "temperature_c": np.nan,
            "file": "boat.gpx",
            "track": 0,
            "segment": 0,
        }
        | columns
    )


def counts(report) -> dict[str, int]:
    told = report.as_dict()
    assert told["read"] == told["kept"] + sum(
        told[name] for name in told if name not in ("read", "kept", "out_of_order", "gaps")
    )
    return {name: n for name, n in told.items() if n and name not in ("read", "kept")}


def test_a_good_track_is_left_alone():
    fixes = straight()
    cleaned, report = clean(fixes)
    pd.testing.assert_frame_equal(cleaned, fixes)
    assert counts(report) == {}
    assert report.sentences() == ["60 fixes read, 60 kept."]


def test_disorder_is_sorted_and_counted():
    fixes = straight()
    swapped = fixes.iloc[[*range(10), 11, 10, *range(12, 60)]]
    cleaned, report = clean(swapped)
    pd.testing.assert_frame_equal(cleaned, fixes)
    assert counts(report) == {"out_of_order": 1}


def test_segments_and_files_in_any_order():
    fixes = straight()
    fixes["file"] = np.where(np.arange(60) < 30, "a.gpx", "b.gpx")
    cleaned, report = clean(pd.concat([fixes.iloc[30:], fixes.iloc[:30]]))
    pd.testing.assert_frame_equal(cleaned, fixes)
    assert counts(report) == {}


def test_missing_times_and_positions():
    fixes = straight()
    fixes.loc[3, "time"] = pd.NaT
    fixes.loc[5, "latitude"] = np.nan
    fixes.loc[6, "longitude"] = 181.0
    fixes.loc[7, ["longitude", "latitude"]] = 0.0
    cleaned, report = clean(fixes)
    assert counts(report) == {"no_time": 1, "bad_position": 3}
    assert len(cleaned) == 56
    assert cleaned.index.tolist() == list(range(56))


@pytest.mark.parametrize(
    "date", ["1901-12-13T20:45:52Z", "1980-01-06", "2121-01-01", "2031-04-01", "2011-10-29"]
)
def test_bogus_dates(date):
    """1901 and 1980 are zero of a 32-bit clock and of GPS; the last is 1,024 weeks off."""
    fixes = straight()
    fixes.loc[[0, 30], "time"] = pd.Timestamp(date, tz="UTC")
    assert counts(clean(fixes)[1]) == {"bogus_date": 2}


def test_exact_and_conflicting_duplicates():
    fixes = straight()
    cleaned, report = clean(pd.concat([fixes, fixes]))
    assert counts(report) == {"duplicate": 60}
    pd.testing.assert_frame_equal(cleaned, fixes)
    fixes.loc[8, "time"] = fixes.loc[7, "time"]
    cleaned, report = clean(fixes)
    assert counts(report) == {"duplicate": 1}
    assert cleaned["latitude"].iloc[7] == fixes["latitude"].iloc[7]


def test_a_clock_put_back_drops_the_shorter_part():
    """The clock ran an hour ahead for the first 20 of 60 fixes; both parts overlap in time."""
    fixes = straight()
    fixes.loc[:19, "time"] += pd.Timedelta(seconds=300)
    cleaned, report = clean(fixes)
    assert counts(report) == {"clock_reset": 20}
    assert (cleaned["latitude"].to_numpy() == fixes["latitude"].iloc[20:].to_numpy()).all()


def test_a_clock_put_back_without_overlap_keeps_both_parts():
    fixes = straight()
    fixes.loc[:19, "time"] += pd.Timedelta(hours=1)
    cleaned, report = clean(fixes, CutSettings(impossible_speed_mps=40.0))
    assert counts(report) == {"out_of_order": 40, "gaps": 1}
    assert len(cleaned) == 60


@pytest.mark.parametrize(
    "wild", [[30], [0], [59], [0, 1, 2], [10, 30, 31, 32, 33, 50], [57, 58, 59]]
)
@pytest.mark.parametrize("far_m", [3000.0, 500_000.0])
def test_wild_fixes_alone_in_a_row_and_at_either_end(wild, far_m):
    fixes = straight()
    fixes.loc[wild, "longitude"] += far_m * DEGREE
    cleaned, report = clean(fixes)
    assert counts(report) == {"impossible_speed": len(wild)}
    assert (cleaned["longitude"] == -24.5).all()


def test_noise_is_no_impossible_speed():
    rng = np.random.default_rng(1)
    fixes = straight(3600, step_s=1.0, mps=0.3)
    fixes["latitude"] += rng.normal(0, 10, 3600) * DEGREE
    assert counts(clean(fixes)[1]) == {}


def test_a_boat_that_really_moved_elsewhere_keeps_both_places():
    """Switched on again far away, ten minutes later: 100 km in 600 s, but 30 fixes each."""
    fixes = straight()
    fixes.loc[30:, "latitude"] += 100_000 * DEGREE
    fixes.loc[30:, "time"] += pd.Timedelta(seconds=600)
    _, report = clean(fixes)
    assert counts(report) == {"gaps": 1}


def test_on_the_prime_meridian_and_the_equator():
    """Only both at once are what a receiver without a fix says."""
    fixes = straight()
    assert counts(clean(fixes.assign(longitude=0.0))[1]) == {}
    assert counts(clean(fixes.assign(longitude=fixes["latitude"], latitude=0.0))[1]) == {}


def test_across_the_antimeridian():
    fixes = straight()
    fixes["longitude"] = (180 + np.linspace(-0.01, 0.01, 60) + 180) % 360 - 180
    assert counts(clean(fixes)[1]) == {}


def test_sentences_say_what_was_done():
    fixes = straight()
    fixes.loc[3, "time"] = pd.NaT
    fixes.loc[30, "longitude"] += 1.0
    assert clean(fixes)[1].sentences() == [
        "60 fixes read, 58 kept.",
        "1 set aside: they had no time.",
        "1 set aside: they could only be reached at an impossible speed.",
    ]


def back(fixes: pd.DataFrame) -> pd.DataFrame:
    return fixes.assign(time=fixes["time"].to_numpy()[::-1])


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda f: f.iloc[:0], "there are no fixes"),
        (lambda f: f.assign(time=f["time"].where(f["track"] > 0)), "no point has a time"),
        (lambda f: f.assign(latitude=np.nan), "no point has a usable position"),
        (lambda f: f.assign(time=f["time"] - pd.Timedelta(days=365 * 60)), "a plausible date"),
        (back, r"boat\.gpx, track 1, segment 1: times go back at 59 of 59 steps"),
        (lambda f: back(f.iloc[:3]), r"at 2 of 2 steps, first at 2031-06-14T08:00:10"),
        (lambda f: f.iloc[:1], "only 1 of 1 fixes can be used"),
    ],
)  # fmt: skip
def test_hopeless_tracks_each_with_one_clear_error(spoil, message):
    with pytest.raises(TrackError, match=message):
        clean(spoil(straight()))


def test_brute_force_longest_chain():
    """Against trying every subset, on 200 short random tracks."""
    from layers.tracks.cleaning import _longest_chain

    rng = np.random.default_rng(3)
    for _ in range(200):
        count = int(rng.integers(3, 10))
        time_s = np.arange(count, dtype=float)
        x = np.cumsum(rng.normal(0, 20, count)) + rng.choice([0, 500], count, p=[0.7, 0.3])
        y = np.zeros(count)
        best = 0
        for subset in range(1, 1 << count):
            rows = np.flatnonzero([(subset >> i) & 1 for i in range(count)])
            if (np.abs(np.diff(x[rows])) <= 40 * np.diff(rows) + 30).all():
                best = max(best, len(rows))
        kept = np.flatnonzero(_longest_chain(time_s, x, y, 40.0, 30.0))
        assert (np.abs(np.diff(x[kept])) <= 40 * np.diff(kept) + 30).all()
        assert len(kept) == best
