"""Turns of the tide, and the stage at a moment."""

from __future__ import annotations

from typing import Any, Final, Protocol, runtime_checkable

import numpy as np
import pandas as pd

from layers.water.heights._heights import Heights
from layers.water.times import HOUR, as_utc, hours_between, moment
from seabed.array_types import Floats, Times
from seabed.schema import Table

STAND_SHARE: Final = 1.0 / 12.0
"""Share of the time between two turns, on either side of each, that is the stand: half an hour of a
six-hour tide.  Common practice, no source."""

STEP: Final = np.timedelta64(360, "s")
TURNS: Final = Table.of(
    "turns",
    "layers.water.heights.stage.turns",
    """
    time [time] UTC
    height_m ["Tide" depth .2] over the datum
    high [bool] whether it is a high water
    """,
)
STAGE: Final = Table.of(
    "stage",
    "layers.water.heights.stage.stage",
    """
    hours_from_high ["Hours from high water" .1 empty] after the nearest high water, before it
        negative; NaN where none is known within 30 h
    state ["Tide" text empty] flood (rising), ebb (falling), stand (about a turn); ``""`` if unknown
    fraction_of_range [empty] 0 at the low and 1 at the high water on either side
    """,
)
SEARCH_HOURS: Final = 30.0
"""Between two high waters there are at most about 25 hours, but for the odd diurnal neap."""


@runtime_checkable
class KnowsTurns(Protocol):
    """Heights that can say their own turns."""

    def turns(self, start: Any, end: Any) -> pd.DataFrame:
        """High and low waters within [start, end]."""
        ...


def turns(heights: Heights, start: Any, end: Any) -> pd.DataFrame:
    """Find the high and low waters within [start, end], as `TURNS`; none where heights are unknown.

    By heights every six minutes and a parabola through three; a table gives its own rows.
    """
    if isinstance(heights, KnowsTurns):
        return heights.turns(start, end)
    first, last = moment(start) - STEP, moment(end) + STEP
    grid = np.arange(first, last + STEP, STEP)
    return turns_of_curve(grid, heights.height_m(grid), start, end)


def turns_of_curve(times: Times, height: Floats, start: Any, end: Any) -> pd.DataFrame:
    """Find the turns of evenly spaced heights; as `turns`.  A flat top counts once."""
    step = times[1] - times[0]
    rise = np.diff(height)
    known = np.isfinite(rise[:-1]) & np.isfinite(rise[1:])
    high = known & (rise[:-1] > 0) & (rise[1:] <= 0)
    low = known & (rise[:-1] < 0) & (rise[1:] >= 0)
    at = np.flatnonzero(high | low)
    bend = rise[at + 1] - rise[at]
    shift = -(rise[at] + rise[at + 1]) / (2.0 * bend)
    moments = times[at + 1] + (shift * float(step / HOUR) * 3.6e12).astype("timedelta64[ns]")
    top = height[at + 1] + (rise[at] + rise[at + 1]) * shift / 4.0
    inside = (moments >= as_utc(start)) & (moments <= as_utc(end))
    return TURNS.frame(
        {
            "time": pd.DatetimeIndex(moments[inside].astype("datetime64[ns]")).tz_localize("UTC"),
            "height_m": top[inside],
            "high": high[at][inside],
        }
    )


def stage(heights: Heights, times: Any, *, stand_share: float = STAND_SHARE) -> pd.DataFrame:
    """Give the stage of the tide at each moment, as `STAGE`, by *height*.

    The water itself may turn at another hour.  stand_share: share of the time from turn to turn,
        after one and before the next, that is the stand.
    """
    moments = np.atleast_1d(as_utc(times))
    nothing = np.full(moments.shape, np.nan)
    empty = STAGE.frame({"hours_from_high": nothing, "state": "", "fraction_of_range": nothing})
    known = moments[~np.isnat(moments)]
    if not known.size:
        return empty
    margin = np.timedelta64(int(SEARCH_HOURS * 3600), "s")
    extremes = turns(heights, known.min() - margin, known.max() + margin)
    if extremes.empty:
        return empty
    at, high = as_utc(extremes["time"]), extremes["high"].to_numpy(bool)
    hours = _hours_from_nearest(moments, at[high])
    if len(at) < 2:
        return empty.assign(hours_from_high=hours)
    after = np.clip(np.searchsorted(at, moments, side="right"), 1, len(at) - 1)
    before = after - 1
    height = heights.height_m(moments)
    between = (
        np.isfinite(height)
        & (moments >= at[before])
        & (moments <= at[after])
        & (high[before] != high[after])
    )
    levels = extremes["height_m"].to_numpy(float)
    bottom = np.minimum(levels[before], levels[after])
    top = np.maximum(levels[before], levels[after])
    share = np.clip((height - bottom) / (top - bottom), 0.0, 1.0)
    passed = hours_between(at[before], moments) / hours_between(at[before], at[after])
    stand = (passed <= stand_share) | (passed >= 1.0 - stand_share)
    state = np.where(stand, "stand", np.where(high[after], "flood", "ebb"))
    return STAGE.frame(
        {
            "hours_from_high": hours,
            "state": np.where(between, state, "").astype(object),
            "fraction_of_range": np.where(between, share, np.nan),
        }
    )


def _hours_from_nearest(moments: Times, highs: Times) -> Floats:
    if not highs.size:
        return np.full(moments.shape, np.nan)
    after = np.clip(np.searchsorted(highs, moments), 0, len(highs) - 1)
    before = np.clip(after - 1, 0, None)
    since, until = hours_between(highs[before], moments), hours_between(highs[after], moments)
    hours = np.where(np.abs(since) <= np.abs(until), since, until)
    hours[np.abs(hours) > SEARCH_HOURS] = np.nan
    return hours
