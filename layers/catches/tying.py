"""Each fish onto the drift it came from."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.catches.reading import CATCHES
from layers.tracks import DRIFTS, FIXES
from layers.water.times import as_utc
from seabed.geodesy import local_metres
from seabed.schema import Table, documented

__all__ = ["AFTER_S", "drift_at", "tie"]

TIES: Final = Table.of(
    "ties",
    "layers.catches.tie",
    """
    drift_id [text empty "Drift"] it came from; ``""`` for none
    tied_by [text empty] time or place; ``""`` for neither
    why [text empty "Why none"] what spoke against a tie
    """,
)
AFTER_S: Final = 60.0
"""A fish logged up to this many seconds after a drift's end still belongs to it: it is unhooked and
measured first.  Common practice, no source."""

NEAR_M: Final = 30.0
"""A fish without a drift at its time is tied by place to one whose line passes within this."""


@documented(TIES)
def tie(
    catches: gpd.GeoDataFrame,
    drifts: gpd.GeoDataFrame,
    fixes: pd.DataFrame,
    *,
    clock_offset_s: float | NDArray[np.float64] = 0.0,
    after_s: float = AFTER_S,
    near_m: float = NEAR_M,
) -> gpd.GeoDataFrame:
    """Tie catches to drifts: by time, else by place on the same day.

    Parameters
    ----------
    catches : from `read_catches`
    drifts, fixes : from `drifts_of` and `clean`
    clock_offset_s : float or ndarray, shape (n,)
        Seconds that the log's clock was ahead of the track's; of each row if they differ.
    after_s : float
        How long after a drift's end a fish still belongs to it.
    near_m : float
        How near a drift's line a fish with a position but no drift at its time must lie.

    Returns
    -------
    GeoDataFrame
        As `catches`, every row kept, with more columns.  Positions that the log does not give are
        those of the track at that time, where it has one within two minutes; a time that it does
        not give is that of the track's fix nearest to the place, on the drift the fish is tied to.

        {ties}

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> tie(catches, drifts(cut(fixes), fixes), fixes)["drift_id"].str[-2:].tolist()
    ['#1', '#1', '#2', '#2', '#3']
    """
    CATCHES.check(catches, "time", "longitude", "latitude", "geometry")
    DRIFTS.check(drifts, "drift_id", "start", "end", "geometry")
    FIXES.check(fixes, "time", "longitude", "latitude")
    tied = catches.copy()
    tied["time"] = tied["time"] - pd.to_timedelta(clock_offset_s, unit="s")
    tied = _placed(tied, fixes)
    ids = [""] * len(tied)
    by = [""] * len(tied)
    why = [""] * len(tied)
    owner = _by_time(tied["time"], drifts, after_s)
    for i in range(len(tied)):
        if owner[i] >= 0:
            ids[i], by[i] = str(drifts["drift_id"].iloc[owner[i]]), "time"
            continue
        near = _by_place(tied.iloc[i], catches.iloc[i], drifts, near_m)
        if near >= 0:
            ids[i], by[i] = str(drifts["drift_id"].iloc[near]), "place"
            if pd.isna(tied["time"].iloc[i]):
                moment = _time_at(tied.iloc[i], drifts.iloc[near], fixes)
                tied.iloc[i, tied.columns.get_loc("time")] = moment
        else:
            why[i] = _reason(tied["time"].iloc[i], drifts)
    return tied.assign(drift_id=ids, tied_by=by, why=why)


def _nanoseconds(times: Any) -> NDArray[np.int64]:
    return as_utc(times).astype(np.int64)


def _by_time(times: pd.Series, drifts: gpd.GeoDataFrame, after_s: float) -> NDArray[np.int64]:
    """Row of the drift each time falls in, or just after; -1 for none."""
    if not len(drifts) or not len(times):
        return np.full(len(times), -1)
    start, end = (_nanoseconds(drifts[name]) / 1e9 for name in ("start", "end"))
    owner = drift_at(_nanoseconds(times) / 1e9, start, end, after_s)
    return np.where(times.notna().to_numpy(), owner, -1)


def drift_at(
    moment: NDArray[np.float64],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    after_s: float = AFTER_S,
) -> NDArray[np.int64]:
    """Row of the drift that each moment falls in, or just after; -1 for none.  All in seconds.

    Examples
    --------
    >>> import numpy as np
    >>> start, end = np.array([0.0, 900.0]), np.array([600.0, 1500.0])
    >>> drift_at(np.array([-1.0, 10.0, 650.0, 700.0, 901.0]), start, end).tolist()
    [-1, 0, 0, -1, 1]
    """
    order = np.argsort(start, kind="stable")
    at = np.searchsorted(start[order], moment, side="right") - 1
    row = order[np.clip(at, 0, None)]
    return np.where((at >= 0) & (moment <= end[row] + after_s), row, -1)


def _by_place(row: Any, given: Any, drifts: gpd.GeoDataFrame, near_m: float) -> int:
    """Row of the nearest drift of that day whose line is near the position the log gave; or -1."""
    if not (np.isfinite(given["longitude"]) and np.isfinite(given["latitude"])) or not len(drifts):
        return -1
    day = pd.Timedelta(hours=12)
    within = (drifts["start"] - day <= row["time"]) & (drifts["end"] + day >= row["time"])
    same = np.flatnonzero(within | pd.isna(row["time"]))
    best, nearest = -1, near_m
    for at in same:
        lon, lat = np.asarray(drifts.geometry.iloc[at].coords)[:, :2].T
        metres = _metres_to_line(given["longitude"], given["latitude"], lon, lat)
        if metres <= nearest:
            best, nearest = int(at), metres
    return best


def _time_at(fish: Any, drift: Any, fixes: pd.DataFrame) -> pd.Timestamp:
    """Give the time of the fix of a drift that is nearest to a fish's place."""
    on = fixes[(fixes["time"] >= drift["start"]) & (fixes["time"] <= drift["end"])]
    if not len(on):
        return drift["start"]
    away = np.hypot(
        *local_metres(
            on["longitude"].to_numpy(), on["latitude"].to_numpy(),
            centre=(fish["longitude"], fish["latitude"]),
        )
    )  # fmt: skip
    return on["time"].iloc[int(away.argmin())]


def _metres_to_line(longitude: float, latitude: float, lon: Any, lat: Any) -> float:
    """Least distance to a line, on a plane tangent at the point."""
    x, y = local_metres(lon, lat, centre=(longitude, latitude))
    dx, dy = np.diff(x), np.diff(y)
    length = np.maximum(dx**2 + dy**2, 1e-12)
    along = np.clip(-(x[:-1] * dx + y[:-1] * dy) / length, 0, 1)
    return float(np.hypot(x[:-1] + along * dx, y[:-1] + along * dy).min())


def _placed(catches: gpd.GeoDataFrame, fixes: pd.DataFrame) -> gpd.GeoDataFrame:
    """Fill positions that are missing from the track."""
    missing = catches["longitude"].isna() | catches["latitude"].isna()
    timed = fixes[fixes["time"].notna()]
    if not missing.any() or timed.empty:
        return catches
    known = _nanoseconds(timed["time"])
    moments = _nanoseconds(catches["time"])
    after = np.clip(np.searchsorted(known, moments), 0, len(known) - 1)
    before = np.clip(after - 1, 0, None)
    away = np.minimum(np.abs(known[after] - moments), np.abs(known[before] - moments))
    fill = missing.to_numpy() & catches["time"].notna().to_numpy() & (away <= 120e9)
    for name in ("longitude", "latitude"):
        between = np.interp(moments, known, timed[name].to_numpy())
        catches[name] = np.where(fill, between, catches[name])
    placed = catches["longitude"].notna().to_numpy()
    points = gpd.GeoSeries(gpd.points_from_xy(catches["longitude"], catches["latitude"]))
    catches.geometry = points.where(placed, None).set_crs("EPSG:4326").to_numpy()
    return catches.set_crs("EPSG:4326", allow_override=True)


def _reason(time: pd.Timestamp, drifts: gpd.GeoDataFrame) -> str:
    if not len(drifts):
        return "there are no drifts"
    if pd.isna(time):
        return "it has no time, and no drift passes near its place"
    gap = np.minimum(
        np.abs((drifts["start"] - time).dt.total_seconds()),
        np.abs((drifts["end"] - time).dt.total_seconds()),
    )
    nearest = int(np.argmin(gap))
    minutes = gap.iloc[nearest] / 60
    apart = f"{minutes:.0f} min" if minutes < 600 else f"{minutes / 1440:.0f} days"
    return f"no drift at its time; the nearest, {drifts['drift_id'].iloc[nearest]}, is {apart} away"
