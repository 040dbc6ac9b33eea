"""Columns of soundings as plain numbers: seconds, metres, and runs of the sounder."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats, Pair
from seabed.geodesy import sinusoidal_degrees, sinusoidal_metres
from seabed.units import half_turned

_FASTEST_MPS: Final = 30.0
_SLACK_M: Final = 30.0


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


def metres_of(soundings: pd.DataFrame) -> Pair:
    """Metres east and north of the soundings' middle; NaN without a position."""
    longitude, latitude = soundings["longitude"].to_numpy(), soundings["latitude"].to_numpy()
    return sinusoidal_metres(longitude, latitude, centre=middle_of(soundings))


def degrees_of(soundings: pd.DataFrame, east: Floats, north: Floats) -> Pair:
    """Longitude and latitude of places in the metres of `metres_of`."""
    return sinusoidal_degrees(east, north, centre=middle_of(soundings))


def line_numbers(soundings: pd.DataFrame, *, longest_gap_s: float = 10.0) -> NDArray[np.int32]:
    """Give each sounding, in the order of the logs, the number of its unbroken run, from 0.

    A run ends with its file, before a gap in time longer than `longest_gap_s` or a step back, at a
    step of the position that no small boat makes (30 m and 30 m/s beyond it), and where the
    position is lost or found again.
    """
    count = len(soundings)
    if not count:
        return np.empty(0, np.int32)
    step_s = np.diff(seconds_of(soundings["time"]))
    east, north = metres_of(soundings)
    step_m = np.hypot(np.diff(east), np.diff(north))
    breaks = np.diff(soundings["file"].astype("category").cat.codes.to_numpy()) != 0
    breaks |= (step_s > longest_gap_s) | (step_s < 0)
    breaks |= step_m > _SLACK_M + _FASTEST_MPS * np.nan_to_num(step_s, nan=1.0)
    breaks |= np.diff(np.isnan(east)) | np.diff(np.isnan(step_s), prepend=np.isnan(step_s[:1]))
    return np.concatenate([[0], np.cumsum(breaks)]).astype(np.int32)


def middle_of(soundings: pd.DataFrame) -> tuple[float, float]:
    """Give a longitude and latitude in the middle of the soundings; (0, 0) without positions."""
    known = np.flatnonzero(np.isfinite(soundings["longitude"].to_numpy()))
    if not len(known):
        return 0.0, 0.0
    some = known[:: max(1, len(known) // 1001)]
    longitude = soundings["longitude"].to_numpy()[some]
    turned = half_turned(longitude - longitude[0])
    return (
        float(longitude[0] + np.median(turned)),
        float(np.median(soundings["latitude"].to_numpy()[some])),
    )
