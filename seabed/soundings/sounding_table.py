"""The table of soundings: its columns, and how one is made.

It is a plain table with positions in two columns, since five million point objects would take more
memory than all the rest.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from seabed.schema import Table, documented

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
