"""Ranked lines: counts, order, words; and the demo area's hidden truth."""

from __future__ import annotations

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.affinity import translate
from shapely.geometry import LineString

from layers.catches import as_catches, check_rules, read_catches, tie
from layers.scoring import LINES, gather_lines, rank_lines
from layers.scoring.clusters import medoids
from layers.scoring.day_rates import rates_with_days
from layers.tracks import clean, cut, drifts_of, read_fixes

DEMO = Path(__file__).parents[2] / "demo_area"
DAY = pd.Timestamp("2031-06-14T08:00Z")


def season(*lines):
    """Lines given as (drifts, rod-hours of each), half a kilometre apart."""
    rows = []
    for number, (count, hours) in enumerate(lines):
        for i in range(count):
            begin = DAY + pd.Timedelta(days=i, hours=number)
            rows.append(
                {
                    "drift_id": f"{i}#{number}",
                    "trip": f"{begin:%Y-%m-%d}",
                    "start": begin,
                    "end": begin + pd.Timedelta(minutes=20),
                    "duration_s": 1200.0,
                    "distance_m": 300.0,
                    "course_deg": 180.0,
                    "depth_mean_m": 5.0 + number,
                    "rod_hours": hours,
                    "geometry": LineString(
                        [(-33.4 + 0.006 * number, 46.203), (-33.4 + 0.006 * number, 46.2)]
                    ),
                }
            )
    table = gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:4326")
    return gather_lines(table)


def fish(drift_id, kept, count, species="dab"):
    row = {
        "time": DAY, "species": species, "length_m": np.nan, "kept": kept, "rod": "", "note": "",
        "longitude": np.nan, "latitude": np.nan, "file": "log.csv", "row": 2, "drift_id": drift_id,
    }  # fmt: skip
    return [row] * count


def caught(*rows):
    every = [row for part in rows for row in part]
    ids = [row["drift_id"] for row in every]
    return as_catches([{k: v for k, v in row.items() if k != "drift_id"} for row in every]).assign(
        drift_id=ids
    )


def test_counts_effort_and_columns():
    drifts = season((3, 0.5), (1, 0.4))
    log = caught(
        fish("0#0", True, 2), fish("2#0", False, 1), fish("1#0", None, 1), fish("", True, 9)
    )
    found = rank_lines(drifts, log).set_index("line")
    assert ["line", *found.columns] == list(LINES.names)
    row = found.loc["S1"]
    assert (row["kept"], row["short"], row["fish"], row["drifts"], row["trips"]) == (2, 1, 4, 3, 3)
    assert row["rod_hours"] == pytest.approx(1.5)
    assert (row["depth_mean_m"], row["course_deg"], row["length_m"]) == (5.0, 180.0, 300.0)
    assert found.loc["S2", "fish"] == 0
    assert sorted(found["rank"]) == [1, 2]
    assert found["chance_best"].sum() == pytest.approx(1)


def test_one_lucky_fish_does_not_win():
    drifts = season((12, 0.8), (1, 0.2), (10, 0.8))
    log = caught(
        fish("3#0", True, 8), fish("5#0", True, 9), fish("0#1", True, 1), fish("4#2", True, 4)
    )
    found = rank_lines(drifts, log)
    assert 1 / 0.2 > 17 / 9.6  # by the plain rate it would
    assert found["line"].tolist()[0] == "S1"
    lucky = found.set_index("line").loc["S2"]
    assert lucky["rate_high"] > found["rate_high"].iloc[0]  # nor is it written off
    assert "so few hours counts for little" in lucky["why"]


def test_words_carry_the_numbers():
    row = rank_lines(season((2, 0.5)), caught(fish("0#0", True, 3))).iloc[0]
    said = row["why"]
    assert said.startswith("3 kept and 0 short in 1.0 rod-hours over 2 drifts")
    assert f"{row['rate']:.1f} kept a rod-hour" in said
    assert f"(80% between {row['rate_low']:.1f} and {row['rate_high']:.1f})" in said
    assert f"better than {row['cautious']:.1f}" in said


def test_stated_middles_are_those_found():
    drifts = season((4, 0.5), (3, 0.5))
    aside = [translate(line, 1e-6 * i**2) for i, line in enumerate(drifts.geometry)]
    drifts = drifts.set_geometry(gpd.GeoSeries(aside, crs=drifts.crs))
    log = caught(fish("0#0", True, 2))
    told = {name: int(np.flatnonzero(drifts["line"] == name)[-1]) for name in ("S1", "S2")}
    assert rank_lines(drifts, log).equals(rank_lines(drifts, log, middles=medoids(drifts)))
    rows = drifts.iloc[[told["S1"], told["S2"]]]
    found = rank_lines(drifts, log, middles=told).set_index("line").loc[["S1", "S2"]]
    assert found.geometry.tolist() == rows.geometry.tolist()


def test_one_species_on_all_the_effort():
    drifts = season((4, 0.5), (4, 0.5))
    log = caught(fish("0#0", True, 6), fish("1#1", True, 9, "cod"))
    assert rank_lines(drifts, log)["line"].iloc[0] == "S2"
    dab = rank_lines(drifts, log, species="Dab").set_index("line")
    assert dab["rank"].to_dict() == {"S1": 1, "S2": 2}
    assert dab["fish"].to_dict() == {"S1": 6, "S2": 0}
    assert dab["rod_hours"].tolist() == [2.0, 2.0]


def test_bunched_fish_count_for_less():
    drifts = season((12, 0.5), (12, 0.5))
    even = caught(*(fish(f"{i}#{n}", True, 2) for i in range(12) for n in (0, 1)))
    bunched = caught(*(fish(f"{i + n}#{n}", True, 8) for i in (0, 5, 9) for n in (0, 1)))
    one, two = rank_lines(drifts, even), rank_lines(drifts, bunched)
    assert one["fish"].tolist() == two["fish"].tolist()
    assert one.attrs["dispersion"]["ratio"] == 1.0 and two.attrs["dispersion"]["ratio"] > 3
    assert ((two["rate_all_high"] - two["rate_all_low"]) > 1.4 * (
        one["rate_all_high"] - one["rate_all_low"])).all()  # fmt: skip
    assert "bunched" in two["why"].iloc[0] and "bunched" not in one["why"].iloc[0]


def test_a_line_fished_on_good_days_is_no_better():
    """Each line's rate is 2; days are worth 3 or a third; line 0 was fished on the good ones."""
    random = np.random.default_rng(7)
    day = np.arange(60)
    good = day % 2 == 0
    line = np.where(random.random((60, 4)) < np.where(good, 0.8, 0.2)[:, None], 0, 1)
    worth = np.where(good, 3.0, 1 / 3)[:, None] * np.ones((60, 4))
    count = random.poisson(2.0 * worth)
    columns = count.ravel(), np.ones(240), line.ravel(), np.repeat(day, 4)
    plain = [columns[0][columns[2] == one].mean() for one in (0, 1)]
    assert plain[0] > 1.5 * plain[1]
    rates = rates_with_days(*columns)
    assert rates.mean[0] / rates.mean[1] == pytest.approx(1.0, abs=0.25)
    # two counts of some 240 in all: log ratio known to about 0.15, so no more is asked
    assert rates.ratio == 1.0  # days are days, not bunches


@pytest.mark.parametrize("seed", range(3))
def test_rates_with_one_day_each_are_those_without_days(seed):
    """Where all fish came on one day there is nothing to take out: empirical Bayes as it was."""
    random = np.random.default_rng(seed)
    line, hours = np.repeat(np.arange(6), 5), random.uniform(0.3, 1.0, 30)
    count = random.poisson(hours * random.gamma(2.0, 1.0, 6)[line])
    fish, effort = np.bincount(line, count), np.bincount(line, hours)
    ours = rates_with_days(count, hours, line, np.zeros(30, int))
    shapes, prior_hours, weights = ours.prior.nodes()
    shape = shapes[:, None] + fish / ours.ratio
    total = prior_hours[:, None] + effort / ours.ratio
    mean = weights @ (shape / total)
    spread = np.sqrt(weights @ (shape / total**2 + (shape / total - mean) ** 2))
    # of 1,000 draws: a standard error of the mean of 3 % of the spread
    assert (np.abs(ours.mean - mean) < 5 * spread / np.sqrt(1000) + 0.02 * mean).all()


def test_no_drifts_and_no_fish():
    assert list(rank_lines(season((1, 0.5)).iloc[:0], caught()).columns) == list(LINES.names)
    found = rank_lines(season((2, 0.5), (1, 0.5)), caught())
    assert (found["fish"] == 0).all() and (found["rate"] > 0).all()


def test_the_best_line_of_the_demo_is_found():
    """By the hidden truth: what a rod-hour on each of its lines is worth."""
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
    zone = "Etc/GMT+2"
    fixes, _ = clean(read_fixes(sorted(DEMO.glob("trip_*.gpx"))))
    drifts = gather_lines(drifts_of(cut(fixes), fixes, rods=2, timezone=zone))
    log = read_catches([DEMO / "catches.csv", DEMO / "trip_2b.gpx"], timezone=zone)
    catches = tie(check_rules(log, {}), drifts, fixes)
    untied = catches[catches["drift_id"] == ""]
    assert len(untied) == 2 and (untied["why"] != "").all()  # as demo_area/README.md says
    found = rank_lines(drifts, catches)
    best = max(truth["lines"], key=lambda name: truth["lines"][name]["fish_per_rod_hour"])
    lon, lat = truth["lines"][best]["start_lon_lat"]
    first = found.iloc[0]
    begin = np.array(first["geometry"].coords[0])
    metres = np.hypot((begin[0] - lon) * 77_000, (begin[1] - lat) * 111_200)
    assert metres < 60
    worth = truth["lines"][best]["fish_per_rod_hour"]
    assert first["rate_all_low"] <= worth <= first["rate_all_high"]
    assert len(found) == len(truth["lines"])


def test_a_drift_without_depth_leaves_the_lines_depth_alone():
    drifts = season((3, 0.5))
    drifts["depth_mean_m"] = [10.0, np.nan, 16.0]
    drifts["duration_s"] = [1200.0, 900.0, 600.0]
    found = rank_lines(drifts, caught(fish("0#0", True, 1)))
    # by hand: (10 m x 1200 s + 16 m x 600 s) / 1800 s
    assert found["depth_mean_m"].tolist() == pytest.approx([12.0])
    nowhere = rank_lines(drifts.assign(depth_mean_m=np.nan), caught(fish("0#0", True, 1)))
    assert nowhere["depth_mean_m"].isna().all()
