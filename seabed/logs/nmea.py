"""Read logs of NMEA 0183 sentences: position, depth and water temperature.

Sentences read, of any talker: RMC (position and date), else GGA or GLL with the date of ZDA; depth
from DPT, DBS, DBT or DBK, the first of them that the log has; MTW.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Times
from seabed.errors import TrackError
from seabed.logs.fixes import FileFixes
from seabed.logs.sentences import NmeaLog, read_sentences

DEPTH_KINDS: Final = ("DPT", "DBS", "DBT", "DBK")
"""Kinds of sentence with a depth, the preferred one first."""


def read_nmea_fixes(path: str | Path) -> FileFixes:
    """Read the fixes of one NMEA 0183 log, one a position sentence; NaN where none is reported.

    Depth and temperature are the last ones seen since the fix before.  Depth is the sounder's own:
    below the transducer, with the offset to the waterline where DPT gives one.  ``notes`` counts
    sentences that were damaged or cut off.
    """
    log = read_sentences(path)
    places, dated = positions_of(log)
    if not len(places):
        raise no_positions(path, log)
    if not dated:
        raise TrackError(
            "no date in it, only times of day (no RMC or ZDA sentence with one)",
            file=path,
            do="Set the logger to record RMC.",
        )
    at = places["at"].to_numpy()
    none = np.zeros(len(places), np.int32)
    return FileFixes(
        file=str(path),
        time=places["time"].to_numpy(),
        longitude=places["longitude"].to_numpy(),
        latitude=places["latitude"].to_numpy(),
        depth_m=_last_since(at, *_depth(log)),
        temperature_c=_last_since(at, *_columns(log.kinds["MTW"], "celsius")),
        track=none,
        segment=none.copy(),
        notes=log.notes(str(path)),
    )


def no_positions(path: str | Path, log: NmeaLog) -> TrackError:
    """Make the error of a log without positions; where most is damaged, that is why."""
    if 2 * log.damaged > log.started:
        return TrackError(
            f"{log.damaged} of its {log.started} sentences are damaged (their checksums are "
            "wrong, or they are cut off), and no position is left",
            file=path,
            do="Copy the log again, or check the logger's speed setting and its wiring.",
        )
    return TrackError(
        "no position in it (RMC, GGA or GLL sentences)",
        file=path,
        do="Set the logger to record the receiver's positions.",
    )


def positions_of(log: NmeaLog) -> tuple[pd.DataFrame, bool]:
    """Give the positions of a log: its RMC, else its GGA, else its GLL with the dates of ZDA.

    Returned: with ``time``, UTC, NaT where it can't be read; and whether the log has dates.
    """
    kind = next((kind for kind in ("RMC", "GGA") if len(log.kinds[kind])), "GLL")
    places, dates = log.kinds[kind], log.kinds["ZDA"]
    clock = _nanoseconds(places["clock_s"].to_numpy())
    dates = dates[np.isfinite(dates["day"])]  # some write a ZDA without a date
    if "day" in places:
        days = places["day"].to_numpy()
        time, dated = _midnights(days) + clock, bool(np.isfinite(days).any())
    elif len(dates):
        time, dated = _dated(places["at"].to_numpy(), clock, dates), True
    else:
        time, dated = np.full(len(clock), np.datetime64("NaT", "ns")), False
    return places.assign(time=time), dated


def _dated(at: Ints, clock: NDArray[np.timedelta64], dates: pd.DataFrame) -> Times:
    """Give times of day the date of the ZDA sentence before them (or of the first one)."""
    of = np.maximum(np.searchsorted(dates["at"], at, side="right") - 1, 0)
    change = clock - _nanoseconds(dates["clock_s"].to_numpy())[of]
    half_day, whole_day = np.timedelta64(12, "h"), np.timedelta64(24, "h")
    stamps = _midnights(dates["day"].to_numpy())[of] + clock
    stamps = np.where(change < -half_day, stamps + whole_day, stamps)
    return np.asarray(np.where(change > half_day, stamps - whole_day, stamps))


def _columns(sentences: pd.DataFrame, name: str) -> tuple[Ints, Floats]:
    return sentences["at"].to_numpy(), sentences[name].to_numpy()


def _depth(log: NmeaLog) -> tuple[Ints, Floats]:
    """Places and depths of the first kind of sentence with a depth that the log has."""
    kind = next((kind for kind in DEPTH_KINDS if len(log.kinds[kind])), "DPT")
    at, depth = _columns(log.kinds[kind], "metres")
    if kind == "DPT":
        # A positive offset reaches from the transducer up to the waterline, a negative to the keel.
        depth = depth + np.maximum(np.nan_to_num(log.kinds[kind]["offset_m"].to_numpy()), 0.0)
    return at, depth


def _last_since(place: Ints, at: Ints, values: Floats) -> Floats:
    """Last reading between each fix and the one after it; NaN if none."""
    known = np.isfinite(values)
    at, values = at[known], values[known]
    last = np.full(len(place), np.nan)
    if len(at):
        end = np.append(place[1:], np.iinfo(np.int64).max)
        before_end = np.searchsorted(at, end) - 1
        some = (before_end >= 0) & (at[np.maximum(before_end, 0)] > place)
        last[some] = values[before_end[some]]
        # Before the first fix nothing has a place; the first fix may take what is before it.
        if np.isnan(last[0]) and at[0] < place[0]:
            last[0] = values[np.searchsorted(at, place[0]) - 1]
    return last


def _nanoseconds(seconds: Floats) -> NDArray[np.timedelta64]:
    known = np.isfinite(seconds)
    whole = np.round(np.where(known, seconds, 0.0) * 1e9).astype("timedelta64[ns]")
    return np.where(known, whole, np.timedelta64("NaT", "ns"))


def _midnights(days: NDArray[np.floating]) -> Times:
    """Midnights of days since 1970; NaT for NaN."""
    known = np.isfinite(days)
    whole = np.where(known, days, 0).astype("datetime64[D]").astype("datetime64[ns]")
    return np.where(known, whole, np.datetime64("NaT", "ns"))
