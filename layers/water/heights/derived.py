"""Heights derived from another source's: by tidal differences, by the pressure of the air."""

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

USUAL_HPA: Final = 1013.25
METRES_A_HPA: Final = 0.00995
"""100 Pa over density and gravity, 1025 kg/m3 and 9.81 m/s2: the inverse barometer (Gill 1982,
"Atmosphere-Ocean Dynamics", section 9.9)."""


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
        """High and low waters within [start, end] (UTC): ``time``, ``height_m``, ``high``."""
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


@dataclass(frozen=True, slots=True)
class PressedHeights:
    """Heights of the tide, moved by the pressure of the air at sea level.

    The sea is a centimetre lower for each hectopascal above the usual 1013, once the pressure has
    lasted for a day over some hundred kilometres; in a closed bay, or while it changes, not.
    """

    tide: Heights
    pressure_hpa: float

    @property
    def shift_m(self) -> float:
        """How much higher the water is than its table says."""
        return METRES_A_HPA * (USUAL_HPA - self.pressure_hpa)

    @property
    def times(self) -> Any:
        """Hours of the table; None of a source without."""
        return getattr(self.tide, "times", None)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the source has to say."""
        return tuple(getattr(self.tide, "notes", ()))

    @property
    def reference(self) -> Any:
        """The source whose datum the heights are over."""
        return getattr(self.tide, "reference", self.tide)

    def turns(self, start: Any, end: Any) -> pd.DataFrame:
        """High and low waters within [start, end]."""
        table = turns(self.tide, start, end)
        return table.assign(height_m=table["height_m"] + self.shift_m)

    def height_m(self, times: Any) -> Floats:
        """Height over the datum at UTC times; NaN where the source does not know it."""
        return self.tide.height_m(times) + self.shift_m
