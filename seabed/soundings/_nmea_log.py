"""Soundings of an NMEA 0183 log: each depth with the time and position it was logged at.

A depth sentence says no time.  The n depths between two positions are spread evenly over the time
between them, each in the middle of its share; how late the sounder really is, is another matter
(`seabed.soundings.checks.lag`).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.errors import TrackError
from seabed.logs.nmea import DEPTH_KINDS, Positions, no_positions, positions_of
from seabed.logs.scanning import DBK, DBS, DBT, DPT, MTW, VTG
from seabed.logs.sentences import NmeaLog, Sentences, read_sentences
from seabed.soundings.mounting import KEEL, SURFACE, TRANSDUCER, Mounting
from seabed.soundings.sounding_table import sounding_table
from seabed.units import half_turned

__all__ = ["read_nmea_soundings"]

LONGEST_GAP_S: Final = 10.0
"""A depth between positions further apart than this has no position of its own."""

_KNOT: Final = 1852.0 / 3600.0
_WORDS: Final = {DPT: "DPT", DBS: "DBS", DBT: "DBT", DBK: "DBK"}
_FROM: Final = {DPT: TRANSDUCER, DBS: SURFACE, DBT: TRANSDUCER, DBK: KEEL}

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def read_nmea_soundings(
    path: str | Path,
    mounting: Mounting,
    *,
    day: date | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[pd.DataFrame, list[str]]:
    """Read the soundings of one NMEA 0183 log.

    Where several talkers, or several kinds of sentence, give depths, those of one are taken: of
    DPT, DBS, DBT and DBK the first that has depths, and of it the talker with the most.  Likewise
    one talker's positions.

    Parameters
    ----------
    path : str or Path
    mounting : Mounting
    day : date, optional
        Of the first position, for a log that says no dates.
    progress : callable, optional
        Called with bytes read and bytes in all.

    Returns
    -------
    soundings : DataFrame
        `seabed.soundings.SOUNDINGS`; a row a depth sentence, in the log's order; times are
        NaT if the log says no date.
    notes : list of str

    Raises
    ------
    TrackError
        If the file can't be read or has no positions.
    """
    log = read_sentences(path, progress=progress)
    notes = log.notes(str(path))
    kind, depths = _depths(log, str(path), notes)
    places = _places(log, path, notes)
    log.kinds.pop(kind, None)
    clock, has_place = _times(places), _share(places, depths)
    before, share, near = has_place
    dated = places.dated or day is not None
    if day is not None and not places.dated:
        clock = clock + np.datetime64(day, "s").astype(np.int64)
    time_s = _between(clock, before, share, near)
    offset = depths.values.get("offset_m")
    to_surface, guessed = mounting.to_surface(
        np.full(len(depths), np.nan) if offset is None else offset,
        said_from=_FROM[kind],
        file=str(path),
    )
    if far := int(np.count_nonzero(~near)):
        notes.append(f"{path}: {far} depths have no position within {LONGEST_GAP_S:g} s")
    speed, course = _motion(log, places, depths, before, near)
    stamps = np.round(np.nan_to_num(time_s) * 1e6).astype("datetime64[us]")
    stamps[np.isnan(time_s) | (not dated)] = np.datetime64("NaT")
    table = sounding_table(
        time=stamps,
        longitude=half_turned(_between(_unrolled(places.longitude), before, share, near)),
        latitude=_between(places.latitude, before, share, near),
        measured_m=depths.values["metres"],
        to_surface_m=to_surface,
        sog_mps=speed,
        cog_deg=course,
        temperature_c=_last(depths.at, log.kinds[MTW], "celsius"),
        file=pd.Categorical.from_codes(np.zeros(len(depths), np.int8), [str(path)]),
        row=depths.line,
    )
    if not dated:
        notes.append(
            f"{path}: it says no dates (RMC or ZDA sentences), so that its times are not known; "
            "give its day"
        )
    return table, notes + guessed


def _depths(log: NmeaLog, file: str, notes: list[str]) -> tuple[int, Sentences]:
    """Kind of the depths and the depths of one talker; what is left is told."""
    there = [kind for kind in DEPTH_KINDS if len(log.kinds[kind])]
    read = [k for k in there if np.isfinite(log.kinds[k].values["metres"]).any()]
    kind = next(iter(read or there), DPT)
    chosen, others = _one_talker(log.kinds[kind])
    notes += [
        f"{file}: {len(log.kinds[other])} depths of {_WORDS[other]} sentences were not used, since "
        f"it has {_WORDS[kind]}"
        for other in there
        if other != kind
    ]
    if others:
        notes.append(
            f"{file}: {others} depths of other talkers were not used, since "
            f"{_name(chosen)}{_WORDS[kind]} {_why(chosen, others)}"
        )
    return kind, chosen


def _places(log: NmeaLog, path: str | Path, notes: list[str]) -> Positions:
    """Positions of one talker, without those that the receiver did not have."""
    places = positions_of(log)
    if not len(places.sentences):
        raise no_positions(path, log)
    sentences, others = _one_talker(places.sentences)
    if others:
        notes.append(
            f"{path}: {others} positions of other talkers were not used, since "
            f"{_name(sentences)} {_why(sentences, others)}"
        )
    rows = np.flatnonzero(places.sentences.talker == sentences.talker[0])
    good = np.isfinite(places.longitude[rows]) & np.isfinite(places.latitude[rows])
    good &= np.abs(places.latitude[rows]) <= 90
    good &= ~np.isnat(places.time[rows]) | (not places.dated)
    good &= np.isfinite(sentences.values["clock_s"])
    if lost := int(len(rows) - good.sum()):
        notes.append(f"{path}: {lost} positions were blank or had no time")
    if not good.any():
        raise TrackError(
            "the receiver had no position in all of it",
            file=path,
            do="Check the receiver's antenna.",
        )
    rows = rows[good] if lost or others else np.arange(len(places.sentences))
    if len(rows) == len(places.sentences):
        return places
    return Positions(places.sentences.taken(rows), places.time[rows], places.dated)


def _one_talker(sentences: Sentences) -> tuple[Sentences, int]:
    """Sentences of the talker that has most, and how many there are of others.

    Of talkers with as many, the one that was heard first: who repeats another comes after it.
    """
    if not len(sentences) or (sentences.talker == sentences.talker[0]).all():
        return sentences, 0
    talkers, first, counts = np.unique(sentences.talker, return_index=True, return_counts=True)
    most = talkers[np.lexsort((first, -counts))[0]]
    chosen = sentences.taken(sentences.talker == most)
    return chosen, len(sentences) - len(chosen)


def _why(chosen: Sentences, others: int) -> str:
    return "was heard first" if len(chosen) == others else "has more"


def _name(sentences: Sentences) -> str:
    return chr(sentences.talker[0] >> 8) + chr(sentences.talker[0] & 255)


def _times(places: Positions) -> Floats:
    """Seconds of each position: since 1970, or where no date is known since the first midnight."""
    if places.dated:
        return places.time.astype("datetime64[ns]").astype(np.int64) / 1e9
    clock = places.sentences.values["clock_s"]
    days = np.cumsum(np.concatenate([[0.0], np.round(np.diff(clock) / -86400.0)]))
    return np.asarray(clock + 86400.0 * np.maximum(days, 0.0))


def _share(places: Positions, depths: Sentences) -> tuple[Ints, Floats, NDArray[np.bool_]]:
    """Position before each depth, the share of the way to the next, and whether it is near.

    Behind the last position and before a gap the share is of the step before.
    """
    at, clock = places.sentences.at, _times(places)
    before = np.searchsorted(at, depths.at) - 1
    step = np.diff(clock)
    short = (step >= 0) & (step <= LONGEST_GAP_S)
    near = before >= 0
    before = np.maximum(before, 0)
    count = np.bincount(before, minlength=len(at))  # of those after the same position
    first = (np.cumsum(count) - count)[before]
    share = (np.arange(len(before)) - first + 0.5) / count[before]
    if not len(step):
        return before, np.zeros(len(before)), near
    # Behind the last position before a gap the sounder is taken to go on as in the step before.
    back = np.maximum(before - 1, 0)
    usual = count[back]
    gap = ~np.append(short, False)[before]
    held = (np.arange(len(before)) - first + 0.5) / np.maximum(usual, 1)
    near &= ~gap | ((before > 0) & short[back] & (held <= 1.0))
    share = np.where(gap, 1.0 + held, share)
    before = np.where(gap, back, before)
    return before, share, near


def _between(values: Floats, before: Ints, share: Floats, near: NDArray[np.bool_]) -> Floats:
    """Values on the way from one position to the next, or a little beyond; NaN where not near."""
    after = np.minimum(before + 1, len(values) - 1)
    found = values[before] + share * (values[after] - values[before])
    found[~near] = np.nan
    return found


def _unrolled(longitude: Floats) -> Floats:
    """Longitudes without the jump at the date line."""
    return np.unwrap(longitude, period=360.0) if np.ptp(longitude) > 180 else longitude


def _motion(
    log: NmeaLog, places: Positions, depths: Sentences, before: Ints, near: NDArray[np.bool_]
) -> tuple[NDArray[Any], NDArray[Any]]:
    """Speed, m/s, and course, degrees, that the receiver says."""
    values = places.sentences.values
    if "knots" in values:
        speed, course = values["knots"][before] * _KNOT, values["course_deg"][before]
    else:
        speed = _last(depths.at, log.kinds[VTG], "knots") * _KNOT
        course = _last(depths.at, log.kinds[VTG], "course_deg")
    good = near & (speed >= 0) & (speed < 1000)
    return np.where(good, speed, np.nan), np.where(good & (course >= 0), course % 360, np.nan)


def _last(at: Ints, sentences: Sentences, name: str) -> NDArray[Any]:
    """Last value of a kind of sentence before each place in the log; NaN if there is none."""
    if not len(sentences):
        return np.full(len(at), np.nan, np.float32)
    found = np.searchsorted(sentences.at, at) - 1
    values = sentences.values[name][np.maximum(found, 0)]
    return np.where(found >= 0, values, np.nan)
