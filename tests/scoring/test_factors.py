"""Rates by depth, edge, stage and the like: exact places on toy ground."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely.ops
from rasterio.transform import from_origin
from shapely.geometry import LineString, Polygon
from statsmodels.stats.rates import confint_poisson

from layers.scoring import factors
from layers.scoring.factors import (
    Ground,
    by_factor,
    by_what,
    by_year,
    edge_distance,
    with_factors,
)
from layers.water import FixedCurrent, FixedWind, HighLowTable
from seabed.grid import make_grid

CRS = "EPSG:32625"
X0, Y0 = 470_000.0, 5_116_000.0


def samples(east, north=0.0, **more):
    """Samples at metres east and north of a corner."""
    east = np.atleast_1d(np.asarray(east, float))
    points = gpd.GeoSeries.from_xy(X0 + east, Y0 + north + 0 * east, crs=CRS).to_crs("EPSG:4326")
    count = len(east)
    table = {
        "drift_id": "d0", "trip": "t0", "line": "S1",
        "time": pd.Timestamp("2031-06-14T12:30Z"), "longitude": points.x, "latitude": points.y,
        "depth_m": np.nan, "sog_mps": 0.4, "course_deg": 90.0, "rod_hours": 0.5, "fish": 1,
        "kept": 0,
    }  # fmt: skip
    return pd.DataFrame(table | more, index=range(count))


def test_slope_and_depth_come_from_the_grid():
    # a plane that deepens 1 m in 10 to the east: atan(0.1) = 5.7106 degrees
    x = X0 - 100 + 5 * np.arange(60)
    depth = np.broadcast_to(5 + 0.1 * (x - X0), (40, 60)).astype(np.float32)
    grid = make_grid(depth, transform=from_origin(x[0] - 2.5, Y0 + 100, 5, 5), crs=CRS)
    found = with_factors(samples([0, 50]), Ground(grid))
    assert found["depth_m"].tolist() == pytest.approx([5, 10], abs=1e-3)
    assert found["slope_deg"].tolist() == pytest.approx([5.7106] * 2, abs=1e-3)
    own = with_factors(samples([0, 50], depth_m=[6.0, np.nan]), Ground(grid))
    assert own["depth_m"].iloc[0] == 6.0  # with the tide, as it came


def test_edges_have_a_shallow_and_a_deep_side():
    edges = gpd.GeoDataFrame(
        {"faces_deg": [90.0]}, geometry=[LineString([(X0, Y0 - 500), (X0, Y0 + 500)])], crs=CRS
    )
    humps = gpd.GeoDataFrame(
        {"kind": ["hump"]},
        geometry=[Polygon([(X0 + 150, Y0 - 9), (X0 + 170, Y0 - 9), (X0 + 160, Y0 + 9)])],
        crs=CRS,
    )
    found = with_factors(samples([-27, -10, 23, 160, 300]), Ground(edges=edges, features=humps))
    assert found["edge_m"].tolist() == pytest.approx([-27, -10, 23, 160, 300], abs=0.01)
    assert found["structure"].tolist() == ["open", "edge", "edge", "hump", "open"]  # within 25 m


def test_stage_wind_and_hour():
    times = pd.DatetimeIndex(["2031-06-14T06:00Z", "2031-06-14T12:00Z", "2031-06-14T18:00Z"])
    heights = HighLowTable(
        times.tz_localize(None).to_numpy(),
        np.array([0.0, 2.0, 0.0]),
        np.array([False, True, False]),
    )
    when = pd.DatetimeIndex(["2031-06-14T09:00Z", "2031-06-14T15:30Z"])
    found = with_factors(
        samples([0, 10], time=when),
        Ground(
            heights=heights,
            currents=FixedCurrent(0.3, 90.0),
            wind=FixedWind(4.0, 90.0),  # out of the east, against water that sets east
        ),
        timezone="Etc/GMT+2",
    )
    assert found["state"].tolist() == ["flood", "ebb"]
    assert found["hours_from_high"].tolist() == pytest.approx([-3, 3.5])
    assert found["hour"].tolist() == [7.0, 13.5]
    assert found["wind_along_mps"].tolist() == pytest.approx([-4, -4])
    across = with_factors(samples([0], course_deg=0.0), Ground(wind=FixedWind(4.0, 90.0)))
    assert across["wind_along_mps"].iloc[0] == pytest.approx(0, abs=1e-9)


def test_rates_stand_beside_their_effort():
    table = samples(range(8), depth_m=[5.2, 5.7, 6.1, 6.9, 6.5, 9.5, np.nan, 6.0])
    table["fish"] = [0, 1, 3, 2, 2, 1, 4, 0]
    found = by_factor(table, "depth_m").set_index("low")
    assert found.index.tolist() == [5.0, 6.0, 9.0]  # depths without effort have no row
    assert found["fish"].tolist() == [1, 7, 1]
    assert found["rod_hours"].tolist() == [1.0, 2.0, 0.5]
    assert found["share_of_effort"].tolist() == pytest.approx([0.25, 0.5, 0.125])
    assert found["rate"].tolist() == [1.0, 3.5, 2.0]
    low, high = confint_poisson(7, 2.0, method="exact-c", alpha=0.2)
    assert (found.loc[6.0, "rate_low"], found.loc[6.0, "rate_high"]) == pytest.approx((low, high))
    # 13 fish in 4 rod-hours: 3.25, 6.5 and 1.6 due
    assert found["enough"].tolist() == [True, True, False]


def test_words_and_own_bounds():
    table = samples(range(4), state=["ebb", "ebb", "flood", None])
    found = by_factor(table, "state").set_index("value")
    assert found["fish"].to_dict() == {"ebb": 2, "flood": 1}
    own = by_factor(samples(range(3), depth_m=[5.0, 5.9, 8.0]), "depth_m", bins=[5, 6, 8])
    assert own[["low", "high", "fish"]].to_numpy().tolist() == [[5, 6, 2]]  # 8 is outside


def test_every_factor_that_is_known():
    table = with_factors(samples(range(4), depth_m=6.0))
    found = by_what(table)
    assert set(found["factor"]) == {"depth_m", "sog_mps", "course_deg", "hour"}
    years = by_year(table)
    assert years["line"].tolist() == ["", "S1"] and years.index.tolist() == [0, 1]
    assert found.groupby("factor")["fish"].sum().tolist() == [4, 4, 4, 4]
    assert not len(by_what(table.iloc[:0]))


def test_the_distance_to_the_nearest_edge_is_shapelys(monkeypatch):
    monkeypatch.setattr(factors, "AT_ONCE", 150)
    random = np.random.default_rng(3)
    ways = [np.cumsum(random.normal(0, 9, (40, 2)), axis=0) + random.uniform(0, 900, 2)
            for _ in range(8)]  # fmt: skip
    lines = [shapely.LineString(way) for way in ways]
    edges = gpd.GeoDataFrame({"faces_deg": random.uniform(0, 360, 8)}, geometry=lines, crs=32625)
    xy = random.uniform(-100, 1000, (500, 2))
    found = edge_distance(xy, edges)
    away = shapely.distance(shapely.points(xy)[:, None], np.array(lines))
    true, next_m = np.sort(away, axis=1)[:, :2].T
    assert (np.abs(found) >= true - 1e-9).all()
    assert (np.abs(found) <= true + 1.0).all()  # points 2 m apart along edges
    clear = next_m > true + 1.0
    assert clear.mean() > 0.9
    for place, line, metres in zip(
        xy[clear], away[clear].argmin(axis=1), found[clear], strict=True
    ):
        foot = shapely.ops.nearest_points(shapely.Point(place), lines[line])[1]
        faces = np.radians(edges["faces_deg"][line])
        ahead = (place - [foot.x, foot.y]) @ [np.sin(faces), np.cos(faces)]
        assert metres * ahead >= 0 or abs(ahead) < 1.0
    assert np.isnan(edge_distance(np.full((1, 2), np.nan), edges)).all()
