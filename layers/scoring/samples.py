"""Drifts cut into short pieces: where and when there was effort, and what came of it."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from layers.catches import CATCHES
from layers.catches.tying import by_weight
from layers.tracks import DRIFTS
from layers.tracks.motion import seconds_of
from seabed.array_types import Floats, Ints
from seabed.geodesy import bearing_and_distance, local_metres
from seabed.schema import Table

SAMPLES: Final = Table.of(
    "samples",
    "layers.scoring.samples.sample_drifts",
    """
    drift_id, trip, line [text empty] of its drift
    time [time] its middle, UTC
    longitude, latitude, depth_m [empty] mean of what is known
    sog_mps [empty] speed over the ground
    course_deg [empty] toward; NaN if it stood still
    rod_hours they add up to the drift's
    fish, kept [int] that came of it, each on its likeliest drift
    fish_weight, kept_weight the same, each on both drifts that it may be of, as likely as that is
    """,
)

EVERY_S: Final = 30.0

AT_ONCE: Final = 200
"""Drifts whose points are in memory at once."""

PLACE: Final = ("longitude", "latitude", "depth_m")


def sample_drifts(
    drifts: gpd.GeoDataFrame,
    catches: gpd.GeoDataFrame,
    fixes: pd.DataFrame | None = None,
    *,
    depth: Floats | None = None,
    every_s: float = EVERY_S,
) -> pd.DataFrame:
    """Cut drifts into pieces of `every_s`, with the effort and the fish of each, as `SAMPLES`.

    A fish belongs to the piece of its drift nearest in time, or in place if it was tied by place.
    Without fixes, a drift's points are taken as evenly spaced in time.  depth: under each fix.
    """
    DRIFTS.check(drifts, "drift_id", "start", "end", "rod_hours", "geometry")
    CATCHES.check(catches, "time", "kept", "longitude", "latitude")
    batches = [drifts.iloc[at : at + AT_ONCE] for at in range(0, len(drifts), AT_ONCE)]
    points = (_points(own, fixes, depth) for own in batches)
    pieces = [
        _pieces(table, own, every_s)
        for table, own in zip(points, batches, strict=True)
        if len(table)
    ]
    if not pieces:
        return SAMPLES.empty()
    return SAMPLES.frame(count_fish(pd.concat(pieces, ignore_index=True), catches))


def _points(
    drifts: gpd.GeoDataFrame, fixes: pd.DataFrame | None, depth: Floats | None
) -> pd.DataFrame:
    """Points of each drift: ``row`` of the drift, second, place, depth."""
    start, end = seconds_of(drifts["start"]), seconds_of(drifts["end"])
    if fixes is None:
        coordinates, row = shapely.get_coordinates(drifts.geometry.to_numpy(), return_index=True)
        count = np.bincount(row, minlength=len(drifts))
        place = np.arange(len(row)) - np.concatenate([[0], np.cumsum(count)[:-1]])[row]
        second = start[row] + (end - start)[row] * place / np.maximum(count[row] - 1, 1)
        known = np.full(len(row), np.nan)
    else:
        moment = seconds_of(fixes["time"])
        first = np.searchsorted(moment, start - 1e-3)
        last = np.searchsorted(moment, end + 1e-3)
        row = np.repeat(np.arange(len(drifts)), last - first)
        runs = [np.arange(a, b) for a, b in zip(first, last, strict=True)]
        at = np.concatenate([np.zeros(0, np.int64), *runs]).astype(np.int64)
        second = moment[at]
        coordinates = fixes[["longitude", "latitude"]].to_numpy(float)[at]
        known = np.full(len(at), np.nan) if depth is None else np.asarray(depth, float)[at]
    return pd.DataFrame(
        {
            "row": row,
            "second": second,
            "longitude": coordinates[:, 0],
            "latitude": coordinates[:, 1],
            "depth_m": known,
        }
    )


def _means(values: Any, first: Ints) -> Floats:
    """Mean of the known values from each of these places to the next; NaN without one."""
    number = np.asarray(values, np.float64)
    known = np.isfinite(number)
    count = np.add.reduceat(known, first, dtype=np.int64)
    total = np.add.reduceat(np.where(known, number, 0.0), first)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _pieces(points: pd.DataFrame, drifts: gpd.GeoDataFrame, every_s: float) -> pd.DataFrame:
    row = points["row"].to_numpy()
    length = seconds_of(drifts["end"]) - seconds_of(drifts["start"])
    pieces = np.maximum(np.round(length / every_s), 1).astype(np.int64)
    start = seconds_of(drifts["start"])
    passed = points["second"].to_numpy() - start[row]
    piece = np.minimum((passed / every_s).astype(np.int64), pieces[row] - 1)
    # points come drift by drift, in order of time
    first = np.flatnonzero(np.diff(row, prepend=-1) | np.diff(piece, prepend=-1))
    own = row[first]
    samples = pd.DataFrame({name: _means(points[name], first) for name in PLACE})
    samples["row"], samples["second"] = own, _means(passed, first) + start[own]
    samples["weight"] = np.add.reduceat(_weights(row, points["second"].to_numpy()), first)
    total = np.bincount(own, samples["weight"], minlength=len(drifts))
    hours = drifts["rod_hours"].to_numpy(float)
    samples["rod_hours"] = samples["weight"] * (hours / np.where(total > 0, total, np.nan))[own]
    samples["rod_hours"] = samples["rod_hours"].fillna(0.0)
    samples["time"] = pd.to_datetime((samples["second"] * 1e9).astype(np.int64), utc=True)
    for name in ("drift_id", "trip", "line"):
        samples[name] = drifts[name].to_numpy()[own] if name in drifts else ""
    return _with_motion(samples)


def _weights(row: Ints, second: Floats) -> Floats:
    """Half of the time to the points before and after, within each drift."""
    gap = np.diff(second) * (np.diff(row) == 0)
    return np.concatenate([[0.0], gap]) / 2 + np.concatenate([gap, [0.0]]) / 2


def _with_motion(samples: pd.DataFrame) -> pd.DataFrame:
    """Speed and course between the pieces before and after, of the same drift."""
    n = len(samples)
    row = samples["row"].to_numpy()
    before, after = np.maximum(np.arange(n) - 1, 0), np.minimum(np.arange(n) + 1, n - 1)
    before = np.where(row[before] == row, before, np.arange(n))
    after = np.where(row[after] == row, after, np.arange(n))
    longitude, latitude = samples["longitude"].to_numpy(), samples["latitude"].to_numpy()
    course, metres = bearing_and_distance(
        longitude[before], latitude[before], longitude[after], latitude[after]
    )
    passed = samples["second"].to_numpy()[after] - samples["second"].to_numpy()[before]
    moved = (passed > 0) & (metres > 0)
    speed = np.where(passed > 0, metres / np.where(passed > 0, passed, 1.0), np.nan)
    return samples.assign(sog_mps=speed, course_deg=np.where(moved, course, np.nan))


def count_fish(samples: pd.DataFrame, catches: gpd.GeoDataFrame) -> pd.DataFrame:
    """Count fish again, perhaps other ones, each in the piece of its drift that is nearest."""
    ties = by_weight(catches)
    ids = pd.Index(samples["drift_id"].unique())
    own = ids.get_indexer(samples["drift_id"])
    order = np.argsort(own, kind="stable")
    drift = ids.get_indexer(ties["drift_id"])
    likeliest = (np.arange(len(ties)) < len(catches))[drift >= 0]
    tied = ties[drift >= 0]
    drift = drift[drift >= 0]
    first = np.searchsorted(own, drift, sorter=order)
    count = np.searchsorted(own, drift, side="right", sorter=order) - first
    fish = np.repeat(np.arange(len(tied)), count)
    begin = np.cumsum(count) - count
    piece = order[np.arange(count.sum()) + np.repeat(first - begin, count)]
    away = _away(samples, piece, tied, fish)
    nearest = piece[np.lexsort((piece, away, fish))[begin]]
    weight = tied["weight"].to_numpy(float)
    kept = tied["kept"].astype("boolean").fillna(False).to_numpy(bool)
    counts = {
        "fish": likeliest, "kept": likeliest & kept, "fish_weight": weight,
        "kept_weight": weight * kept,
    }  # fmt: skip
    counted = {name: np.bincount(nearest, one, len(samples)) for name, one in counts.items()}
    whole = {name: counted[name].astype(np.int64) for name in ("fish", "kept")}
    return samples.assign(**counted | whole)


def weights_of(samples: pd.DataFrame) -> Floats:
    """Give ``fish`` by weight, where that is known; else the count."""
    column = "fish_weight" if "fish_weight" in samples else "fish"
    return np.asarray(samples[column].to_numpy(np.float64))


def _away(
    samples: pd.DataFrame,
    piece: Ints,
    tied: gpd.GeoDataFrame,
    fish: Ints,
) -> Floats:
    """Seconds from fish to pieces; metres, for those tied by place."""
    here, there = (
        [table[name].to_numpy(float)[row] for name in ("longitude", "latitude")]
        for table, row in ((samples, piece), (tied, fish))
    )
    away = np.hypot(*local_metres(*here, centre=(there[0], there[1])))
    timed = tied["time"].notna().to_numpy()
    if "tied_by" in tied:
        timed = timed & (tied["tied_by"] != "place").to_numpy()
    second = np.full(len(tied), np.nan)
    second[timed] = seconds_of(tied["time"][timed])
    waited = np.abs(seconds_of(samples["time"])[piece] - second[fish]).round(3)
    return np.asarray(np.where(timed[fish], waited, away))
