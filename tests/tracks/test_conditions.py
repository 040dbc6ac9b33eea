"""What drifts met, where it can be worked out by hand."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from layers.tracks import CONDITIONS, with_conditions
from layers.tracks.conditions import with_fish
from layers.water import FixedCurrent, FixedWind, HighLowTable, Leeway

START = pd.Timestamp("2031-06-14T08:00:00Z")
DEGREE = 110_886.0  # metres of latitude a degree at 31.5 S on WGS 84 (Karney's geodesic)


def drift(north_mps: float, seconds: float = 1000.0, start: pd.Timestamp = START) -> dict:
    reach = north_mps * seconds / DEGREE
    return {
        "drift_id": f"{start:%H:%M}",
        "start": start,
        "end": start + pd.Timedelta(seconds=seconds),
        "duration_s": seconds,
        "rod_hours": 2 * seconds / 3600,
        "geometry": shapely.LineString([(-24.5, -31.5), (-24.5, -31.5 + reach)]),
    }


def drifts(*rows: dict) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(list(rows), crs="EPSG:4326")


def tide() -> HighLowTable:
    """Low at 06:00, high at 12:00, low at 18:00."""
    hours = np.array([0, 6, 12, 18, 24])
    return HighLowTable(
        np.datetime64("2031-06-14T00:00:00", "ns") + hours * np.timedelta64(3600, "s"),
        np.array([2.0, 0.0, 2.0, 0.0, 2.0]),
        np.array([True, False, True, False, True]),
    )


def test_nothing_known_is_said_so():
    table = with_conditions(drifts(drift(0.4)))
    assert set(CONDITIONS.names) <= set(table.columns)
    assert table["stage"].tolist() == [""]
    assert table["driven"].tolist() == [""]
    assert table["edges_crossed"].tolist() == [-1]
    assert (
        table[["hours_from_high", "current_mps", "wind_from_deg", "push_mps"]].isna().all(axis=None)
    )


def test_stage_in_the_middle_of_the_drift():
    early = drift(0.4, 600.0, pd.Timestamp("2031-06-14T08:55:00Z"))
    late = drift(0.4, 600.0, pd.Timestamp("2031-06-14T14:55:00Z"))
    table = with_conditions(drifts(early, late), heights=tide())
    assert table["stage"].tolist() == ["flood", "ebb"]
    np.testing.assert_allclose(table["hours_from_high"], [-3, 3])
    np.testing.assert_allclose(table["fraction_of_range"], [0.5, 0.5])


def test_an_unassisted_drift_and_a_driven_one():
    """Water north at 0.5 m/s; one boat goes with it, one is held to half, one driven beyond."""
    table = with_conditions(
        drifts(drift(0.5), drift(0.2), drift(0.8)), currents=FixedCurrent(0.5, 0.0)
    )
    np.testing.assert_allclose(table["push_mps"], [0, 0.3, 0.3], atol=1e-3)
    assert table["driven"].tolist() == ["no", "yes", "yes"]
    np.testing.assert_allclose(table["current_mps"], 0.5)
    np.testing.assert_allclose(np.sin(np.radians(table["current_toward_deg"])), 0, atol=1e-9)


def test_leeway_is_no_push():
    """A tenth of a wind of 4 m/s from the north brings the boat back by 0.4 of 0.5 m/s."""
    boat = Leeway(0.1, 0.0, 0.0, 0.0, 0.0, 0.0)
    table = with_conditions(
        drifts(drift(0.1)),
        currents=FixedCurrent(0.5, 0.0),
        wind=FixedWind(4.0, 0.0),
        leeway=boat,
    )
    np.testing.assert_allclose(table["push_mps"], 0.0, atol=1e-3)
    np.testing.assert_allclose(table[["wind_mps", "wind_from_deg"]], [[4.0, 0.0]], atol=1e-9)


def test_edges_crossed():
    across = [shapely.LineString([(-24.51, y), (-24.49, y)]) for y in (-31.499, -31.498, -31.4)]
    twice = shapely.LineString([(-24.51, -31.4975), (-24.49, -31.4972), (-24.51, -31.4970)])
    edges = gpd.GeoDataFrame(geometry=[*across, twice], crs="EPSG:4326").to_crs("EPSG:32627")
    table = with_conditions(drifts(drift(0.4), drift(0.001)), edges=edges)
    assert table["edges_crossed"].tolist() == [4, 0]
    none = with_conditions(drifts(drift(0.4)), edges=edges.iloc[:0])
    assert none["edges_crossed"].tolist() == [0]


def test_fish_and_rate():
    catches = pd.DataFrame(
        {"drift_id": ["08:00", "08:00", "", "09:00"], "kept": [True, False, True, False]}
    )
    table = with_fish(
        drifts(drift(0.4), drift(0.4, start=pd.Timestamp("2031-06-14T09:00:00Z"))), catches
    )
    assert table[["kept", "short", "fish"]].to_numpy().tolist() == [[1, 1, 2], [0, 1, 1]]
    assert table["rate"].tolist() == pytest.approx([1 / (2000 / 3600), 0.0])
    catches["kept"] = pd.array([True, None, True, None], "boolean")
    assert with_fish(drifts(drift(0.4)), catches)[
        ["kept", "short", "fish"]
    ].to_numpy().tolist() == [[1, 0, 2]]
    idle = drifts(drift(0.4)).assign(rod_hours=0.0)
    assert np.isnan(with_fish(idle, catches)["rate"].iloc[0])


def test_no_drifts():
    empty = drifts(drift(0.4)).iloc[:0]
    table = with_conditions(
        empty, heights=tide(), currents=FixedCurrent(0.5, 0.0), wind=FixedWind(4.0, 0.0)
    )
    assert len(table) == 0
    assert set(CONDITIONS.names) <= set(table.columns)
    assert len(with_fish(empty, pd.DataFrame({"drift_id": ["a"], "kept": [True]}))) == 0
