"""To how many seconds the times of a log are rounded."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from layers.tracks.motion import seconds_of

LEAST_TIMES: Final = 5
ROUND_STEPS_S: Final = ((3600.0, 2), (1800.0, 2), (900.0, 3), (600.0, 2), (300.0, 5))
"""Steps that hands round to, and one in how many times on the next finer step are on it."""
ROUNDED_SHARE: Final = 0.3
"""Of the times of a log beyond chance on a round step, above which the log is taken as rounded."""


def rounding_s(times: pd.Series) -> float:
    """Find to how many seconds the times of a log are rounded: the coarsest step that most keep to.

    A coarser step of five or fifteen minutes is taken only where more times are on it than chance
    has it.
    """
    known = times.dropna()
    if len(known) < LEAST_TIMES:
        return 0.0
    second = seconds_of(known)
    for step, one_in in ROUND_STEPS_S:
        share = float(np.mean(np.abs(second / step - np.round(second / step)) * step < 1.0))
        if (share - 1 / one_in) / (1 - 1 / one_in) > ROUNDED_SHARE:
            return step
    return 60.0 if float(np.mean(second % 60 < 1.0)) > 0.5 else 0.0
