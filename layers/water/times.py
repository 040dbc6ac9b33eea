"""Times: UTC inside, the area's zone outside."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats, Mask, Times
from seabed.errors import WaterError
from seabed.tables.clocks import FIRST_YEAR, LAST_YEAR
from seabed.tables.zones import named_zone

_FIRST: Final = np.datetime64(f"{FIRST_YEAR - 1}-12-31", "s")  # a day more, for zones
_END: Final = np.datetime64(f"{LAST_YEAR + 1}-01-02", "s")

SECOND: Final = np.timedelta64(1_000_000_000, "ns")
MINUTE: Final = 60 * SECOND
HOUR: Final = 60 * MINUTE


def zone_of(name: str) -> ZoneInfo:
    """Give a time zone by its name in the tz database, ``Etc/GMT+2``, or raise WaterError."""
    try:
        return named_zone(name)
    except KeyError as error:
        raise WaterError(
            f"unknown time zone {name[:60]!r}",
            do="Name it as the tz database does: UTC, Europe/Lisbon, America/New_York.",
        ) from error


def as_utc(times: Any) -> Times:
    """Give times as UTC ``datetime64[ns]`` without zone, in the shape given; NaT stays NaT.

    Times without a zone are UTC.  Raises WaterError at one outside the years 1900 to 2200, except
    in an array of ``datetime64[ns]``.
    """
    if isinstance(times, np.ndarray) and times.dtype.kind == "M":
        return _nanoseconds(times)
    if isinstance(times, np.datetime64):
        return _nanoseconds(np.asarray(times))
    if isinstance(times, (str, datetime, pd.Timestamp)):
        stamp = pd.Timestamp(times)
        stamp = stamp.tz_localize("UTC") if stamp.tzinfo is None else stamp.tz_convert("UTC")
        return _nanoseconds(np.asarray(stamp.tz_localize(None).to_datetime64()))
    try:
        index = pd.DatetimeIndex(pd.to_datetime(times, utc=True))
    except pd.errors.OutOfBoundsDatetime:  # pandas before 3 turns all to nanoseconds
        return np.array([as_utc(one) for one in times], "datetime64[ns]")
    return _nanoseconds(np.asarray(index.tz_localize(None).values))


def _nanoseconds(times: NDArray[np.datetime64]) -> Times:
    """Turn times of any unit into nanoseconds, which hold 584 years and then wrap unsaid."""
    if times.dtype != np.dtype("datetime64[ns]") and times.size:
        outside = (times < _FIRST) | (times >= _END)  # NaT is neither
        if outside.any():
            raise WaterError(
                f"the time {np.atleast_1d(times)[np.atleast_1d(outside)][0]} can't be right",
                do=f"Give times in the years {FIRST_YEAR} to {LAST_YEAR}.",
            )
    return times.astype("datetime64[ns]")


def moment(time: Any) -> np.datetime64:
    """Give one time as a UTC ``datetime64[ns]``; as `as_utc`."""
    one: np.datetime64 = as_utc(time).reshape(1)[0]
    return one


def to_local(times: Any, timezone: str) -> pd.DatetimeIndex:
    """Give UTC times in a zone, for people to read.

    >>> to_local(["2031-06-14T10:00Z"], "Etc/GMT+2")[0].isoformat()
    '2031-06-14T08:00:00-02:00'
    """
    flat = np.atleast_1d(as_utc(times))
    return pd.DatetimeIndex(flat).tz_localize("UTC").tz_convert(zone_of(timezone))


def hours_between(start: Any, end: Any) -> Floats:
    """Hours from `start` to `end` (UTC datetime64); NaN where either is NaT."""
    return np.asarray((end - start) / HOUR, np.float64)


def seconds_between(start: Any, end: Any) -> Any:
    """Seconds from `start` to `end` (UTC datetime64); NaN where either is NaT."""
    return (end - start) / SECOND


def span(seconds: float) -> np.timedelta64:
    """Give seconds as a ``timedelta64[ns]``."""
    return np.timedelta64(round(seconds * 1e9), "ns")


def spans(seconds: Floats) -> NDArray[np.timedelta64]:
    """As `span`, of an array."""
    return np.round(seconds * 1e9).astype("timedelta64[ns]")


def stamp(time: np.datetime64) -> pd.Timestamp:
    """Give a UTC moment as tables hold it."""
    return pd.Timestamp(time, tz="UTC")


def day_bounds(day: date, timezone: str) -> tuple[np.datetime64, np.datetime64]:
    """First moment of a day and of the next in a zone, in UTC: 23, 24 or 25 hours apart."""
    zone = zone_of(timezone)
    ends = [
        pd.Timestamp(datetime(d.year, d.month, d.day)).tz_localize(
            zone, nonexistent="shift_forward", ambiguous=True
        )
        for d in (day, day + timedelta(days=1))
    ]
    return moment(ends[0]), moment(ends[1])


def runs_of(flags: Mask) -> list[tuple[int, int]]:
    """First and one past the last of each run of true flags, such as those of minutes."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
