"""Invented things to show, with any words wherever a file may put text."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import xarray as xr
from shapely.geometry import LineString, Point
from thoroughness import THOROUGH

from layers.area import Units
from layers.maps import MapContent
from seabed.structure import contours, depth_band, humps

HOSTILE = (
    "</script><script>window.hit=1</script><img src=x onerror='window.hit=1'>{% endraw %}{{7*7}}"
)
WIDE = {"width": 1440, "height": 900}
PHONE = {"width": 390, "height": 844}
SIZES = [
    pytest.param(PHONE, id="phone"),
    *([pytest.param(WIDE, id="wide")] if THOROUGH else []),
]
"""For what depends little on the size of the screen."""
NARROW = {"width": 360, "height": 740}


def lines_of(names: list[str]) -> gpd.GeoDataFrame:
    count = len(names)
    return gpd.GeoDataFrame(
        {
            "line": names,
            "rank": range(1, count + 1),
            "drifts": [3, 1][:count],
            "trips": [2, 1][:count],
            "rod_hours": [2.5, 0.4][:count],
            "kept": [6, 1][:count],
            "short": [2, 0][:count],
            "fish": [8, 1][:count],
            "rate": [2.2, 1.9][:count],
            "rate_low": [1.4, 0.6][:count],
            "rate_high": [3.1, 3.4][:count],
            "rate_all": [3.0, 2.0][:count],
            "chance_best": [0.7, 0.3][:count],
            "course_deg": [180.0, 0.0][:count],
            "length_m": [400.0, 300.0][:count],
            "depth_mean_m": [7.1, 9.3][:count],
            "why": [f"{name}: more kept in the hours spent." for name in names],
        },
        geometry=[
            LineString([(620300, 5117700), (620310, 5117300)]),
            LineString([(620700, 5117300), (620705, 5117600)]),
        ][:count],
        crs="EPSG:32624",
    )


def content_of(grid: xr.DataArray, words: str = "Hollow Reach", **more: Any) -> MapContent:
    """Something of everything, with `words` wherever a file may put text."""
    start = pd.Timestamp("2031-06-14 12:00", tz="UTC")
    kinds = ["run", "drift", "hold", "gap"]
    pieces = gpd.GeoDataFrame(
        {
            "kind": kinds,
            "start": [start + pd.Timedelta(minutes=20 * i) for i in range(4)],
            "end": [start + pd.Timedelta(minutes=20 * i + 20) for i in range(4)],
            "duration_s": 1200.0,
            "distance_m": 400.0,
            "sog_mps": 0.33,
            "course_deg": 180.0,
        },
        geometry=[
            LineString([(620250 + 60 * i, 5117750), (620260 + 60 * i, 5117350)]) for i in range(4)
        ],
        crs="EPSG:32624",
    )
    catches = gpd.GeoDataFrame(
        {
            "time": [start, start + pd.Timedelta(minutes=4), start],
            "species": [words, "brindle flounder", "brindle flounder"],
            "length_m": [0.41, np.nan, 0.3],
            "kept": pd.array([True, False, pd.NA], dtype="boolean"),
            "rod": ["1", "2", ""],
            "note": [words, "", ""],
            "drift_id": ["2031-06-14 #1", "2031-06-14 #1", ""],
            "why": ["", "", words],
        },
        geometry=[Point(620450, 5117500), Point(620600, 5117520), None],
        crs="EPSG:32624",
    )
    return MapContent(
        **{
            "grid": grid,
            "contours": contours(grid, [6.0, 8.0, 10.0, 12.0]),
            "band": depth_band(grid, 6.0, 8.0),
            "features": humps(grid, min_height_m=0.5),
            "pieces": pieces,
            "lines": lines_of([words, "S1"]),
            "catches": catches,
            "title": words,
            "timezone": "Etc/GMT+2",
            "units": Units(depth="ft"),
            **more,
        }
    )
