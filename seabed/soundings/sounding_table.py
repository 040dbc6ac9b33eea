"""The table of soundings: its columns, how one is made, and its columns as plain numbers.

Positions are two columns: five million point objects would take more memory than all the rest.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from seabed.array_types import Floats, Pair
from seabed.geodesy import sinusoidal_degrees, sinusoidal_metres
from seabed.schema import Table, documented
from seabed.units import half_turned

SOUNDINGS: Final = Table.of(
    "soundings",
    "seabed.soundings.read_soundings",
    """
    time [time empty] UTC; NaT if not known
    longitude, latitude [empty] degrees, WGS 84; NaN if not known
    measured_m [float32 depth empty] as logged; NaN where the sounder had no depth
    to_surface_m [float32 depth empty] what that lacks of the depth below the water's surface
    height_m [float32 depth empty] of the water over the datum; NaN if not known
    depth_m [float32 empty] reduced to the datum, positive down; NaN if not reduced
    sigma_m [float32 depth empty .2] one standard deviation, vertical, of the sounding's own random
        error (not of what a wrong tide does to a whole visit)
    sog_mps [float32 empty] speed over the ground
    cog_deg [float32 empty] course over the ground, degrees true
    line [int32] number of an unbroken run of the sounder, from 0
    temperature_c [float32 empty] of the water; NaN where not logged
    flag [category empty] ``""`` if good, else why not, in words
    file [category] the log
    row [int] the line (of GPX: the point) in it, from 1
    """,
)
"""Metres in 32 bits hold a millimetre down to 8000 m."""

_FASTEST_MPS: Final = 30.0
_SLACK_M: Final = 30.0


@documented(SOUNDINGS)
def sounding_table(**columns: ArrayLike | pd.Series | pd.Categorical) -> pd.DataFrame:
    """Make a table of soundings of the columns given; the others hold "not known".

    Parameters
    ----------
    **columns : array, shape (n,)
        By their names; of one length.  Times without a zone are UTC.

    Returns
    -------
    DataFrame
        {soundings}

    Raises
    ------
    TypeError
        If a column is none of the table's.

    Examples
    --------
    >>> table = sounding_table(longitude=[3.0], latitude=[46.0], measured_m=[8.5])
    >>> len(table.columns), float(table["measured_m"][0])
    (15, 8.5)
    """
    strange = set(columns) - set(SOUNDINGS.names)
    if strange:
        raise TypeError(f"no such columns of soundings: {sorted(strange)}")
    count = max((len(values) for values in columns.values()), default=0)  # type: ignore[arg-type]
    filled = {}
    for column in SOUNDINGS:
        given, kind = columns.get(column.name), column.dtype
        filled[column.name] = _column(given if given is not None else _blank(kind, count), kind)
    return pd.DataFrame(filled, copy=False)  # a second copy is more than memory has room for


def empty_soundings() -> pd.DataFrame:
    """Give a table of soundings with all its columns and no rows."""
    return sounding_table()


def _blank(kind: str, count: int) -> Any:
    if kind == "category":
        return pd.Categorical.from_codes(np.zeros(count, np.int8), categories=pd.Index([""]))
    if kind.startswith("datetime"):
        return np.full(count, np.datetime64("NaT", "ns"))
    return np.zeros(count, kind) if kind.startswith("int") else np.full(count, np.nan, kind)


def _column(values: Any, kind: str) -> Any:
    if kind.startswith("datetime"):
        times = pd.DatetimeIndex(values)
        times = times.tz_localize("UTC") if times.tz is None else times.tz_convert("UTC")
        return times.as_unit("ns")
    if kind == "category":
        return values if isinstance(values, pd.Categorical) else pd.Categorical(values)
    return np.asarray(values).astype(kind, copy=False)


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
