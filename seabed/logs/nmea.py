"""Read logs of NMEA 0183 sentences: position, depth and water temperature.

Sentences read, of any talker: RMC (position and date), else GGA or GLL with the date of ZDA; depth
from DPT, DBS, DBT or DBK, the first of them that the log has; MTW.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.errors import TrackError
from seabed.logs.fixes import FileFixes
from seabed.logs.scanning import DBK, DBS, DBT, DPT, GGA, GLL, MTW, RMC, ZDA
from seabed.logs.sentences import NmeaLog, Sentences, read_sentences

__all__ = [
    "DEPTH_KINDS",
    "Positions",
    "no_date",
    "no_positions",
    "positions_of",
    "read_nmea_fixes",
]

DEPTH_KINDS: Final = (DPT, DBS, DBT, DBK)
"""Kinds of sentence with a depth, the one that is asked first at the front."""

Floats = NDArray[np.float64]
Times = NDArray[np.datetime64]


@dataclass(frozen=True, slots=True)
class Positions:
    """Positions of a log, in its order.

    Attributes
    ----------
    sentences : Sentences
        Those they are from.
    time : ndarray of datetime64[ns]
        UTC; NaT where it can't be read, and everywhere if the log says no date.
    dated : bool
        Whether the log says dates.
    """

    sentences: Sentences
    time: Times
    dated: bool

    @property
    def longitude(self) -> Floats:
        """Degrees; NaN where the receiver had no position."""
        return self.sentences.values["longitude"]

    @property
    def latitude(self) -> Floats:
        """Degrees; NaN where the receiver had no position."""
        return self.sentences.values["latitude"]


def read_nmea_fixes(path: str | Path) -> FileFixes:
    """Read the fixes of one NMEA 0183 log.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    FileFixes
        One fix a position sentence; NaN where the receiver said that it had none.  Depth and
        temperature are the last ones seen since the fix before.  Depth is the sounder's own: below
        the transducer, with the offset to the waterline where DPT gives one.  ``notes`` counts
        sentences that were damaged or cut off.

    Raises
    ------
    TrackError
        If the file is missing, has no such sentences, or no position with a date.
    """
    log = read_sentences(path)
    places = positions_of(log)
    count = len(places.sentences)
    if not count:
        raise no_positions(path, log)
    if not places.dated:
        raise no_date(path)
    depths, depth = _depth(log)
    warm = log.kinds[MTW]
    at = places.sentences.at
    return FileFixes(
        file=str(path),
        time=places.time,
        longitude=places.longitude,
        latitude=places.latitude,
        depth_m=_last_since(at, depths.at, depth),
        temperature_c=_last_since(at, warm.at, warm.values["celsius"]),
        track=np.zeros(count, np.int32),
        segment=np.zeros(count, np.int32),
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


def no_date(path: str | Path) -> TrackError:
    """Make the error of a log without dates."""
    return TrackError(
        "no date in it, only times of day (no RMC or ZDA sentence with one)",
        file=path,
        do="Set the logger to record RMC.",
    )


def positions_of(log: NmeaLog) -> Positions:
    """Give the positions of a log: its RMC, else its GGA, else its GLL with the dates of ZDA."""
    sentences = next(
        (log.kinds[kind] for kind in (RMC, GGA) if len(log.kinds[kind])), log.kinds[GLL]
    )
    clock = _nanoseconds(sentences.values["clock_s"])
    if "day" in sentences.values:
        days = sentences.values["day"]
        return Positions(sentences, _days(days) + clock, dated=bool(np.isfinite(days).any()))
    dates = log.kinds[ZDA]
    dates = dates.taken(np.isfinite(dates.values["day"]))  # some write a ZDA without a date
    if not len(dates):
        return Positions(sentences, np.full(len(clock), np.datetime64("NaT", "ns")), dated=False)
    return Positions(sentences, _dated(sentences.at, clock, dates), dated=True)


def _dated(at: NDArray[np.int64], clock: NDArray[np.timedelta64], dates: Sentences) -> Times:
    """Give times of day the date of the ZDA sentence before them (or of the first one)."""
    of = np.maximum(np.searchsorted(dates.at, at, side="right") - 1, 0)
    turned = clock - _nanoseconds(dates.values["clock_s"])[of]
    half_day, whole_day = np.timedelta64(12, "h"), np.timedelta64(24, "h")
    stamps = _days(dates.values["day"])[of] + clock
    stamps = np.where(turned < -half_day, stamps + whole_day, stamps)
    return np.asarray(np.where(turned > half_day, stamps - whole_day, stamps))


def _depth(log: NmeaLog) -> tuple[Sentences, Floats]:
    kind = next((kind for kind in DEPTH_KINDS if len(log.kinds[kind])), DPT)
    depths = log.kinds[kind]
    depth = depths.values["metres"]
    if kind == DPT:
        # A positive offset reaches from the transducer up to the waterline, a negative to the keel.
        depth = depth + np.maximum(np.nan_to_num(depths.values["offset_m"]), 0.0)
    return depths, depth


def _last_since(place: NDArray[np.int64], at: NDArray[np.int64], values: Floats) -> Floats:
    """Last reading that stands between each fix and the one after it; NaN if none."""
    known = np.isfinite(values)
    at, values = at[known], values[known]
    last = np.full(len(place), np.nan)
    if len(at):
        end = np.append(place[1:], np.iinfo(np.int64).max)
        found = np.searchsorted(at, end) - 1
        some = (found >= 0) & (at[np.maximum(found, 0)] > place)
        last[some] = values[found[some]]
        # Before the first fix nothing has a place; the first fix may take what stands before it.
        if np.isnan(last[0]) and at[0] < place[0]:
            last[0] = values[np.searchsorted(at, place[0]) - 1]
    return last


def _nanoseconds(seconds: Floats) -> NDArray[np.timedelta64]:
    known = np.isfinite(seconds)
    whole = np.round(np.where(known, seconds, 0.0) * 1e9).astype("timedelta64[ns]")
    return np.where(known, whole, np.timedelta64("NaT"))


def _days(days: NDArray[np.floating]) -> Times:
    """Midnights of days since 1970; NaT for NaN."""
    known = np.isfinite(days)
    whole = np.where(known, days, 0).astype("datetime64[D]").astype("datetime64[ns]")
    return np.where(known, whole, np.datetime64("NaT"))
