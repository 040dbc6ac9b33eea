"""Soundings of an NMEA 0183 log: each depth with the time and position it was logged at.

A depth sentence has no time.  The n depths between two positions are spread evenly over the time
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

from seabed.array_types import Floats, Ints, Mask
from seabed.errors import TrackError
from seabed.logs.nmea import DEPTH_KINDS, no_positions, positions_of
from seabed.logs.sentences import NmeaLog, read_sentences
from seabed.soundings._mounting import KEEL, SURFACE, TRANSDUCER, Mounting
from seabed.soundings.sounding_table import sounding_table
from seabed.units import half_turned

LONGEST_GAP_S: Final = 10.0
"""A depth between positions further apart than this has no position of its own."""

_KNOT: Final = 1852.0 / 3600.0
_FROM: Final = {"DPT": TRANSDUCER, "DBS": SURFACE, "DBT": TRANSDUCER, "DBK": KEEL}


def read_nmea_soundings(
    path: str | Path,
    mounting: Mounting,
    *,
    day: date | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[pd.DataFrame, list[str]]:
    """Read the soundings of one NMEA 0183 log, a row a depth sentence, and what to say of it.

    Where several talkers, or several kinds of sentence, give depths, those of one are taken: of
    DPT, DBS, DBT and DBK the first that has depths, and of it the talker with the most.  Likewise
    one talker's positions.  Times are NaT if the log has no date and none is given.
    """
    log = read_sentences(path, progress=progress)
    notes = log.notes(str(path))
    kind, depths = _depths(log, str(path), notes)
    places, dated = _places(log, path, notes)
    log.kinds.pop(kind)
    seconds = _seconds(places, dated=dated)
    before, share, near = _share(places["at"].to_numpy(), seconds, depths["at"].to_numpy())
    after = np.minimum(before + 1, len(places) - 1)

    def between(values: Floats) -> Floats:
        """Values on the way to the next position, or a little beyond; NaN where it is not near."""
        return np.where(near, values[before] + share * (values[after] - values[before]), np.nan)

    if day is not None and not dated:
        seconds, dated = seconds + np.datetime64(day, "s").astype(np.int64), True
    unknown = np.full(len(depths), np.nan)
    to_surface, guessed = mounting.to_surface(
        depths["offset_m"].to_numpy() if "offset_m" in depths else unknown,
        default_from=_FROM[kind],
        file=str(path),
    )
    if far := int(np.count_nonzero(~near)):
        notes.append(f"{path}: {far} depths have no position within {LONGEST_GAP_S:g} s")
    speed, course = _motion(log, places, depths, before, near)
    longitude = np.unwrap(places["longitude"].to_numpy(), period=360.0)  # over the date line
    table = sounding_table(
        time=_stamps(between(seconds), dated=dated),
        longitude=half_turned(between(longitude)),
        latitude=between(places["latitude"].to_numpy()),
        measured_m=depths["metres"],
        to_surface_m=to_surface,
        sog_mps=speed,
        cog_deg=course,
        temperature_c=_last(depths, log.kinds["MTW"], "celsius"),
        file=pd.Categorical.from_codes(np.zeros(len(depths), np.int8), [str(path)]),
        row=depths["line"],
    )
    if not dated:
        notes.append(
            f"{path}: it has no dates (RMC or ZDA sentences), so that its times are not known; "
            "give its day to {seabed soundings} with {date}"
        )
    return table, notes + guessed


def _depths(log: NmeaLog, file: str, notes: list[str]) -> tuple[str, pd.DataFrame]:
    """Kind of the depths and the depths of one talker; notes what is left out."""
    there = [kind for kind in DEPTH_KINDS if len(log.kinds[kind])]
    read = [kind for kind in there if log.kinds[kind]["metres"].notna().any()]
    kind = next(iter(read or there), "DPT")
    depths, others = _one_talker(log.kinds[kind])
    notes += [
        f"{file}: {len(log.kinds[other])} depths of {other} sentences were not used, since "
        f"it has {kind}"
        for other in there
        if other != kind
    ]
    if others:
        notes.append(
            f"{file}: {others} depths of other talkers were not used, since "
            f"{_name(depths)}{kind} {_why(depths, others)}"
        )
    return kind, depths


def _places(log: NmeaLog, path: str | Path, notes: list[str]) -> tuple[pd.DataFrame, bool]:
    """Positions of one talker, without those that the receiver did not have; if they have dates."""
    places, dated = positions_of(log)
    if not len(places):
        raise no_positions(path, log)
    places, others = _one_talker(places)
    if others:
        notes.append(
            f"{path}: {others} positions of other talkers were not used, since "
            f"{_name(places)} {_why(places, others)}"
        )
    good = places[["longitude", "latitude", "clock_s"]].notna().all(axis=1)
    good &= (places["latitude"].abs() <= 90) & (places["time"].notna() | (not dated))
    if lost := int(len(places) - good.sum()):
        notes.append(f"{path}: {lost} positions were blank or had no time")
    if not good.any():
        raise TrackError(
            "the receiver had no position in all of it",
            file=path,
            do="Check the receiver's antenna.",
        )
    return places[good] if lost else places, dated


def _one_talker(sentences: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Sentences of the talker that has most, else that was heard first, and how many others."""
    counts = sentences["talker"].value_counts(sort=False)  # in the order they were heard
    if len(counts) < 2:
        return sentences, 0
    chosen = sentences[sentences["talker"] == counts.idxmax()]
    return chosen, len(sentences) - len(chosen)


def _why(chosen: pd.DataFrame, others: int) -> str:
    return "was heard first" if len(chosen) == others else "has more"


def _name(sentences: pd.DataFrame) -> str:
    return "".join(map(chr, divmod(int(sentences["talker"].iloc[0]), 256)))


def _seconds(places: pd.DataFrame, *, dated: bool) -> Floats:
    """Seconds of each position: since 1970, or where no date is known since the first midnight."""
    if dated:
        return np.asarray(places["time"].to_numpy("datetime64[ns]").astype(np.int64) / 1e9)
    clock = places["clock_s"].to_numpy()
    days = np.cumsum(np.concatenate([[0.0], np.round(np.diff(clock) / -86400.0)]))
    return np.asarray(clock + 86400.0 * np.maximum(days, 0.0))


def _stamps(seconds: Floats, *, dated: bool) -> NDArray[np.datetime64]:
    """Seconds since 1970 as moments; NaT where they are not known, or have no dates."""
    stamps = np.round(np.nan_to_num(seconds) * 1e6).astype("datetime64[us]")
    stamps[np.isnan(seconds) | (not dated)] = np.datetime64("NaT", "ns")
    return stamps


def _share(at: Ints, clock: Floats, depth_at: Ints) -> tuple[Ints, Floats, Mask]:
    """Position before each depth, the share of the way to the next, and whether it is near.

    Behind the last position and before a gap the share is of the step before.
    """
    before = np.searchsorted(at, depth_at) - 1
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
    beyond = (np.arange(len(before)) - first + 0.5) / np.maximum(usual, 1)
    near &= ~gap | ((before > 0) & short[back] & (beyond <= 1.0))
    return np.where(gap, back, before), np.where(gap, 1.0 + beyond, share), near


def _motion(
    log: NmeaLog, places: pd.DataFrame, depths: pd.DataFrame, before: Ints, near: Mask
) -> tuple[NDArray[Any], NDArray[Any]]:
    """Speed, m/s, and course, degrees, that the receiver gives."""
    speed, course = (
        places[name].to_numpy()[before] if name in places else _last(depths, log.kinds["VTG"], name)
        for name in ("knots", "course_deg")
    )
    speed = speed * _KNOT
    good = near & (speed >= 0) & (speed < 1000)
    return np.where(good, speed, np.nan), np.where(good & (course >= 0), course % 360, np.nan)


def _last(depths: pd.DataFrame, sentences: pd.DataFrame, name: str) -> NDArray[Any]:
    """Last value of a kind of sentence before each depth in the log; NaN if there is none."""
    if not len(sentences):
        return np.full(len(depths), np.nan, np.float32)
    last = np.searchsorted(sentences["at"], depths["at"]) - 1
    return np.where(last >= 0, sentences[name].to_numpy()[np.maximum(last, 0)], np.nan)
