"""Reduce soundings to the datum of a chart with the height of the tide at each moment.

Depths are left at the speed of sound that the sounder assumes: a sounder set to 1500 m/s reads 2 %
deep where sound goes 1470 m/s (cold, nearly fresh water), and no log says what is true.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from seabed.array_types import Floats
from seabed.soundings.sounding_table import SOUNDINGS, seconds_of

Heights = Callable[[pd.DatetimeIndex], ArrayLike]
"""From UTC times, none of them NaT, to heights over the datum in metres; NaN where not known."""

_STEP_S: Final = 30.0


def reduced(soundings: pd.DataFrame, heights: Heights | ArrayLike | None) -> pd.DataFrame:
    """Fill ``height_m`` and ``depth_m``.

    ``depth_m = measured_m + to_surface_m - height_m``.

    Parameters
    ----------
    soundings : DataFrame
    heights : callable, array of shape (n,), float, or None
        Heights of the water over the datum.  None: not known, nothing is reduced.  0: the depths
        are wanted as they were measured below the surface.

    Returns
    -------
    DataFrame
        A new table; both columns NaN where the height is not known.

    Examples
    --------
    >>> from seabed import example_soundings
    >>> round(float(reduced(example_soundings(), 1.0)["depth_m"].iloc[0]), 1)
    5.3
    """
    SOUNDINGS.check(soundings, "time", "measured_m", "to_surface_m")
    if heights is None:
        height: ArrayLike = np.full(len(soundings), np.nan)
    elif callable(heights):
        height = tide_heights(soundings["time"], heights)
    else:
        height = np.broadcast_to(np.asarray(heights, np.float64), len(soundings))
    measured = soundings["measured_m"].to_numpy(np.float64)
    depth = measured + soundings["to_surface_m"].to_numpy(np.float64) - np.asarray(height)
    return soundings.assign(
        height_m=np.asarray(height, np.float32), depth_m=depth.astype(np.float32)
    )


def tide_heights(times: pd.Series | pd.DatetimeIndex, heights: Heights) -> Floats:
    """Heights at many times: read every 30 s of the water, straight between; NaN if not known.

    A tide of 4 m range and a period of 6.2 h, the quickest of the larger ones, bends by
    0.02 mm from its chord over 30 s.
    """
    at = seconds_of(times) / _STEP_S
    filled = np.full(len(at), np.nan)
    known = np.isfinite(at)
    low = np.floor(at[known]).astype(np.int64)
    steps = np.unique(np.concatenate([low, low + 1])) if len(low) else low
    if not len(steps):
        return filled
    moments = pd.DatetimeIndex((steps * int(_STEP_S * 1e9)).astype("datetime64[ns]"), tz="UTC")
    at_steps = np.asarray(heights(moments), np.float64)
    first = np.searchsorted(steps, low)
    share = at[known] - low
    filled[known] = at_steps[first] * (1 - share) + at_steps[first + 1] * share
    return filled
