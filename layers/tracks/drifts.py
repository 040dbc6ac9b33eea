"""The drifts of a cut track, with what each one was."""

from __future__ import annotations

from typing import Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.tracks.motion import seconds_of
from layers.tracks.pieces import PIECES
from layers.tracks.table import FIXES
from seabed.array_types import Floats, Pair
from seabed.schema import Table, documented

DRIFTS: Final = Table.of(
    "drifts",
    "layers.tracks.drifts_of",
    """
    drift_id [text "Drift"] "2031-06-14 #3": date of the trip and the drift's number in it
    trip [text] local date of the first drift of the outing
    start [time "From"] UTC
    end [time] UTC
    duration_s ["Lasted"] from start to end
    distance_m ["Distance" distance .2] along its line
    sog_mps ["Speed" .1] mean speed over the ground
    course_deg ["Course" empty] true, from start to end; NaN where the two are one place
    depth_start_m [empty] NaN, as the next three, where no depth is known
    depth_min_m [empty] least
    depth_mean_m ["Mean depth then" empty] weighted by time
    depth_max_m [empty] greatest
    in_band_s [empty] with the charted depth in the band, whatever the tide; NaN without a band or a
        known depth
    lines_up_s not fished
    rods [.0] that fished
    rod_hours ["Effort" .1] of what was fished
    first_fix, last_fix, piece_id [int] of the fixes and of the piece
    geometry [LineString]
    """,
)


@documented(DRIFTS)
def drifts_of(
    pieces: gpd.GeoDataFrame,
    fixes: pd.DataFrame,
    *,
    grid_depth: Floats | None = None,
    charted_depth: Floats | None = None,
    rods: float = 1.0,
    band_m: tuple[float, float] | None = None,
    timezone: str = "UTC",
) -> gpd.GeoDataFrame:
    """Take the drifts of a cut track and say what each one was.

    Parameters
    ----------
    pieces, fixes : from `cut` and `clean`
    grid_depth : ndarray, shape (n,), optional
        Depth under each fix (`depth_under`), metres.  Without it the sounder's own depth counts.
    charted_depth : ndarray, shape (n,), optional
        Depth there at the grid's datum, without the tide, by which the band is judged - as scouting
        and planning do.  Without it the depth under the boat counts.
    rods : float
        Rods that fish on a drift.
    band_m : tuple of float, optional
        Shallow and deep bound of the depth band.
    timezone : str
        Whose dates name the trips.

    Returns
    -------
    GeoDataFrame
        EPSG:4326, a row a drift in order of time; without rows where there was no drift.

        {drifts}

    Examples
    --------
    >>> from layers import cut, example_trip
    >>> fixes, catches = example_trip()
    >>> drifts = drifts_of(cut(fixes), fixes)
    >>> drifts[["duration_s", "depth_mean_m"]].round(0).iloc[[0, -1]].values.tolist()
    [[600.0, 6.0], [600.0, 14.0]]
    """
    PIECES.check(pieces)
    FIXES.check(fixes, "time", "depth_m")
    drifts = pieces[pieces["kind"] == "drift"].reset_index(drop=True)
    depth = fixes["depth_m"].to_numpy() if grid_depth is None else np.asarray(grid_depth, float)
    weight = _weights(seconds_of(fixes["time"]))
    charted = depth if charted_depth is None else np.asarray(charted_depth, float)
    spans = [
        (slice(int(first), int(last) + 1), _share(weight, int(first), int(last)))
        for first, last in zip(drifts["first_fix"], drifts["last_fix"], strict=True)
    ]
    depths = [_depths(depth[span], share) for span, share in spans]
    names = ("depth_start_m", "depth_min_m", "depth_mean_m", "depth_max_m")
    for i, name in enumerate(names):
        drifts[name] = np.array([row[i] for row in depths], dtype=np.float64)
    drifts["in_band_s"] = np.array(
        [_in_band_s(charted[span], share, band_m) for span, share in spans], dtype=np.float64
    )
    drifts["rods"] = float(rods)
    fished_s = drifts["duration_s"] - drifts["lines_up_s"]
    drifts["rod_hours"] = drifts["rods"] * fished_s / 3600.0
    drifts["trip"] = _trips(drifts, timezone)
    number = drifts.groupby("trip").cumcount() + 1
    drifts["drift_id"] = drifts["trip"] + " #" + number.astype(str)
    return DRIFTS.frame(drifts)


def _trips(drifts: gpd.GeoDataFrame, timezone: str) -> pd.Series:
    """Local date of the first drift of each drift's outing."""
    first = drifts.groupby("outing")["start"].transform("min")
    return first.dt.tz_convert(ZoneInfo(timezone)).dt.strftime("%Y-%m-%d").astype(object)


def _weights(time_s: Floats) -> Pair:
    """Half of the interval before and after each fix, seconds."""
    half = np.diff(time_s) / 2.0
    return np.concatenate([[0.0], half]), np.concatenate([half, [0.0]])


def _share(weight: Pair, first: int, last: int) -> Floats:
    """Seconds of a drift that belong to each of its fixes."""
    before, after = weight[0][first : last + 1].copy(), weight[1][first : last + 1].copy()
    before[0], after[-1] = 0.0, 0.0
    return before + after


def _depths(depth: Floats, share: Floats) -> tuple[float, float, float, float]:
    """Depth at the start, least, mean, greatest."""
    known = np.isfinite(depth)
    if not known.any():
        return np.nan, np.nan, np.nan, np.nan
    own, share = depth[known], share[known]
    mean = float((own * share).sum() / share.sum())
    return float(own[0]), float(own.min()), mean, float(own.max())


def _in_band_s(depth: Floats, share: Floats, band_m: tuple[float, float] | None) -> float:
    """Seconds with the depth in the band; NaN without one, or a known depth."""
    if band_m is None or not np.isfinite(depth).any():
        return np.nan
    return float(share[(depth >= band_m[0]) & (depth <= band_m[1])].sum())
