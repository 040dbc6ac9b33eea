"""The table of pieces, from the state of each interval."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.tracks.motion import local_lines, noise_of, seconds_of, smoothing_s
from layers.tracks.spells import DRIFT, GAP, HOLD, NOTHING, RUN
from seabed.array_types import Floats, Pair
from seabed.geodesy import local_metres, step_lengths
from seabed.schema import Table
from seabed.units import half_turned

PIECES: Final = Table.of(
    "pieces",
    "layers.tracks.cut",
    """
    piece_id [int] from 0
    kind [text "Kind"] run, drift, hold or gap
    start [time "From"] UTC
    end [time "To"] UTC
    duration_s ["Lasted"] from start to end
    distance_m ["Distance" distance .2] along the geometry
    sog_mps ["Speed" .1] mean speed over the ground
    course_deg ["Course" empty] true, from start to end; NaN of a hold and where the two are one
        place
    first_fix, last_fix [int] row numbers of the fixes; neighbouring pieces share the fix between
        them
    outing [int] from 0
    lines_up_s not fished; nothing until `correct` says so
    geometry [LineString] of drifts and holds smoothed against noise; of a gap it joins the fixes
        either side
    """,
)

KIND_NAMES: Final = {RUN: "run", DRIFT: "drift", HOLD: "hold", GAP: "gap"}
"""Kind of each state that makes a piece."""

_VERTEX_S: Final = 5.0


def pieces_table(
    states: NDArray[np.int8],
    *,
    times: pd.Series,
    longitude: Floats,
    latitude: Floats,
    breaks: Sequence[int] = (),
) -> gpd.GeoDataFrame:
    """Gather intervals of one state into pieces, as `PIECES`.

    states, shape (n - 1,): state of the interval after each fix but the last.
    breaks: rows of fixes at which a piece ends, whatever comes after.
    """
    time_s = seconds_of(times)
    inner = [row for row in breaks if 0 < row < len(states)]
    changes = np.flatnonzero(np.diff(states)) + 1
    bounds = np.concatenate([[0], np.union1d(changes, inner), [len(states)]]).astype(np.int64)
    first, last = bounds[:-1], bounds[1:]
    kind = states[first]
    outing = np.cumsum(kind == NOTHING)
    real = kind != NOTHING
    first, last, kind, outing = first[real], last[real], kind[real], outing[real]
    lines = [
        _line(int(state), time_s[a : b + 1], longitude[a : b + 1], latitude[a : b + 1])
        for state, a, b in zip(kind, first, last, strict=True)
    ]
    duration = time_s[last] - time_s[first]
    distance = np.array([step_lengths(line[0], line[1]).sum() for line in lines])
    return PIECES.frame(
        {
            "piece_id": np.arange(len(first)),
            "kind": [KIND_NAMES[int(state)] for state in kind],
            "start": times.iloc[first].reset_index(drop=True),
            "end": times.iloc[last].reset_index(drop=True),
            "duration_s": duration,
            "distance_m": distance,
            "sog_mps": distance / duration,
            "course_deg": _courses(lines, kind),
            "first_fix": first.astype(np.int64),
            "last_fix": last.astype(np.int64),
            "outing": outing - outing[:1].sum(),
            "lines_up_s": np.zeros(len(first)),
            "geometry": [shapely.linestrings(*line) for line in lines],
        }
    )


def _line(state: int, time_s: Floats, longitude: Floats, latitude: Floats) -> Pair:
    """Vertices of a piece; smoothed within itself where noise matters."""
    if state not in (DRIFT, HOLD) or len(time_s) < 5:
        return longitude, latitude
    x, y = local_metres(longitude, latitude)
    half_s = smoothing_s(time_s, noise_of(time_s, x, y))
    count = max(2, min(len(time_s), int((time_s[-1] - time_s[0]) / _VERTEX_S) + 1))
    moments = np.linspace(time_s[0], time_s[-1], count)
    smooth_x, smooth_y, _, _ = local_lines(time_s, x, y, moments, half_s)
    one_degree_x, _ = local_metres(np.array([longitude[0], longitude[0] + 1]), latitude[[0, 0]])
    _, one_degree_y = local_metres(longitude[[0, 0]], np.array([latitude[0], latitude[0] + 1]))
    return (
        half_turned(longitude[0] + smooth_x / one_degree_x[1]),
        latitude[0] + smooth_y / one_degree_y[1],
    )


def _courses(lines: list[Pair], kind: NDArray[np.int8]) -> Floats:
    """Direction from start to end, degrees true."""
    courses = np.full(len(lines), np.nan)
    for i, (longitude, latitude) in enumerate(lines):
        x, y = local_metres(longitude[[0, -1]], latitude[[0, -1]])
        if kind[i] != HOLD and (x[1] or y[1]):
            courses[i] = np.degrees(np.arctan2(x[1], y[1])) % 360.0
    return courses
