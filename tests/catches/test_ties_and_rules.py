"""Fish onto drifts by time and place, and held to the rules: toy drifts, exact times."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from geographiclib.geodesic import Geodesic
from shapely.geometry import LineString

from layers.catches import as_catches, check_rules, tie
from layers.catches.tying import by_weight

START = pd.Timestamp("2031-06-14T10:00:00Z")


def minutes(number):
    return START + pd.Timedelta(minutes=number)


def drift(number, begin, end, latitude=46.2):
    return {
        "drift_id": f"2031-06-14 #{number}",
        "start": minutes(begin),
        "end": minutes(end),
        "geometry": LineString([(-33.40, latitude), (-33.39, latitude)]),
    }


DRIFTS = gpd.GeoDataFrame(
    [drift(1, 0, 10), drift(2, 12, 20, 46.21)], geometry="geometry", crs="EPSG:4326"
)
FIXES = pd.DataFrame(
    {
        "time": pd.DatetimeIndex([minutes(m) for m in range(21)]),
        "longitude": np.linspace(-33.40, -33.39, 11)[[*range(11), *range(10)]],
        "latitude": np.repeat([46.2, 46.21], [11, 10]),
    }
)


def fish(time, **more):
    return {
        "time": time, "species": "dab", "length_m": np.nan, "kept": None, "rod": "", "note": "",
        "longitude": np.nan, "latitude": np.nan, "file": "log.csv", "row": 2, **more,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("at", "drift_id"),
    [
        (0, "2031-06-14 #1"),  # at its very start
        (10, "2031-06-14 #1"),  # at its very end
        (10.9, "2031-06-14 #1"),  # unhooked and measured first
        (11.1, ""),
        (-0.1, ""),
        (12, "2031-06-14 #2"),
        (20.9, "2031-06-14 #2"),
        (21.1, ""),
    ],
)
def test_by_time(at, drift_id):
    tied = tie(as_catches([fish(minutes(at))]), DRIFTS, FIXES)
    assert tied["drift_id"].tolist() == [drift_id]
    assert tied["tied_by"].tolist() == ["time" if drift_id else ""]
    assert (tied["why"].iloc[0] == "") is bool(drift_id)


def test_a_fish_well_inside_a_drift_is_of_that_alone():
    # clocks 30 s apart, 60 s late, 30 s for the rounding to minutes: 2 minutes from any other drift
    log = as_catches([fish(minutes(m), row=i) for i, m in enumerate([1, 5, 9, 10, 14, 17, 20])])
    tied = tie(log, DRIFTS, FIXES)
    assert tied["sure"].isna().all() and (tied["or_drift_id"] == "").all()
    assert (by_weight(tied)["weight"] == 1.0).all()


@pytest.mark.parametrize("after", [5.0, 20.0, 45.0])
def test_between_two_drifts_a_fish_counts_on_both(after):
    """Two drifts half a minute apart; a fish logged so many seconds after the second began.

    Truth by drawing the three errors of the model, half a million times, for bites anywhere.
    """
    ends = [(0.0, 600.0), (630.0, 1230.0)]
    rows = [drift(n + 1, a / 60, b / 60) for n, (a, b) in enumerate(ends)]
    both = gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:4326")
    logged = 630.0 + after
    found = tie(as_catches([fish(minutes(logged / 60))]), both, FIXES).iloc[0]
    random = np.random.default_rng(3)
    late = random.uniform(-30, 30, 500_000) + random.uniform(0, 60, 500_000)
    late += random.uniform(-0.5, 0.5, 500_000)  # a log of fewer than five times is of whole seconds
    bite = logged - late
    first, second = (((a <= bite) & (bite <= b)).mean() for a, b in ends)
    likelier = "2031-06-14 #1" if first > second else "2031-06-14 #2"
    share = max(first, second) / (first + second)
    if share > 0.95:
        assert np.isnan(found["sure"]) and found["or_drift_id"] == ""
    else:
        assert found["sure"] == pytest.approx(share, abs=0.004)  # three standard errors: 0.002
        assert found["or_drift_id"] != likelier != ""
    assert found["drift_id"] == likelier


def test_weights_of_a_fish_sum_to_one():
    rows = [drift(1, 0, 10), drift(2, 10.5, 20)]
    both = gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:4326")
    log = as_catches([fish(minutes(m), row=i) for i, m in enumerate([4, 10.2, 10.6, 10.9, 15])])
    ties = by_weight(tie(log, both, FIXES))
    assert len(ties) > len(log)
    assert ties.groupby("row")["weight"].sum().to_numpy() == pytest.approx(np.ones(5))


def test_a_fast_clock_is_set_back():
    log = as_catches([fish(minutes(65))])
    assert tie(log, DRIFTS, FIXES)["drift_id"].tolist() == [""]
    tied = tie(log, DRIFTS, FIXES, clock_offset_s=3600)
    assert tied["drift_id"].tolist() == ["2031-06-14 #1"]
    assert tied["time"].iloc[0] == minutes(5)


@pytest.mark.parametrize("latitude", [0.0, 46.2, 70.0])
@pytest.mark.parametrize(("metres", "ties"), [(29.9, True), (30.1, False)])
def test_by_place_within_thirty_metres_of_its_line(metres, ties, latitude):
    # geodesics by another library: straight north of the middle of the drift
    spot = Geodesic.WGS84.Direct(latitude, -33.395, 0, metres)
    log = as_catches([fish(minutes(90), longitude=spot["lon2"], latitude=spot["lat2"])])
    drifts = gpd.GeoDataFrame([drift(1, 0, 10, latitude)], geometry="geometry", crs="EPSG:4326")
    tied = tie(log, drifts, FIXES)
    assert tied["tied_by"].tolist() == ["place" if ties else ""]
    assert tied["drift_id"].tolist() == ["2031-06-14 #1" if ties else ""]


def test_by_place_across_the_date_line():
    line = LineString([(179.9999, 46.2), (179.9999, 46.21)])
    drifts = gpd.GeoDataFrame(
        [drift(1, 0, 10) | {"geometry": line}], geometry="geometry", crs="EPSG:4326"
    )
    log = as_catches([fish(minutes(90), longitude=-179.9999, latitude=46.205)])  # 15 m away
    assert tie(log, drifts, FIXES)["tied_by"].tolist() == ["place"]


def test_another_day_is_not_tied_by_place():
    log = as_catches([fish(minutes(60 * 40), longitude=-33.395, latitude=46.2)])
    tied = tie(log, DRIFTS, FIXES)
    assert tied["drift_id"].tolist() == [""]
    assert "39" not in tied["why"].iloc[0] and "days" in tied["why"].iloc[0]


def test_a_mark_without_a_time_takes_that_of_the_place():
    log = as_catches([fish(pd.NaT, longitude=-33.394, latitude=46.21, kept=True), fish(pd.NaT)])
    tied = tie(log, DRIFTS, FIXES)
    assert tied["drift_id"].tolist() == ["2031-06-14 #2", ""]
    assert tied["time"].iloc[0] == minutes(17)
    assert "no time" in tied["why"].iloc[1]


def test_positions_come_from_the_track():
    tied = tie(as_catches([fish(minutes(2.5)), fish(minutes(500))]), DRIFTS, FIXES)
    assert tied["longitude"].iloc[0] == pytest.approx(-33.3975, abs=1e-9)
    assert tied.geometry.iloc[0].y == pytest.approx(46.2)
    assert np.isnan(tied["longitude"].iloc[1])  # the track was home by then


def test_nothing_is_dropped():
    log = as_catches([fish(minutes(m)) for m in (-900, 5, 11.5, 15, 4000)])
    tied = tie(log, DRIFTS, FIXES)
    assert len(tied) == 5
    assert ((tied["drift_id"] == "") == (tied["why"] != "")).all()
    assert tie(log, DRIFTS.iloc[:0], FIXES)["why"].tolist() == ["there are no drifts"] * 5
    assert not len(tie(as_catches([]), DRIFTS, FIXES))


@dataclass(frozen=True)
class Rule:
    min_length_m: float | None
    daily_bag: int | None


def test_rules_fill_and_flag():
    log = as_catches(
        [
            fish(minutes(0), length_m=14 * 0.0254),  # exactly at the limit: of size
            fish(minutes(1), length_m=0.34),
            fish(minutes(2), length_m=0.34, kept=True),
            fish(minutes(3), length_m=0.40, kept=False),
            fish(minutes(4)),
            fish(minutes(5), kept=True),
            fish(minutes(60 * 24), kept=True),
            fish(minutes(6), kept=True, species="cod"),
        ]
    )
    found = check_rules(log, {"Dab": Rule(0.3556, 2)})
    assert found["kept"].tolist() == [True, False, True, False, pd.NA, True, True, True]
    assert found["flag"].tolist() == [
        "", "", "kept, but under the minimum length", "", "", "over the daily bag", "", "",
    ]  # fmt: skip


def test_the_bag_counts_the_days_of_the_place():
    # 23:00 and 01:00 UTC are one evening two hours west
    late = [pd.Timestamp("2031-06-14T23:00Z"), pd.Timestamp("2031-06-15T01:00Z")]
    log = as_catches([fish(time, kept=True) for time in late])
    rules = {"dab": Rule(None, 1)}
    assert check_rules(log, rules, timezone="Etc/GMT+2")["flag"].tolist()[1] != ""
    assert check_rules(log, rules, timezone="UTC")["flag"].tolist() == ["", ""]
    assert check_rules(log, rules, timezone="Etc/GMT+2", people=2)["flag"].tolist() == ["", ""]
