"""A drift of a plan, measured; and the tables of lines and passes."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely.geometry import LineString

from layers.planning.drift import DriftTracks
from layers.planning.fan import boats_stopped, chance_of_staying, share_in_band
from layers.planning.motor import trim_changes
from layers.planning.setting import DayWater, Setting
from layers.planning.words import Say, Structure, in_metres, trim_words, why_words
from seabed.geodesy import bearing_deg, path_m, step_lengths
from seabed.grid import cell_size
from seabed.places import sample

__all__ = ["PASS_COLUMNS", "PLAN_COLUMNS", "drift_row", "line_of_passes", "lines_table",
           "passes_table", "stamp", "why_row"]  # fmt: skip

_MEASURED: Final = (
    "distance_m", "bearing_deg", "sog_mps", "push_mps", "push_deg", "push_end_mps",
    "push_end_deg", "trim", "depth_start_m", "depth_min_m", "depth_mean_m", "depth_max_m",
    "share_in_band", "band_s", "fan_in_band", "fan_stays", "fan_boats", "fan_stopped", "worth",
)  # fmt: skip

PLAN_COLUMNS: Final = (
    "plan_id", "kind", "slot_start", "slot_end", "latest_start", "drift_s", "passes", *_MEASURED,
    "worth_kind", "again_of", "why",
)  # fmt: skip
"""Columns of a plan's lines; see `plan_day`."""

PASS_COLUMNS: Final = ("plan_id", "pass_number", "start", "end", "drift_s", *_MEASURED)
"""Columns of a plan's passes; see `plan_day`."""

_TYPES: Final = dict.fromkeys(
    ("plan_id", "kind", "trim", "worth_kind", "again_of", "why"), "str"
) | dict.fromkeys(
    ("slot_start", "slot_end", "latest_start", "start", "end"), "datetime64[ns, UTC]"
) | dict.fromkeys(("passes", "pass_number", "fan_boats", "fan_stopped"), "int64")  # fmt: skip
"""Types of the columns that are not float64, which an empty table keeps too."""

LOOKS_A_CELL: Final = 8
"""Between the looks bilinear depth falls at most by the slope times a sixteenth of a cell."""


def stamp(time: np.datetime64) -> pd.Timestamp:
    """Give a UTC moment as tables hold it."""
    return pd.Timestamp(time, tz="UTC")


def drift_row(
    setting: Setting,
    tracks: DriftTracks,
    row: int,
    last: int,
    *,
    boats: DriftTracks | None = None,
) -> dict[str, Any]:
    """Measure a drift up to its point `last`; every column of the drift itself.

    Parameters
    ----------
    setting : Setting
    tracks : DriftTracks
    row, last : int
        Which of the tracks; index of the last point kept, 1 or more.
    boats : DriftTracks, optional
        The drift's fan, if it is at hand.
    """
    along = slice(0, last + 1)
    longitude, latitude = tracks.longitude[row, along], tracks.latitude[row, along]
    times = tracks.times[along]
    drift_s = float((times[-1] - times[0]) / np.timedelta64(1, "s"))
    distance = path_m(longitude, latitude)
    bearing = float(bearing_deg(longitude[0], latitude[0], longitude[-1], latitude[-1]))
    charted, water = _depths_along(setting, longitude, latitude, times)
    shallow, deep = setting.band_m
    in_band = float(np.mean((charted >= shallow) & (charted <= deep)))
    if boats is None:
        boats = setting.fan(longitude[0], latitude[0], times[0], drift_s)
    return {
        "start": stamp(times[0]),
        "end": stamp(times[-1]),
        "drift_s": drift_s,
        "distance_m": distance,
        "bearing_deg": bearing,
        "sog_mps": distance / drift_s,
        **_trim(setting.water, (times, longitude, latitude), bearing),
        "depth_start_m": float(water[0]),
        "depth_min_m": float(np.floor(1000.0 * water.min()) / 1000.0),  # and never more
        "depth_mean_m": float(water.mean()),
        "depth_max_m": float(water.max()),
        "share_in_band": in_band,
        "band_s": in_band * drift_s,
        "fan_in_band": share_in_band(boats, setting.band_m),
        "fan_stays": chance_of_staying(boats, setting.band_m),
        "fan_boats": len(boats.ended),
        "fan_stopped": boats_stopped(boats),
        "geometry": LineString(np.column_stack([longitude, latitude])),
    }


def _trim(water: DayWater, path: tuple[Any, Any, Any], bearing_deg: float) -> dict[str, Any]:
    """Give the trim that is printed for a drift, by its times, longitudes and latitudes."""
    if water.held_mps is None:
        return {
            "push_mps": 0.0, "push_deg": np.nan, "push_end_mps": 0.0, "push_end_deg": np.nan,
            "trim": trim_words(None, None, bearing_deg),
        }  # fmt: skip
    start, end = (water.push_at(*(part[at] for part in path)) for at in (0, -1))
    last = end if trim_changes(start, end)[0] else start
    return {
        "push_mps": float(start.push_mps[0]),
        "push_deg": float(start.heading_deg[0]),
        "push_end_mps": float(last.push_mps[0]),
        "push_end_deg": float(last.heading_deg[0]),
        "trim": trim_words(start, last, bearing_deg),
    }


def why_row(
    row: dict[str, Any], structure: Structure | None = None, say: Say = in_metres
) -> dict[str, Any]:
    """Say why a drift was chosen, from its row; what it passes, where `structure` is given."""
    passed = {}
    if structure is not None and row["distance_m"] > 0:
        passed = structure.along(gpd.GeoSeries([row["geometry"]], crs="EPSG:4326"))
    return {"why": why_words(passed, row["distance_m"], row["band_s"], row["drift_s"], say)}


def line_of_passes(passes: list[dict[str, Any]]) -> dict[str, Any]:
    """Put the rows of a line's passes, one or more, into the line's row.

    It is the first pass, but for the depths, which are the least and the greatest of all passes,
    and its worth, which is their mean.
    """
    first, last = passes[0], passes[-1]
    return {
        **{name: value for name, value in first.items() if name not in {"start", "end"}},
        "slot_start": first["start"],
        "slot_end": last["end"],
        "passes": len(passes),
        "depth_min_m": min(row["depth_min_m"] for row in passes),
        "depth_max_m": max(row["depth_max_m"] for row in passes),
        "worth": float(np.mean([row["worth"] for row in passes])),
    }


def lines_table(rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Put rows into a table of lines; no rows give an empty one with its columns."""
    return _table(rows, PLAN_COLUMNS)


def passes_table(rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Put rows into a table of passes; no rows give an empty one with its columns."""
    return _table(rows, PASS_COLUMNS)


def _table(rows: list[dict[str, Any]], columns: tuple[str, ...]) -> gpd.GeoDataFrame:
    table = pd.DataFrame(rows, columns=[*columns, "geometry"])
    if not rows:
        table = table.astype({name: _TYPES.get(name, "float64") for name in columns})
    return gpd.GeoDataFrame(table, geometry="geometry", crs="EPSG:4326")


def _depths_along(
    setting: Setting,
    longitude: NDArray[np.float64],
    latitude: NDArray[np.float64],
    times: NDArray[np.datetime64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Charted depth and water under the boat, `LOOKS_A_CELL` a cell or more, even in time."""
    step_m = float(np.max(step_lengths(longitude, latitude), initial=0.0))
    parts = 1 + int(LOOKS_A_CELL * step_m / cell_size(setting.safe.grid).typical)
    at = np.arange(parts * (len(times) - 1) + 1) / parts
    steps = np.arange(len(times))
    x, y = np.interp(at, steps, longitude), np.interp(at, steps, latitude)
    seconds = np.interp(at, steps, (times - times[0]) / np.timedelta64(1, "s"))
    moments = times[0] + (seconds * 1e9).astype("timedelta64[ns]")
    charted = sample(setting.safe.grid, x, y)
    return charted, charted + setting.safe.height(moments)
