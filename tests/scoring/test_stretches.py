"""Samples of drifts and the stretches and patches found on them: a toy line with exact places."""

from __future__ import annotations

import re

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from geographiclib.geodesic import Geodesic
from shapely.geometry import LineString

from layers.catches import as_catches
from layers.catches.tying import rounding_s
from layers.scoring import gather_lines, rank_lines
from layers.scoring.patches import hot_patch
from layers.scoring.samples import _points, sample_drifts
from layers.scoring.stretches import _not_by_luck, hot_stretches

DAY = pd.Timestamp("2031-06-14T08:00Z")
LENGTH_M, MINUTES = 400.0, 20


def north(metres):
    spot = Geodesic.WGS84.Direct(46.2, -33.4, 0, metres)
    return spot["lon2"], spot["lat2"]


def tracks(count=6):
    """`count` drifts straight north at a steady speed, with a fix every 10 s."""
    seconds = np.arange(0, MINUTES * 60 + 1, 10)
    places = np.array([north(LENGTH_M * s / (MINUTES * 60)) for s in seconds])
    rows, fixes = [], []
    for i in range(count):
        begin = DAY + pd.Timedelta(hours=i)
        rows.append(
            {
                "drift_id": f"d{i}", "trip": f"t{i}", "start": begin,
                "end": begin + pd.Timedelta(minutes=MINUTES), "duration_s": MINUTES * 60.0,
                "distance_m": LENGTH_M, "course_deg": 0.0, "depth_mean_m": 6.0,
                "rod_hours": 2 * MINUTES / 60, "geometry": LineString(places),
            }
        )  # fmt: skip
        times = begin + pd.to_timedelta(seconds, unit="s")
        fixes.append(
            pd.DataFrame({"time": times, "longitude": places[:, 0], "latitude": places[:, 1]})
        )
    drifts = gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:4326")
    return gather_lines(drifts), pd.concat(fixes, ignore_index=True)


def catches(*places_m):
    """A fish at each of these metres along, on one drift after the other."""
    rows = []
    for i, metres in enumerate(places_m):
        moment = DAY + pd.Timedelta(hours=i % 6, seconds=metres / LENGTH_M * MINUTES * 60)
        lon, lat = north(metres)
        rows.append(
            {
                "time": moment, "species": "dab", "length_m": np.nan, "kept": True, "rod": "",
                "note": "", "longitude": lon, "latitude": lat, "file": "log.csv", "row": i,
            }
        )  # fmt: skip
    table = as_catches(rows)
    hours = ((table["time"] - DAY).dt.total_seconds() // 3600).astype(int)
    return table.assign(drift_id=[f"d{h}" for h in hours], tied_by="time")


HOT = (205, 210, 215, 220, 222, 225, 228, 231, 234, 238, 240, 243)


def test_samples_add_up_and_lie_where_the_boat_was():
    drifts, fixes = tracks()
    depth = np.tile(np.linspace(4, 8, 121), 6)
    found = sample_drifts(drifts, catches(5, 100, 395), fixes, depth=depth)
    assert len(found) == 6 * 40
    assert found.groupby("drift_id")["rod_hours"].sum().to_numpy() == pytest.approx(2 / 3)
    assert found["fish"].sum() == 3 and found["kept"].sum() == 3
    assert found["sog_mps"].to_numpy() == pytest.approx(1 / 3, rel=0.02)
    around = (found["course_deg"] + 180) % 360 - 180
    assert np.abs(around).max() < 1e-3
    first = found[found["drift_id"] == "d0"]
    assert first["depth_m"].is_monotonic_increasing
    row = found[(found["drift_id"] == "d1") & (found["fish"] == 1)].iloc[0]
    assert row["latitude"] == pytest.approx(north(100)[1], abs=1e-4)


def test_without_fixes_the_points_are_taken_as_evenly_spaced():
    drifts, fixes = tracks()
    log = catches(*HOT)
    told, guessed = sample_drifts(drifts, log, fixes), sample_drifts(drifts, log)
    assert np.allclose(told["rod_hours"], guessed["rod_hours"])
    assert np.allclose(told["latitude"], guessed["latitude"], atol=1e-7)
    assert (told["fish"] == guessed["fish"]).all()


def test_a_fish_tied_by_place_counts_at_its_place():
    drifts, fixes = tracks()
    log = catches(300).assign(tied_by="place", time=DAY + pd.Timedelta(hours=20))
    found = sample_drifts(drifts, log, fixes)
    at = found[found["fish"] == 1].iloc[0]
    assert at["latitude"] == pytest.approx(north(300)[1], abs=1e-4)


def test_each_fish_counts_in_the_piece_nearest_to_it():
    drifts, fixes = tracks(8)
    plain = sample_drifts(drifts, catches(), fixes)
    random = np.random.default_rng(3)
    log = catches(*random.uniform(0, LENGTH_M, 60))
    by_place = random.random(60) < 0.5
    log = log.assign(
        drift_id=[f"d{i}" for i in random.integers(0, 9, 60)],  # the last is no drift
        tied_by=np.where(by_place, "place", "time"),
        kept=pd.array(random.choice([True, False], 60), "boolean"),
    )
    log.loc[:4, "kept"] = pd.NA
    fish, kept = np.zeros(len(plain), int), np.zeros(len(plain), int)
    for one in log.itertuples():
        own = plain[plain["drift_id"] == one.drift_id]
        if not len(own):
            continue
        if one.tied_by == "place":
            away = [
                Geodesic.WGS84.Inverse(a, b, one.latitude, one.longitude)["s12"]
                for a, b in zip(own["latitude"], own["longitude"], strict=True)
            ]
        else:
            away = (own["time"] - one.time).abs().dt.total_seconds().to_numpy()
        at = own.index[int(np.argmin(away))]
        fish[at] += 1
        kept[at] += one.kept is not pd.NA and bool(one.kept)
    found = sample_drifts(drifts, log, fixes)
    assert found["fish"].tolist() == fish.tolist() and 40 < fish.sum() < 60
    assert found["kept"].tolist() == kept.tolist()


def test_shorten_up():
    drifts, fixes = tracks()
    log = catches(*HOT, 60, 350)
    samples = sample_drifts(drifts, log, fixes, every_s=10)
    lines = rank_lines(drifts, log)
    row = hot_stretches(lines, drifts, samples, bin_m=10.0).iloc[0]
    assert row["hot"] and row["p"] < 0.01
    # on bins of 10 m, with a lead of 15 m at either end
    assert row["start_m"] == pytest.approx(185, abs=10)
    assert row["end_m"] == pytest.approx(265, abs=10)
    assert (row["fish"], row["fish_elsewhere"]) == (12, 2)
    start = Geodesic.WGS84.Inverse(*north(0)[::-1], row["start_latitude"], row["start_longitude"])
    assert start["s12"] == pytest.approx(row["start_m"], abs=3)
    share = (row["end_m"] - row["start_m"]) / row["line_length_m"]
    assert row["saves_s"] == pytest.approx(1200 * (1 - share))
    assert row["rate_line"] == pytest.approx(14 / 4)
    assert row["rate_line"] < row["rate_here"] < row["fish"] / row["rod_hours"]
    assert row["gives"] == pytest.approx(row["rate_here"] - row["rate_line"])
    where = f"from {row['start_m']:.0f} m to {row['end_m']:.0f} m of its "
    assert f": drift it shorter, {where}{row['line_length_m']:.0f} m; each pass" in row["why"]


def test_ten_times_the_hours_give_a_tenth_of_the_rates():
    """Whatever the hours come to, the visits left out say what the stretch pays."""
    drifts, fixes = tracks()
    log = catches(*HOT, 60, 350)
    rows = []
    for times in (1.0, 10.0):
        own = drifts.assign(rod_hours=drifts["rod_hours"] * times)
        samples = sample_drifts(own, log, fixes, every_s=10)
        rows.append(hot_stretches(rank_lines(own, log), own, samples, bin_m=10.0).iloc[0])
    for name in ("rate_line", "rate_here", "rate_elsewhere"):
        assert rows[0][name] == pytest.approx(10 * rows[1][name]), name
    assert re.search(
        r"gives about \d+(\.\d)? fish a rod-hour instead of \d+(\.\d)?\.$", rows[0]["why"]
    )


@pytest.mark.parametrize("by", [-1.1, 1.1])
def test_fish_beyond_the_ends_of_a_line_do_not_make_its_end_hot(by):
    """All of another drift's fish and hours lie 40 m and more before its start, or past its end."""
    drifts, fixes = tracks()
    fish = catches(*range(20, 400, 12))
    samples = sample_drifts(drifts, fish, fixes)
    lines = rank_lines(drifts, fish)
    away = samples.assign(latitude=samples["latitude"] + by * LENGTH_M / 111_160)
    away = away.assign(fish=2, fish_weight=2.0)
    found = hot_stretches(lines, drifts, pd.concat([samples, away], ignore_index=True))
    alone = hot_stretches(lines, drifts, samples)
    columns = ["hot", "p", "start_m", "end_m", "fish", "expected", "rod_hours"]
    pd.testing.assert_frame_equal(found[columns], alone[columns])
    assert not found["hot"].any()
    assert (found["fish"] + found["fish_elsewhere"] == samples["fish"].sum() + 2 * len(away)).all()


def test_even_fish_give_no_suggestion():
    drifts, fixes = tracks()
    log = catches(*range(10, 400, 30))
    samples = sample_drifts(drifts, log, fixes)
    found = hot_stretches(rank_lines(drifts, log), drifts, samples)
    assert not found["hot"].any()
    assert not found["why"].str.contains("shorten").any()


def test_the_patch_lies_on_the_fish():
    drifts, fixes = tracks()
    found = hot_patch(sample_drifts(drifts, catches(*HOT, 60, 350), fixes)).iloc[0]
    assert found["p"] < 0.01
    middle = found["geometry"].centroid
    away = Geodesic.WGS84.Inverse(*north(225)[::-1], middle.y, middle.x)["s12"]
    assert away < 30
    assert found["rate_here"] > found["rate_elsewhere"]


def test_one_days_shoal_is_no_proof_of_a_place():
    """The same fish, all of one trip's drifts: it may be where they stood that day."""
    drifts, fixes = tracks()
    log = catches(*HOT, 60, 350)
    several = sample_drifts(drifts, log, fixes)
    one = sample_drifts(drifts.assign(trip="t0"), log, fixes)
    lines = rank_lines(drifts, log)
    assert hot_stretches(lines, drifts, several)["hot"].all()
    assert not hot_stretches(lines, drifts, one)["hot"].any()


def test_round_times_show_no_stretch():
    drifts, fixes = tracks()
    log = catches(*HOT, 60, 350)
    samples, lines = sample_drifts(drifts, log, fixes), rank_lines(drifts, log)
    row = hot_stretches(lines, drifts, samples, rounded_s=300.0).iloc[0]
    assert not row["hot"]
    assert "round to 5 min, 100 m of drift" in row["why"]  # a third of a metre a second
    assert hot_stretches(lines, drifts, samples, rounded_s=60.0)["hot"].all()


@pytest.mark.parametrize(
    ("step", "seconds"), [("1s", 0), ("1min", 60), ("5min", 300), ("15min", 900)]
)
def test_the_rounding_of_a_log_is_seen(step, seconds):
    random = np.random.default_rng(2)
    times = DAY + pd.to_timedelta(np.sort(random.uniform(0, 86_400, 40)), unit="s")
    assert rounding_s(pd.Series(times.round(step))) == seconds
    assert rounding_s(pd.Series(times.round(step))[:3]) == 0


def test_the_false_share_is_held_over_lines():
    """Benjamini & Hochberg's own rule, by hand: of ten lines p must be 0.0065, 0.013 ... 0.065."""
    assert _not_by_luck([0.0066] + [0.5] * 9).sum() == 0
    assert _not_by_luck([0.0064] + [0.5] * 9).tolist() == [True] + [False] * 9
    assert _not_by_luck([0.0125, 0.0129] + [0.5] * 8).sum() == 2
    assert _not_by_luck([0.0649] * 10).all() and not _not_by_luck([0.0651] * 10).any()
    assert _not_by_luck([0.029]).all() and not _not_by_luck([0.031]).any()
    assert len(_not_by_luck([])) == 0


def test_few_fish_are_said_to_show_nothing():
    drifts, fixes = tracks()
    log = catches(40, 90, 200, 230, 330)
    row = hot_stretches(rank_lines(drifts, log), drifts, sample_drifts(drifts, log, fixes)).iloc[0]
    assert row["why"].startswith("5 fish cannot show a stretch: ")


def test_nothing_in_nothing_out():
    drifts, fixes = tracks()
    samples = sample_drifts(drifts, catches(), fixes)
    assert samples["fish"].sum() == 0
    assert not len(hot_stretches(rank_lines(drifts, catches()), drifts, samples))
    assert not len(hot_patch(samples))
    nobody = sample_drifts(drifts.iloc[:0], catches(), fixes)
    assert not len(nobody) and not len(hot_patch(nobody))


def test_two_points_of_a_drift_without_fixes_are_at_its_start_and_end():
    drifts = gpd.GeoDataFrame(
        {"start": [DAY], "end": [DAY + pd.Timedelta(minutes=10)]},
        geometry=[LineString([(-33.4, 46.2), (-33.4, 46.21)])], crs="EPSG:4326",
    )  # fmt: skip
    assert np.diff(_points(drifts, None, None)["second"]).tolist() == [600.0]
