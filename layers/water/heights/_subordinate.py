"""Heights at a place whose tide is given by differences from another's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import pandas as pd

from layers.water.heights._heights import Heights, HighLowTable
from layers.water.heights.stage import turns
from layers.water.times import as_utc, moment
from seabed.array_types import Floats

MARGIN: Final = np.timedelta64(36 * 3600, "s")


@dataclass(frozen=True, slots=True)
class SubordinateHeights:
    """Highs and lows of a reference station, moved and scaled, and half a cosine between.

    The hand method of the agencies' tables of tidal differences.

    reference: above its chart datum.
    high_minutes, low_minutes: added to the times of its high and low waters.
    high, low: factors of their heights, or metres added to them.
    """

    reference: Heights
    high_minutes: float
    low_minutes: float
    high: float
    low: float
    type: Literal["ratio", "fixed"] = "ratio"

    def turns(self, start: Any, end: Any) -> pd.DataFrame:
        """High and low waters within [start, end], as `layers.water.turns` gives them."""
        table = self._table(moment(start), moment(end))
        return table.turns(start, end)

    def height_m(self, times: Any) -> Floats:
        """Metres above the place's chart datum at UTC times; NaN at NaT."""
        moments = as_utc(times)
        known = moments[~np.isnat(moments)]
        if not known.size:
            return np.full(moments.shape, np.nan)
        return self._table(known.min(), known.max()).height_m(moments)

    def _table(self, start: np.datetime64, end: np.datetime64) -> HighLowTable:
        extremes = turns(self.reference, start - MARGIN, end + MARGIN)
        high = extremes["high"].to_numpy(bool)
        minutes = np.where(high, self.high_minutes, self.low_minutes)
        value = np.where(high, self.high, self.low)
        level = extremes["height_m"].to_numpy(float)
        at = as_utc(extremes["time"]) + (minutes * 60e9).astype("timedelta64[ns]")
        order = np.argsort(at, kind="stable")
        height = level * value if self.type == "ratio" else level + value
        return HighLowTable(at[order], np.asarray(height, np.float64)[order], high[order])
