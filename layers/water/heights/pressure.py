"""Tide heights under a high or a low of the air."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.water.heights._heights import Heights
from layers.water.heights.stage import turns

USUAL_HPA: Final = 1013.25
METRES_A_HPA: Final = 0.00995
"""100 Pa over density and gravity, 1025 kg/m3 and 9.81 m/s2: the inverse barometer (Gill 1982,
"Atmosphere-Ocean Dynamics", section 9.9)."""


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

    def height_m(self, times: Any) -> NDArray[np.float64]:
        """Height over the datum at UTC times; NaN where the source does not know it."""
        return self.tide.height_m(times) + self.shift_m
