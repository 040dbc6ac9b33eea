"""An invented plan, hazards and expected fish on the small grid."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from map_content import content_of
from shapely.geometry import LineString, Point, box

from layers.maps import MapContent, MapWater
from layers.maps.water import STEP_S

NOON = pd.Timestamp("2031-06-14 12:00", tz="UTC")


def plan_of(names: list[str]) -> gpd.GeoDataFrame:
    """Two lines: one of 12:00 to 12:45 UTC toward the south, one of the next slot toward the north.

    The first runs 400 m from northing 5117700 to 5117300 along easting 620400.
    """
    count = len(names)
    begins = [NOON, NOON + pd.Timedelta("45min")][:count]
    return gpd.GeoDataFrame(
        {
            "plan_id": names,
            "slot_start": begins,
            "slot_end": [begin + pd.Timedelta("45min") for begin in begins],
            "drift_s": 900.0,
            "passes": [2, 1][:count],
            "distance_m": [400.0, 300.0][:count],
            "bearing_deg": [180.0, 0.0][:count],
            "sog_mps": 0.44,
            "push_mps": [0.2, 0.0][:count],
            "push_deg": [262.0, np.nan][:count],
            "push_end_mps": [0.3, 0.0][:count],
            "push_end_deg": [250.0, np.nan][:count],
            "fan_boats": [256, 256][:count],
            "fan_stopped": [1, 0][:count],
            "depth_min_m": [6.1, 8.0][:count],
            "depth_max_m": [7.6, 9.0][:count],
            "share_in_band": [1.0, 0.8][:count],
            "fan_in_band": [0.9, 0.7][:count],
            "worth": [0.8, 0.7][:count],
            "why": [f"{name}: all of it lies in the band." for name in names],
        },
        geometry=[
            LineString([(620400, 5117700), (620400, 5117300)]),
            LineString([(620700, 5117300), (620700, 5117600)]),
        ][:count],
        crs="EPSG:32624",
    ).to_crs("EPSG:4326")


def runs_of(words: str) -> gpd.GeoDataFrame:
    """A run to the first line, and one home that is not known to be safe."""
    return gpd.GeoDataFrame(
        {
            "plan_id": [words, ""],
            "start": [NOON - pd.Timedelta("5min"), NOON + pd.Timedelta("90min")],
            "end": [NOON - pd.Timedelta("2min"), NOON + pd.Timedelta("93min")],
            "distance_m": [926.0, 1852.0],
            "least_water_m": [3.048, np.nan],
            "caution": ["", words],
        },
        geometry=[
            LineString([(620300, 5117800), (620400, 5117700)]),
            LineString([(620700, 5117600), (620500, 5117500), (620450, 5117850)]),
        ],
        crs="EPSG:32624",
    ).to_crs("EPSG:4326")


def passes_of(name: str) -> pd.DataFrame:
    """Two passes over the first line: of 7.5 minutes, and half an hour later of 15."""
    begins = [NOON, NOON + pd.Timedelta("30min")]
    return pd.DataFrame(
        {
            "plan_id": name,
            "start": begins,
            "end": [begins[0] + pd.Timedelta("450s"), begins[1] + pd.Timedelta("15min")],
            "drift_s": [450.0, 900.0],
            "bearing_deg": [180.0, 174.0],
            "push_mps": [0.2, 0.0],
            "push_deg": [262.0, np.nan],
            "push_end_mps": [0.2, 0.0],
            "push_end_deg": [262.0, np.nan],
            "depth_min_m": [6.39, 6.1],  # 20.96 and 20.01 ft
            "share_in_band": [1.0, 0.8],
            "fan_in_band": [0.9, 0.125],
        }
    )


def hazards_of(words: str) -> gpd.GeoDataFrame:
    """A wreck (point), a cable (line), a restricted area (polygon)."""
    return gpd.GeoDataFrame(
        {
            "kind": ["wreck", "submarine cable", "restricted area"],
            "chart_class": ["WRECKS", "CBLSUB", "RESARE"],
            "name": [words, "", ""],
            "description": [words, "", "no words"],
            "depth_m": [4.2, np.nan, np.nan],
            "water_level": ["always under water", "", ""],
            "restriction": ["", "", "entry prohibited"],
            "file": "/somewhere/cell.000",
        },
        geometry=[
            Point(620850, 5117700),
            LineString([(620820, 5117250), (620980, 5117400)]),
            box(620760, 5117820, 620900, 5117940),
        ],
        crs="EPSG:32624",
    ).to_crs("EPSG:4326")


def charted() -> gpd.GeoDataFrame:
    """Contours of a chart: of 9.144 m (30 ft) and of an unknown depth."""
    return gpd.GeoDataFrame(
        {"depth_m": [9.144, np.nan], "file": "/somewhere/cell.000"},
        geometry=[
            LineString([(620300, 5117300), (620600, 5117500), (620900, 5117450)]),
            LineString([(620300, 5117600), (620600, 5117700)]),
        ],
        crs="EPSG:32624",
    ).to_crs("EPSG:4326")


def expected_of(grid: xr.DataArray) -> xr.Dataset:
    """Rate grows eastward from 0.5 to 2.5; hardly known in the southern half; none in the west."""
    rows, columns = grid.shape
    rate = np.broadcast_to(np.linspace(0.5, 2.5, columns), (rows, columns)).astype(np.float32)
    rate = np.where(np.isfinite(grid.values), rate, np.nan)
    rate[:, :30] = np.nan
    factor = np.where(np.arange(rows)[:, None] < rows // 2, 1.3, 3.0)  # 1.7 and 9 from end to end
    layers = {"rate": rate, "rate_low": rate / factor, "rate_high": rate * factor}
    told = {
        name: grid.copy(data=values.astype(np.float32)).rename(name)
        for name, values in layers.items()
    }
    return xr.Dataset(told).rio.write_crs(grid.rio.crs)


def water() -> MapWater:
    """Tide rising evenly from 1 m at 6:00 to 3 m at 18:00 UTC; 0.4 m/s toward the south."""
    count = 12 * 3600 // STEP_S + 1
    return MapWater(
        np.datetime64("2031-06-14T06:00", "ns"),
        np.linspace(1.0, 3.0, count),
        np.zeros(count),
        np.full(count, -0.4),
    )


def planned(grid: xr.DataArray, words: str = "P1", **more: Any) -> MapContent:
    given: dict[str, Any] = {
        "plan": plan_of([words, "P2"]),
        "runs": runs_of(words),
        "hazards": hazards_of(words),
        "chart_contours": charted(),
        "expected": expected_of(grid),
        "water": water(),
        **more,
    }
    return content_of(grid, words, **given)
