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
from layers.tracks.spells import GAP, NOTHING, RUN
from layers.tracks.states import states_of_outing
from layers.tracks.table import FIXES
from seabed.array_types import Floats
from seabed.errors import TrackError
from seabed.geodesy import local_metres
from seabed.schema import documented

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
        unless the boat ran.  ``attrs["doubts"]`` holds what the track leaves open, in sentences.

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
    states, breaks, doubts = _states(time_s, longitude, latitude, settings)
    pieces = pieces_table(
        states, times=fixes["time"], longitude=longitude, latitude=latitude, breaks=breaks
    )
    pieces.attrs["doubts"] = doubts
    return pieces


def _states(
    time_s: Floats,
    longitude: Floats,
    latitude: Floats,
    settings: CutSettings,
) -> tuple[NDArray[np.int8], list[int], list[str]]:
    """State of each interval between neighbouring fixes; fixes that part drifts; doubts."""
    step = np.diff(time_s)
    states = np.full(len(step), GAP, np.int8)
    states[step > settings.outing_break_s] = NOTHING
    broken = np.flatnonzero(step > settings.longest_gap_s)
    starts = np.concatenate([[0], broken + 1])
    ends = np.concatenate([broken, [len(step)]])
    real = ends > starts
    starts, ends = starts[real], ends[real]
    outing = np.concatenate([[0], np.cumsum(states == NOTHING)])[starts]
    breaks: list[int] = []
    doubts: list[str] = []
    for number in np.unique(outing):
        spans = list(zip(starts[outing == number], ends[outing == number], strict=True))
        parts = [
            (time_s[a : b + 1], *local_metres(longitude[a : b + 1], latitude[a : b + 1]))
            for a, b in spans
        ]
        kinds, parted, doubt = states_of_outing(parts, settings)
        for (a, b), own, moments in zip(spans, kinds, parted, strict=True):
            states[a:b] = _or_gap(own, time_s[b] - time_s[a], settings)
            breaks += (a + np.searchsorted(time_s[a : b + 1], moments)).tolist()
        if doubt and doubt not in doubts:
            doubts.append(doubt)
    return states, breaks, doubts


def _or_gap(states: NDArray[np.int8], lasted_s: float, settings: CutSettings) -> NDArray[np.int8]:
    """Take a few fixes between gaps for a gap: they show a run, but not a drift from a hold."""
    if lasted_s >= min(settings.shortest_slow_s, settings.shortest_hold_s):
        return states
    return np.where(states == RUN, states, GAP).astype(np.int8)


def _check_clean(fixes: pd.DataFrame) -> None:
    FIXES.check(fixes, "time", "longitude", "latitude")
    if len(fixes) < 2:
        raise TrackError(f"a track needs two fixes to be cut; there are {len(fixes)}")
    if fixes["time"].isna().any() or not (np.diff(seconds_of(fixes["time"])) > 0).all():
        raise TrackError("the fixes are not in order of time", do="Clean them first.")
    position: Any = fixes[["longitude", "latitude"]].to_numpy()
    if not np.isfinite(position).all():
        raise TrackError("some fixes have no position", do="Clean them first.")
