"""Cut a cleaned track into runs, drifts, holds and gaps."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.tracks.motion import seconds_of
from layers.tracks.pieces import KIND_NAMES, PIECES, pieces_table
from layers.tracks.settings import CutSettings
from layers.tracks.states import states_of
from layers.tracks.stretches import GAP, NOTHING, RUN
from layers.tracks.table import FIXES
from seabed.errors import TrackError
from seabed.geodesy import local_metres
from seabed.schema import documented

__all__ = ["KINDS", "cut"]

KINDS: Final = tuple(KIND_NAMES.values())
"""Kinds of piece."""


@documented(PIECES)
def cut(fixes: pd.DataFrame, settings: CutSettings | None = None) -> gpd.GeoDataFrame:
    """Cut cleaned fixes into pieces by what the boat did.

    Parameters
    ----------
    fixes : DataFrame
        From `clean`: times rising strictly, positions finite.
    settings : CutSettings, optional

    Returns
    -------
    GeoDataFrame
        EPSG:4326, a row a piece in order of time.

        {pieces}

        Every second from the first fix of an outing to its last is in exactly one piece.  Fixes
        between gaps over less time than the shortest drift and the shortest hold are of the gap,
        unless the boat ran.

    Raises
    ------
    TrackError
        If there are fewer than two fixes, or they are not clean.

    Examples
    --------
    >>> from layers import example_trip
    >>> fixes, catches = example_trip()
    >>> cut(fixes)["kind"].tolist()
    ['drift', 'run', 'drift', 'run', 'drift', 'run', 'drift', 'run']
    """
    settings = settings or CutSettings()
    _check_clean(fixes)
    time_s = seconds_of(fixes["time"])
    longitude = fixes["longitude"].to_numpy(np.float64)
    latitude = fixes["latitude"].to_numpy(np.float64)
    states = _states(time_s, longitude, latitude, settings)
    return pieces_table(states, times=fixes["time"], longitude=longitude, latitude=latitude)


def _states(
    time_s: NDArray[np.float64],
    longitude: NDArray[np.float64],
    latitude: NDArray[np.float64],
    settings: CutSettings,
) -> NDArray[np.int8]:
    """State of each interval between neighbouring fixes, shape (n - 1,)."""
    step = np.diff(time_s)
    least = min(settings.shortest_slow_s, settings.shortest_hold_s)
    states = np.full(len(step), GAP, np.int8)
    states[step > settings.outing_break_s] = NOTHING
    broken = np.flatnonzero(step > settings.longest_gap_s)
    starts = np.concatenate([[0], broken + 1])
    ends = np.concatenate([broken, [len(step)]])
    for first, last in zip(starts, ends, strict=True):
        if last > first:
            part = slice(int(first), int(last) + 1)
            x, y = local_metres(longitude[part], latitude[part])
            states[first:last] = states_of(time_s[part], x, y, settings)
            if time_s[last] - time_s[first] < least:
                # A few fixes between gaps tell a run, but not a drift from a hold.
                own = states[first:last]
                own[own != RUN] = GAP
    return states


def _check_clean(fixes: pd.DataFrame) -> None:
    FIXES.check(fixes, "time", "longitude", "latitude")
    if len(fixes) < 2:
        raise TrackError(f"a track needs two fixes to be cut; there are {len(fixes)}")
    if fixes["time"].isna().any() or not (np.diff(seconds_of(fixes["time"])) > 0).all():
        raise TrackError("the fixes are not in order of time", do="Clean them first.")
    position: Any = fixes[["longitude", "latitude"]].to_numpy()
    if not np.isfinite(position).all():
        raise TrackError("some fixes have no position", do="Clean them first.")
