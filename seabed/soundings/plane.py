"""A plane in metres for the neighbourhood of soundings, and time as plain seconds."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

__all__ = ["degrees_of", "even_seconds", "metres_of", "seconds_of"]

_AXIS: Final = 6_378_137.0  # WGS 84
_SQUARE: Final = 0.006_694_379_990_14  # of its eccentricity

Floats = NDArray[np.float64]


def metres_of(
    longitude: Floats, latitude: Floats, *, centre: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Metres east and north of a centre, each parallel in its own length (sinusoidal).

    Lengths along parallels and meridians are right anywhere; angles are off by less than half a
    degree within 40 km of the centre at middle latitudes.

    Parameters
    ----------
    longitude, latitude : ndarray of float64, shape (n,)
        Degrees, WGS 84; NaN stays.
    centre : (float, float)
        Longitude and latitude, degrees.
    """
    turn = (np.asarray(longitude, np.float64) - centre[0] + 180.0) % 360.0 - 180.0
    across, along = _metres_a_degree(np.asarray(latitude, np.float64), centre[1])
    return turn * across, (latitude - centre[1]) * along


def degrees_of(
    east: Floats, north: Floats, *, centre: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Longitude and latitude of metres from a centre: `metres_of` turned round."""
    _, along = _metres_a_degree(np.array(centre[1]), centre[1])
    latitude = centre[1] + np.asarray(north, np.float64) / along
    across, _ = _metres_a_degree(latitude, centre[1])
    return (centre[0] + east / across + 180.0) % 360.0 - 180.0, latitude


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


def _metres_a_degree(latitude: Floats, middle: float) -> tuple[Floats, float]:
    """Along the parallel of each latitude, and along the meridian at the middle one."""
    sine = np.sin(np.radians(latitude))
    across = _AXIS / np.sqrt(1 - _SQUARE * sine**2) * np.cos(np.radians(latitude))
    sine = np.sin(np.radians(middle))
    along = _AXIS * (1 - _SQUARE) / (1 - _SQUARE * sine**2) ** 1.5
    return np.radians(1.0) * across, float(np.radians(1.0) * along)
