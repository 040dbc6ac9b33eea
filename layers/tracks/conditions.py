"""What each drift met: stage, current, wind, edges, the motor; and what it caught."""

from __future__ import annotations

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.tracks.drifts import DRIFTS
from layers.water import Currents, Heights, Leeway, Wind
from layers.water.currents.currents import vector
from layers.water.heights.stage import stage
from layers.water.motion import set_and_drift
from layers.water.times import as_utc
from seabed.array_types import Floats, Ints, Pair
from seabed.geodesy import local_metres
from seabed.schema import Table, documented

CONDITIONS: Final = Table.of(
    "conditions",
    "layers.tracks.with_conditions",
    """
    hours_from_high ["Hours from high water" empty .1] in the middle of the drift; NaN, as all
        others, where not known
    stage [text empty "Stage"] then: flood, ebb, stand, or ``""`` if unknown
    fraction_of_range [empty] then
    current_mps [empty] mean over the drift, as a vector
    current_toward_deg [empty] its direction
    wind_mps [empty] mean over the drift, as a vector
    wind_from_deg [empty] its direction
    push_mps [empty] what is left of the velocity over the ground without current and leeway
    driven [text empty] yes, no, or ``""`` if not known
    edges_crossed [int] how many times it crossed one; -1 if no edges were given
    """,
)
DRIVEN_OVER_MPS: Final = 0.25
"""A push through the water of more than this was the motor's (common practice, no source)."""

TIED: Final = Table.of(
    "catches",
    "layers.catches.tie",
    """
    drift_id [text empty "Drift"] the drift it came from; ``""`` for none
    kept [maybe empty "Fate"] whether it was; NA where unknown
    """,
)
_SHARES: Final = np.array([0.1, 0.3, 0.5, 0.7, 0.9])  # of a drift, where it is asked


@documented(CONDITIONS)
def with_conditions(
    drifts: gpd.GeoDataFrame,
    *,
    heights: Heights | None = None,
    currents: Currents | None = None,
    wind: Wind | None = None,
    leeway: Leeway | None = None,
    edges: gpd.GeoDataFrame | None = None,
    driven_over_mps: float = DRIVEN_OVER_MPS,
) -> gpd.GeoDataFrame:
    """Add to drifts what they met.

    Parameters
    ----------
    drifts : GeoDataFrame
        From `drifts_of`, EPSG:4326.
    heights, currents, wind, leeway : optional
        Tide heights, current, wind, and the boat's leeway.
    edges : GeoDataFrame, optional
        Lines of edges, any CRS.
    driven_over_mps : float
        Push from which a drift counts as driven.

    Returns
    -------
    GeoDataFrame
        With more columns.

        {conditions}

        A push is judged against a current and wind that are themselves estimates: a wrong table
        looks like a motor.

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip
    >>> fixes, _ = clean(example_trip()[0])
    >>> own = drifts(cut(fixes), fixes)
    >>> met = with_conditions(own)  # without tide, current, wind and edges nothing is known
    >>> met["stage"].tolist(), met["edges_crossed"].tolist()
    (['', '', '', ''], [-1, -1, -1, -1])
    """
    DRIFTS.check(drifts, "start", "end", "duration_s", "geometry")
    table = drifts.copy()
    table[["hours_from_high", "stage", "fraction_of_range"]] = _stages(drifts, heights)
    times = _moments(drifts)
    east, north = _mean_current(currents, times, drifts)
    table["current_toward_deg"], table["current_mps"] = set_and_drift(east, north)
    wind_east, wind_north = _mean_wind(wind, times)
    toward, table["wind_mps"] = set_and_drift(wind_east, wind_north)
    table["wind_from_deg"] = (toward + 180.0) % 360.0
    push = _push(drifts, (east, north), (wind, leeway), times)
    table["push_mps"] = push
    driven = np.where(push > driven_over_mps, "yes", "no")
    table["driven"] = np.where(np.isfinite(push), driven, "").astype(object)
    table["edges_crossed"] = _crossings(drifts, edges)
    return table


def with_fish(drifts: gpd.GeoDataFrame, catches: pd.DataFrame) -> gpd.GeoDataFrame:
    """Add to drifts ``kept``, ``short``, all ``fish`` tied to them, and ``rate``.

    The rate is kept per rod-hour as it was, without shrinkage; NaN where nothing was fished.
    """
    DRIFTS.check(drifts, "drift_id", "rod_hours")
    TIED.check(catches)
    table = drifts.copy()
    kept = catches["kept"].astype("boolean")
    for name, rows in (
        ("kept", kept.fillna(False)),
        ("short", (~kept).fillna(False)),
        ("fish", pd.Series(True, catches.index)),
    ):
        count = catches.loc[rows.astype(bool), "drift_id"].value_counts()
        table[name] = table["drift_id"].map(count).fillna(0).astype(np.int64)
    hours = table["rod_hours"].to_numpy(np.float64)
    table["rate"] = np.where(hours > 0, table["kept"] / np.where(hours > 0, hours, 1.0), np.nan)
    return table


def _stages(drifts: gpd.GeoDataFrame, heights: Heights | None) -> pd.DataFrame:
    middle = drifts["start"] + (drifts["end"] - drifts["start"]) / 2
    if heights is None or not len(drifts):
        count = len(drifts)
        stages = pd.DataFrame(
            {
                "hours_from_high": np.full(count, np.nan),
                "stage": np.full(count, "", object),
                "fraction_of_range": np.full(count, np.nan),
            }
        )
    else:
        stages = stage(heights, middle).rename(columns={"state": "stage"})
    stages = stages[["hours_from_high", "stage", "fraction_of_range"]]
    stages.index = drifts.index
    return stages


def _moments(drifts: gpd.GeoDataFrame) -> NDArray[np.datetime64]:
    """Give times along each drift, shape (drifts, shares)."""
    start, end = as_utc(drifts["start"]), as_utc(drifts["end"])
    long = (end - start).astype(np.int64)
    offset = np.round(long[:, None] * _SHARES).astype("timedelta64[ns]")
    return np.asarray(start[:, None] + offset)


def _mean_current(
    currents: Currents | None, times: NDArray[np.datetime64], drifts: gpd.GeoDataFrame
) -> Pair:
    if currents is None or not times.size:
        return np.full(len(times), np.nan), np.full(len(times), np.nan)
    lines = np.asarray(drifts.geometry)[:, None]
    points = shapely.line_interpolate_point(lines, _SHARES, normalized=True).ravel()
    east, north = currents.velocity(times.ravel(), shapely.get_x(points), shapely.get_y(points))
    return east.reshape(times.shape).mean(axis=1), north.reshape(times.shape).mean(axis=1)


def _mean_wind(wind: Wind | None, times: NDArray[np.datetime64]) -> Pair:
    """Mean of the wind as a vector toward which it blows."""
    if wind is None or not times.size:
        return np.full(len(times), np.nan), np.full(len(times), np.nan)
    speed, from_deg = wind.at(times.ravel())
    east, north = vector(speed, from_deg + 180.0)
    return east.reshape(times.shape).mean(axis=1), north.reshape(times.shape).mean(axis=1)


def _push(
    drifts: gpd.GeoDataFrame,
    current: Pair,
    air: tuple[Wind | None, Leeway | None],
    times: NDArray[np.datetime64],
) -> Floats:
    """Speed through the water that neither current nor leeway explains, m/s."""
    if np.isnan(current[0]).all():
        return np.full(len(drifts), np.nan)
    east, north = _over_ground(drifts)
    east, north = east - current[0], north - current[1]
    wind, leeway = air
    if wind is not None and leeway is not None and times.size:
        speed, from_deg = wind.at(times.ravel())
        leeway_east, leeway_north = leeway.velocity(speed, from_deg)
        east = east - np.reshape(leeway_east, times.shape).mean(axis=1)
        north = north - np.reshape(leeway_north, times.shape).mean(axis=1)
    return np.asarray(np.hypot(east, north))


def _over_ground(drifts: gpd.GeoDataFrame) -> Pair:
    """Velocity from start to end, m/s."""
    lines = np.asarray(drifts.geometry)
    east, north = np.empty(len(lines)), np.empty(len(lines))
    for i, line in enumerate(lines):
        ends = shapely.get_coordinates(line)[[0, -1]]
        x, y = local_metres(ends[:, 0], ends[:, 1])
        east[i], north[i] = x[1], y[1]
    seconds = drifts["duration_s"].to_numpy(np.float64)
    return east / seconds, north / seconds


def _crossings(drifts: gpd.GeoDataFrame, edges: gpd.GeoDataFrame | None) -> Ints:
    if edges is None:
        return np.full(len(drifts), -1, np.int64)
    lines = np.asarray(drifts.geometry)
    own = np.asarray(edges.to_crs("EPSG:4326").geometry)
    crossed = np.zeros(len(lines), np.int64)
    pairs = shapely.STRtree(own).query(lines, predicate="intersects")
    for drift, edge in pairs.T:
        crossed[drift] += shapely.get_num_geometries(shapely.intersection(lines[drift], own[edge]))
    return crossed
