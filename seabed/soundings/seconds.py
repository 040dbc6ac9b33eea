"""Time as plain seconds."""

from __future__ import annotations

import numpy as np
import pandas as pd

from seabed.array_types import Floats

__all__ = ["even_seconds", "seconds_of"]


def seconds_of(times: pd.Series | pd.DatetimeIndex) -> Floats:
    """Seconds since 1970, to the microsecond or better; NaN for NaT."""
    stamps = pd.DatetimeIndex(times).tz_localize(None).to_numpy("datetime64[ns]")
    seconds: Floats = stamps.astype(np.int64) / 1e9
    seconds[np.isnat(stamps)] = np.nan
    return seconds


def even_seconds(times: pd.Series | pd.DatetimeIndex) -> Floats:
    """Seconds since 1970; where no time is known the row's number, as if one came each second."""
    seconds = seconds_of(times)
    unknown = np.isnan(seconds)
    return np.where(unknown, np.arange(len(seconds)), seconds) if unknown.any() else seconds
