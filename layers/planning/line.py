"""One line of a plan, measured."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from layers.planning.drift import DriftTracks
from layers.planning.fan import chance_of_staying, share_in_band
from layers.planning.setting import Setting
from layers.planning.words import Say, Structure, in_metres, trim_words, why_words
from seabed.geodesy import bearing_deg, path_m
from seabed.places import sample

__all__ = ["PLAN_COLUMNS", "line_row", "lines_table", "stamp"]

PLAN_COLUMNS: Final = (
    "plan_id", "kind", "slot_start", "slot_end", "latest_start", "drift_s", "passes", "distance_m",
    "bearing_deg", "sog_mps", "push_mps", "push_deg", "trim", "depth_start_m", "depth_min_m",
    "depth_mean_m", "depth_max_m", "share_in_band", "band_s", "fan_in_band", "fan_stays", "worth",
    "worth_kind", "again_of", "why",
)  # fmt: skip
"""Columns of a plan; see `plan_day`."""


def stamp(time: np.datetime64) -> pd.Timestamp:
    """Give a UTC moment as tables hold it."""
    return pd.Timestamp(time, tz="UTC")


def line_row(
    setting: Setting,
    tracks: DriftTracks,
    row: int,
    last: int,
    *,
    structure: Structure | None = None,
    say: Say = in_metres,
) -> dict[str, Any]:
    """Measure a drift up to its point `last`; every column of the drift itself.

    Parameters
    ----------
    setting : Setting
    tracks : DriftTracks
    row, last : int
        Which of the tracks; index of the last point kept, 1 or more.
    structure : Structure, optional
        To name in ``why``.
    say : callable
        Writes lengths in ``why``.
    """
    along = slice(0, last + 1)
    longitude, latitude = tracks.longitude[row, along], tracks.latitude[row, along]
    begin, depth = tracks.times[0], tracks.depth_m[row, along]
    drift_s = float((tracks.times[last] - begin) / np.timedelta64(1, "s"))
    distance = path_m(longitude, latitude)
    bearing = bearing_deg(longitude[0], latitude[0], longitude[-1], latitude[-1])
    charted = sample(setting.safe.grid, longitude, latitude)
    shallow, deep = setting.band_m
    in_band = float(np.mean((charted >= shallow) & (charted <= deep)))
    boats = setting.fan(longitude[0], latitude[0], begin, drift_s)
    held = setting.water.held_mps is not None
    push = setting.water.push_at(begin, longitude[0], latitude[0])
    path = LineString(np.column_stack([longitude, latitude]))
    passed = {}
    if structure is not None and distance > 0:
        passed = structure.along(gpd.GeoSeries([path], crs="EPSG:4326"))
    return {
        "slot_start": stamp(begin),
        "drift_s": drift_s,
        "distance_m": distance,
        "bearing_deg": bearing,
        "sog_mps": distance / drift_s,
        "push_mps": float(push.push_mps[0]) if held else 0.0,
        "push_deg": float(push.heading_deg[0]) if held else np.nan,
        "trim": trim_words(push, bearing, held=held),
        "depth_start_m": float(depth[0]),
        "depth_min_m": float(depth.min()),
        "depth_mean_m": float(depth.mean()),
        "depth_max_m": float(depth.max()),
        "share_in_band": in_band,
        "band_s": in_band * drift_s,
        "fan_in_band": share_in_band(boats, setting.band_m),
        "fan_stays": chance_of_staying(boats, setting.band_m),
        "why": why_words(passed, distance, in_band * drift_s, drift_s, say),
        "geometry": path,
    }


def lines_table(rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Put rows into a plan; no rows give an empty one with its columns."""
    table = pd.DataFrame(rows, columns=[*PLAN_COLUMNS, "geometry"])
    return gpd.GeoDataFrame(table, geometry="geometry", crs="EPSG:4326")
