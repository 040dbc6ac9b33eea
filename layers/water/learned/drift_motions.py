"""How a boat moved on its drifts, in short pieces: what a current is learned from."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.water.times import as_utc, seconds_between
from layers.water.wind._wind import Wind
from seabed.array_types import Floats
from seabed.errors import WaterError
from seabed.geodesy import bearing_and_distance
from seabed.schema import Table

MOTIONS: Final = Table.of(
    "motions",
    "layers.water.learned.drift_motions",
    """
    time [time] the middle of the piece, UTC
    east_mps, north_mps [empty] velocity by least squares of position on time
    wind_mps, wind_from_deg the wind then
    longitude, latitude mean position
    trip, drift_id [text] of its drift
    seconds [.0] it lasted
    """,
)

LEAST_SHARE: Final = 0.4
"""A piece shorter than this share of the window is joined to the one before."""


def drift_motions(
    fixes: pd.DataFrame, drifts: pd.DataFrame, wind: Wind | None, *, window_s: float = 300.0
) -> pd.DataFrame:
    """Velocity over the ground in pieces of `window_s` of each drift, as `MOTIONS`.

    Pieces with fewer than three fixes are left out; WaterError if none is left.
    """
    times = as_utc(fixes["time"])
    longitude, latitude = (fixes[name].to_numpy(float) for name in ("longitude", "latitude"))
    rows = []
    for drift in drifts.to_dict("records"):
        first, last = np.searchsorted(times, as_utc([drift["start"], drift["end"]]))
        for a, b in _pieces(times[first : last + 1], window_s):
            part = slice(first + a, first + b)
            if b - a >= 3:
                row = _motion(times[part], longitude[part], latitude[part])
                rows.append(row | {"trip": drift["trip"], "drift_id": drift["drift_id"]})
    if not rows:
        raise WaterError("no drift has fixes in it", do="Give tracks with drifts on them.")
    table = pd.DataFrame(rows)
    speed, from_deg = wind.at(table["time"]) if wind else (np.zeros(len(table)),) * 2
    return MOTIONS.frame(table.assign(wind_mps=speed, wind_from_deg=from_deg))


def _pieces(times: NDArray[np.datetime64], window_s: float) -> list[tuple[int, int]]:
    if len(times) < 3:
        return []
    passed = seconds_between(times[0], times)
    whole = float(passed[-1])
    count = max(int(whole // window_s) + int(whole % window_s >= LEAST_SHARE * window_s), 1)
    edges = np.searchsorted(passed, np.linspace(0.0, whole, count + 1))
    edges[-1] = len(times)
    return list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))


def _motion(
    times: NDArray[np.datetime64], longitude: Floats, latitude: Floats
) -> dict[str, object]:
    passed = seconds_between(times[0], times)
    middle = (float(np.nanmean(longitude)), float(np.nanmean(latitude)))
    azimuth, away = bearing_and_distance(*middle, longitude, latitude)
    east, north = away * np.sin(np.radians(azimuth)), away * np.cos(np.radians(azimuth))
    centred = passed - passed.mean()
    spread = float(centred @ centred)
    return {
        "time": times[0] + np.timedelta64(int(passed.mean() * 1e9), "ns"),
        "east_mps": float(centred @ east) / spread if spread > 0 else np.nan,
        "north_mps": float(centred @ north) / spread if spread > 0 else np.nan,
        "longitude": middle[0],
        "latitude": middle[1],
        "seconds": float(passed[-1]),
    }
