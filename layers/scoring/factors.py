"""By what the fish came: depth, slope, edge, stage, speed, wind, hour - with the effort beside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from scipy.spatial import cKDTree

from layers.scoring.along import on_plane
from layers.scoring.rates import poisson_limits
from layers.scoring.samples import SAMPLES, weights_of
from layers.water import Currents, Heights, Wind
from layers.water.heights.stage import stage
from seabed.array_types import Floats
from seabed.errors import TableError
from seabed.grid.arrays import as_grid
from seabed.grid.places import sample
from seabed.schema import Table
from seabed.terrain import slope

FACTORS: Final[dict[str, tuple[float, ...] | None]] = {
    "depth_m": tuple(float(depth) for depth in range(0, 61)),
    "slope_deg": (0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 90.0),
    "edge_m": (-1e9, -100.0, -50.0, -25.0, 0.0, 25.0, 50.0, 100.0, 1e9),
    "structure": None,
    "state": None,
    "hours_from_high": (-13.0, -5.0, -3.0, -1.0, 1.0, 3.0, 5.0, 13.0),
    "sog_mps": (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 3.0),
    "course_deg": tuple(float(edge) for edge in range(0, 361, 45)),
    "wind_along_mps": (-30.0, -6.0, -3.0, -1.0, 1.0, 3.0, 6.0, 30.0),
    "hour": tuple(float(hour) for hour in range(0, 25, 2)),
}
"""What rates are grouped by: bounds of the bins, None for words."""

BY_FACTOR: Final = Table.of(
    "by_factor",
    "layers.scoring.factors.by_factor",
    """
    factor [text] a key of `FACTORS`
    value [text empty] the word, or NaN
    low, high [empty] bounds, or NaN
    rod_hours in the bin
    share_of_effort of all, samples of unknown value too
    fish, kept [int] in the bin
    rate fish a rod-hour
    rate_low, rate_high exact Poisson limits
    enough [bool] two fish were due at the rate of all water: if not, a bar of this bin shows
        too little effort, not bad water
    """,
)

MARK_M: Final = 2.0
"""Between points of an edge among which the nearest is sought."""

AT_ONCE: Final = 20_000
"""Places sought at once among features."""

NEAR_M: Final = 25.0
"""A drift this near an edge fishes it.  Common practice, no source."""

ENOUGH_FISH: Final = 2.0
"""Fish due at the rate of all water, below which a bin's own rate says nothing."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What is known of bottom, water and wind; all of it optional.

    Attributes
    ----------
    grid : depth grid
        Gives slopes, and charted depths where the samples have none at all.
    edges, features : GeoDataFrame
        Edges; humps and holes.  Give what structure a fish was at, and how far from an edge.
    heights, currents, wind
        Give flood, ebb and slack, hours from high water, and the wind along the water's set.
    """

    grid: xr.DataArray | None = None
    edges: gpd.GeoDataFrame | None = None
    features: gpd.GeoDataFrame | None = None
    heights: Heights | None = None
    currents: Currents | None = None
    wind: Wind | None = None


def with_factors(
    samples: pd.DataFrame, ground: Ground = Ground(), *, timezone: str = "UTC"
) -> pd.DataFrame:
    """Add to samples what is known of bottom, water and wind: those of `FACTORS` that it gives."""
    SAMPLES.check(samples, "time", "longitude", "latitude", "depth_m")
    out = samples.copy(deep=False)
    longitude, latitude = out["longitude"].to_numpy(float), out["latitude"].to_numpy(float)
    if ground.grid is not None:
        grid = as_grid(ground.grid)
        out["slope_deg"] = sample(slope(grid), longitude, latitude)
        if not out["depth_m"].notna().any():
            out["depth_m"] = sample(grid, longitude, latitude)
    if ground.edges is not None or ground.features is not None:
        out = _structure(out, ground.edges, ground.features)
    times = pd.DatetimeIndex(out["time"])
    if ground.heights is not None and len(out):
        staged = stage(ground.heights, times)
        out["state"] = staged["state"].to_numpy()
        out["hours_from_high"] = staged["hours_from_high"].to_numpy()
    if ground.wind is not None and len(out):
        out["wind_along_mps"] = _wind_along(out, times, ground.currents, ground.wind)
    local = times.tz_convert(timezone)
    out["hour"] = np.asarray(local.hour + local.minute / 60.0, float)
    return out


def by_factor(
    samples: pd.DataFrame,
    factor: str,
    *,
    bins: Sequence[float] | None = None,
    level: float = 0.8,
) -> pd.DataFrame:
    """Rates by one factor, with the effort beside, as `BY_FACTOR`; bins without effort have no row.

    factor: a key of `FACTORS`, or any column if `bins` are given or it holds words.
    bins: bounds; a bin holds its lower one.  level: of the limits.
    """
    SAMPLES.check(samples, "rod_hours", "fish", "kept")
    if factor not in samples:
        raise TableError(f"the table samples has no column {factor}", do="Add it: `with_factors`.")
    bounds = FACTORS.get(factor) if bins is None else tuple(bins)
    if bounds is None:
        key = samples[factor]
    else:
        at = np.digitize(samples[factor].to_numpy(float), bounds) - 1
        inside = samples[factor].notna() & (at >= 0) & (at < len(bounds) - 1)
        key = pd.Series(np.where(inside, at, -1), index=samples.index)
        key = key.where(inside)
    weighed = samples[["rod_hours", "fish", "kept"]].assign(weight=weights_of(samples))
    sums = weighed.groupby(key).sum()
    sums = sums[sums["rod_hours"] > 0]
    hours, fish = sums["rod_hours"].to_numpy(), sums["weight"].to_numpy()
    low, high = poisson_limits(fish, level=level)
    total = samples["rod_hours"].sum()
    pooled = weights_of(samples).sum() / total if total > 0 else 0.0
    places = np.asarray(sums.index if bounds is not None else [], float).astype(np.int64)
    return pd.DataFrame(
        {
            "factor": factor,
            "value": np.nan if bounds is not None else sums.index.to_numpy(),
            "low": np.array(bounds)[places] if bounds is not None else np.nan,
            "high": np.array(bounds)[places + 1] if bounds is not None else np.nan,
            "rod_hours": hours,
            "share_of_effort": hours / total if total > 0 else hours,
            "fish": sums["fish"].to_numpy(),
            "kept": sums["kept"].to_numpy(),
            "rate": fish / hours,
            "rate_low": low / hours,
            "rate_high": high / hours,
            "enough": hours * pooled >= ENOUGH_FISH,
        }
    )


def by_what(
    samples: pd.DataFrame, *, bins: Mapping[str, Sequence[float]] | None = None, level: float = 0.8
) -> pd.DataFrame:
    """Rates by every factor that the samples know; as `by_factor`, one below the other."""
    chosen = bins or {}
    tables = [
        by_factor(samples, name, bins=chosen.get(name), level=level)
        for name in FACTORS
        if name in samples and samples[name].notna().any()
    ]
    if not tables:
        return BY_FACTOR.empty()
    return pd.concat(tables, ignore_index=True)


def by_year(samples: pd.DataFrame, *, timezone: str = "UTC", level: float = 0.8) -> pd.DataFrame:
    """Rates of each year, of all water (``line`` is ``""``) and of each line, as `by_factor`."""
    years = pd.DatetimeIndex(samples["time"]).tz_convert(timezone).year
    counted = [name for name in ("rod_hours", "fish", "kept", "fish_weight") if name in samples]
    dated = samples[["line", *counted]].assign(year=years)
    parts = [("", dated), *dated[dated["line"] != ""].groupby("line")]
    tables = [by_factor(part, "year", level=level).assign(line=name) for name, part in parts]
    return pd.concat(tables, ignore_index=True).astype({"value": str})


def _structure(
    samples: pd.DataFrame, edges: gpd.GeoDataFrame | None, features: gpd.GeoDataFrame | None
) -> pd.DataFrame:
    kind = np.full(len(samples), "open", dtype=object)
    out = samples.copy(deep=False)
    if not len(samples) or not any(table is not None and len(table) for table in (edges, features)):
        return out.assign(structure=kind)
    flat, crs = on_plane(samples)
    if features is not None and len(features):
        tree = shapely.STRtree(features.to_crs(crs).geometry.to_numpy())
        for begin in range(0, len(flat), AT_ONCE):
            points = shapely.points(flat[begin : begin + AT_ONCE])
            point, feature = tree.query(points, predicate="within")
            kind[begin + point] = features["kind"].to_numpy()[feature]
    if edges is not None and len(edges):
        out["edge_m"] = edge_distance(flat, edges.to_crs(crs))
        kind[(np.abs(out["edge_m"]) <= NEAR_M) & (kind == "open")] = "edge"
    out["structure"] = kind
    return out


def edge_distance(xy: Floats, edges: gpd.GeoDataFrame) -> Floats:
    """Metres to the nearest edge, negative on its shallow side; NaN at NaN.

    The nearest of points `MARK_M` apart along the edges tells the leg that is measured to, so that
    of two that are equally near by half of that either may be taken.
    """
    ends, line = shapely.get_coordinates(edges.geometry.to_numpy(), return_index=True)
    first = np.flatnonzero(np.diff(line) == 0)  # of each two points of one edge
    start, leg, line = ends[first], ends[first + 1] - ends[first], line[first]
    length = np.hypot(*leg.T)
    marks = np.maximum(np.ceil(length / MARK_M), 1).astype(np.int64)
    of = np.repeat(np.arange(len(leg)), marks)
    before = np.repeat(np.cumsum(marks) - marks, marks)
    share = (np.arange(len(of)) - before + 0.5) / marks[of]
    # points along lines are sought in a third of the time in a tree that is cut in half by place
    tree = cKDTree(start[of] + share[:, None] * leg[of], balanced_tree=False, compact_nodes=False)
    faces = np.radians(edges["faces_deg"].to_numpy(float))
    out = np.full(len(xy), np.nan)
    for begin in range(0, len(xy), AT_ONCE):
        part = xy[begin : begin + AT_ONCE]
        known = np.isfinite(part).all(axis=1)
        _, nearest = tree.query(part[known], workers=-1)
        near = of[nearest]
        out[begin : begin + AT_ONCE][known] = _beside(
            part[known] - start[near], leg[near], length[near], faces[line[near]]
        )
    return out


def _beside(off: Floats, leg: Floats, length: Floats, faces: Floats) -> Floats:
    """Metres from legs to places `off` their starts, negative away from where the legs face."""
    square = np.maximum(length**2, np.finfo(float).tiny)
    along = np.clip((off * leg).sum(axis=1) / square, 0.0, 1.0)
    east, north = (off - along[:, None] * leg).T
    away = np.hypot(east, north)
    return np.asarray(np.where(east * np.sin(faces) + north * np.cos(faces) >= 0, away, -away))


def _wind_along(
    samples: pd.DataFrame, times: pd.DatetimeIndex, currents: Currents | None, wind: Wind
) -> Floats:
    speed, from_deg = wind.at(times)
    toward = np.radians(np.asarray(from_deg, float) + 180.0)
    if currents is None:
        course = np.radians(samples["course_deg"].to_numpy(float))
    else:
        east, north = currents.velocity(
            times, samples["longitude"].to_numpy(), samples["latitude"].to_numpy()
        )
        course = np.arctan2(east, north)
    return np.asarray(np.asarray(speed, float) * np.cos(toward - course))
