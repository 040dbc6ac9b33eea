"""Slacks and greatest floods and ebbs of any source of currents."""

from __future__ import annotations

from typing import Any, Final, Protocol, runtime_checkable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.water.currents.currents import Currents
from layers.water.heights.stage import turns_of_curve
from layers.water.times import as_utc, moment
from seabed.array_types import Floats
from seabed.schema import Table

STEP: Final = np.timedelta64(120, "s")
EVENTS: Final = Table.of(
    "events",
    "layers.water.currents.events.current_events",
    """
    time [time] UTC
    event [text] slack, flood or ebb (greatest) of a current with an axis; else weakest or strongest
    speed_mps [.1] of the water
    """,
)


@runtime_checkable
class KnowsAxis(Protocol):
    """Currents that run along an axis."""

    def speed_along(self, times: Any) -> Floats:
        """Speed along it, flood positive."""
        ...


def current_events(
    currents: Currents,
    start: Any,
    end: Any,
    *,
    longitude: float | None = None,
    latitude: float | None = None,
) -> pd.DataFrame:
    """Find slacks and greatest floods and ebbs within [start, end], as `EVENTS`.

    Of currents that vary, at a place.  No rows where the current is unknown.
    """
    first, last = moment(start) - STEP, moment(end) + STEP
    grid = np.arange(first, last + STEP, STEP).astype("datetime64[ns]")
    if isinstance(currents, KnowsAxis):
        along = currents.speed_along(grid)
        extremes = turns_of_curve(grid, along, start, end)
        peak = extremes["height_m"].to_numpy(float)
        kept = np.where(extremes["high"], peak > 0, peak < 0)
        greatest = EVENTS.frame(
            {
                "time": extremes["time"],
                "event": np.where(extremes["high"], "flood", "ebb"),
                "speed_mps": np.abs(peak),
            }
        )[kept]
        return _in_order([greatest, _slacks(grid, along, start, end)])
    speed = np.hypot(*currents.velocity(grid, longitude, latitude))
    extremes = turns_of_curve(grid, speed, start, end)
    return EVENTS.frame(
        {
            "time": extremes["time"],
            "event": np.where(extremes["high"], "strongest", "weakest"),
            "speed_mps": extremes["height_m"].clip(lower=0.0),
        }
    )


def _slacks(grid: NDArray[Any], along: Floats, start: Any, end: Any) -> pd.DataFrame:
    before, after = along[:-1], along[1:]
    at = np.flatnonzero((before * after < 0) | ((before == 0) & (after != 0)))
    share = before[at] / (before[at] - after[at])
    times = grid[at] + (share * float(STEP / np.timedelta64(1, "ns"))).astype("timedelta64[ns]")
    times = times[(times >= as_utc(start)) & (times <= as_utc(end))]
    return EVENTS.frame(
        {"time": pd.DatetimeIndex(times).tz_localize("UTC"), "event": "slack", "speed_mps": 0.0}
    )


def _in_order(parts: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    if not filled:
        return parts[0]
    return pd.concat(filled).sort_values("time").reset_index(drop=True)
