"""Read logs of NMEA 0183 sentences: position, depth and water temperature.

Sentences read, of any talker: RMC (position and date), else GGA or GLL with the date of ZDA; depth
from DPT, DBS, DBT or DBK, the first of them that the log has; MTW.  What a logger puts before a
sentence on its line (its own clock, a tag block) is passed over.  Everything else, proprietary and
AIS sentences among it, is left alone.  The standard ends lines with 0D 0A; any ending is taken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.errors import TrackError
from seabed.logs.fixes import FileFixes

__all__ = ["looks_like_nmea", "read_nmea_fixes"]

_SENTENCE: Final = re.compile(
    rb"\$[A-Z][A-Z](RMC|GGA|GLL|ZDA|DPT|DBS|DBT|DBK|MTW),([\x20-\x23\x25-\x29\x2b-\x7e]*+)"
    rb"(?:\*([0-9A-Fa-f]{2})(?![0-9A-Fa-f])|(?!\*))"
)
_ANY_START: Final = re.compile(rb"\$[A-Z][A-Z](?:RMC|GGA|GLL|ZDA|DPT|DBS|DBT|DBK|MTW)\b")
_LOOK: Final = re.compile(rb"(?:^|[\s\\])[$!][A-Z]{2}[A-Z]{3},", re.MULTILINE)
_DEPTHS: Final = {b"DPT": 0, b"DBS": 2, b"DBT": 2, b"DBK": 2}  # field of the depth in metres

Floats = NDArray[np.float64]
Times = NDArray[np.datetime64]
_Rows = list[tuple[int, Sequence[bytes]]]


def looks_like_nmea(head: bytes) -> bool:
    """Say whether the start of a file holds NMEA 0183 sentences."""
    return _LOOK.search(head) is not None


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
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TrackError(f"can't read it: {reason}", file=path, do="Check the name.") from error
    rows, notes = _sentences(data, str(path))
    place, longitude, latitude, time = _positions(rows, path)
    if not len(place):
        raise TrackError(
            "no position in it (RMC, GGA or GLL sentences)",
            file=path,
            do="Set the logger to record the receiver's positions.",
        )
    depth_row, depth = _depth(rows)
    warm_row, warmth = _readings(rows[b"MTW"], 0)
    count = len(place)
    return FileFixes(
        file=str(path),
        time=time,
        longitude=longitude,
        latitude=latitude,
        depth_m=_last_since(place, depth_row, depth),
        temperature_c=_last_since(place, warm_row, warmth),
        track=np.zeros(count, np.int32),
        segment=np.zeros(count, np.int32),
        notes=notes,
    )


def _sentences(data: bytes, file: str) -> tuple[dict[bytes, _Rows], list[str]]:
    """Sound sentences by kind, each with its place in the file and its fields."""
    matches = list(_SENTENCE.finditer(data))
    rows: dict[bytes, _Rows] = {
        kind: [] for kind in (b"RMC", b"GGA", b"GLL", b"ZDA", b"MTW", *_DEPTHS)
    }
    started = len(_ANY_START.findall(data))
    summed = [match for match in matches if match[3] is not None]
    notes = []
    if matches and not summed:
        notes.append(f"{file}: its sentences have no checksums; they were taken as they are")
        sound = matches
    else:
        sound = _with_right_sum(data, summed)
    for match in sound:
        rows[match[1]].append((match.start(), match[2].split(b",")))
    if damaged := started - len(sound):
        notes.append(f"{file}: {damaged} of {started} sentences were damaged or cut off; left out")
    return rows, notes


def _with_right_sum(data: bytes, matches: list[re.Match[bytes]]) -> list[re.Match[bytes]]:
    """Sentences whose checksum, the exclusive or of all between $ and *, is right."""
    if not matches:
        return []
    octets = np.frombuffer(data, np.uint8)
    bounds = np.array([(match.start() + 1, match.end(2)) for match in matches]).ravel()
    found = np.bitwise_xor.reduceat(octets, bounds)[::2]
    said = np.array([int(match[3], 16) for match in matches], np.uint8)
    return [match for match, right in zip(matches, found == said, strict=True) if right]


def _positions(
    rows: dict[bytes, _Rows], path: str | Path
) -> tuple[NDArray[np.int64], Floats, Floats, Times]:
    """Place in the file, longitude, latitude and time of each fix."""
    if rows[b"RMC"]:
        place, fields = _padded(rows[b"RMC"], 9)
        good = fields[:, 1] != b"V"
        longitude, latitude = _degrees(fields[:, 4:6], good), _degrees(fields[:, 2:4], good)
        return place, longitude, latitude, _days(fields[:, 8]) + _clock(fields[:, 0])
    kind = b"GGA" if rows[b"GGA"] else b"GLL"
    if not rows[kind]:
        return np.empty(0, np.int64), np.empty(0), np.empty(0), np.empty(0, "datetime64[ns]")
    place, fields = _padded(rows[kind], 7)
    if kind == b"GGA":
        good, clock, first = fields[:, 5] != b"0", fields[:, 0], 1
    else:
        good, clock, first = fields[:, 5] != b"V", fields[:, 4], 0
    latitude = _degrees(fields[:, first : first + 2], good)
    longitude = _degrees(fields[:, first + 2 : first + 4], good)
    return place, longitude, latitude, _dated(place, _clock(clock), rows[b"ZDA"], path)


def _dated(
    place: NDArray[np.int64], clock: NDArray[np.timedelta64], dates: _Rows, path: str | Path
) -> Times:
    """Give times of day the date of the ZDA sentence before them (or of the first one)."""
    if not dates:
        raise TrackError(
            "no date in it, only times of day (no RMC or ZDA sentence)",
            file=path,
            do="Set the logger to record RMC.",
        )
    at, fields = _padded(dates, 4)
    day = np.array([_day(b"%b-%b-%b" % (f[3], f[2], f[1])) for f in fields], "datetime64[ns]")
    of = np.maximum(np.searchsorted(at, place, side="right") - 1, 0)
    turned = clock - _clock(fields[:, 0])[of]
    half_day, whole_day = np.timedelta64(12, "h"), np.timedelta64(24, "h")
    stamps = day[of] + clock
    stamps = np.where(turned < -half_day, stamps + whole_day, stamps)
    return np.asarray(np.where(turned > half_day, stamps - whole_day, stamps))


def _depth(rows: dict[bytes, _Rows]) -> tuple[NDArray[np.int64], Floats]:
    kind = next((kind for kind in _DEPTHS if rows[kind]), b"DPT")
    place, depth = _readings(rows[kind], _DEPTHS[kind])
    if kind == b"DPT":
        # A positive offset reaches from the transducer up to the waterline, a negative to the keel.
        _, offset = _readings(rows[kind], 1)
        depth = depth + np.maximum(np.nan_to_num(offset), 0.0)
    return place, depth


def _readings(rows: _Rows, column: int) -> tuple[NDArray[np.int64], Floats]:
    if not rows:
        return np.empty(0, np.int64), np.empty(0)
    place, fields = _padded(rows, column + 1)
    return place, _numbers(fields[:, column])


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


def _padded(rows: _Rows, width: int) -> tuple[NDArray[np.int64], NDArray[np.bytes_]]:
    """Places, and fields as a table of at least `width` columns, empty where a row has fewer."""
    place = np.array([at for at, _ in rows], np.int64)
    blank = [b""] * width
    fields = np.array([[*fields[:width], *blank[len(fields) :]] for _, fields in rows], "S24")
    return place, fields


def _numbers(texts: NDArray[np.bytes_]) -> Floats:
    try:
        values = np.where(texts == b"", b"nan", texts).astype(np.float64)
    except ValueError:
        values = np.array([_number(text) for text in texts.tolist()])
    return np.where(np.abs(values) < 1e9, values, np.nan)


def _number(text: bytes) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _degrees(texts: NDArray[np.bytes_], good: NDArray[np.bool_]) -> Floats:
    """Degrees and minutes, ``3130.125``, and a side, ``S``; NaN where there is no fix."""
    packed = _numbers(texts[:, 0])
    whole = np.floor(packed / 100.0)
    value = whole + (packed - 100.0 * whole) / 60.0
    side = texts[:, 1]
    signed = np.where((side == b"S") | (side == b"W"), -value, value)
    return np.where(good & np.isin(side, [b"N", b"S", b"E", b"W"]), signed, np.nan)


def _clock(texts: NDArray[np.bytes_]) -> NDArray[np.timedelta64]:
    """Time of day, ``093012.25``; NaT where it can't be read."""
    packed = _numbers(texts)
    hours, minutes = packed // 10000, packed // 100 % 100
    seconds = hours * 3600 + minutes * 60 + packed % 100
    good = np.isfinite(packed) & (packed >= 0) & (hours < 24) & (minutes < 60) & (packed % 100 < 61)
    nanoseconds = np.round(np.where(good, seconds, 0) * 1e9).astype("timedelta64[ns]")
    return np.where(good, nanoseconds, np.timedelta64("NaT"))


def _days(texts: NDArray[np.bytes_]) -> Times:
    """Dates, ``140631``; years 80 to 99 are of the last century."""
    unique, which = np.unique(texts, return_inverse=True)
    days = [
        _day(b"%d-%b-%b" % (year + (1900 if year >= 80 else 2000), text[2:4], text[:2]))
        if len(text) == 6 and text.isdigit() and (year := int(text[4:])) >= 0
        else np.datetime64("NaT")
        for text in unique.tolist()
    ]
    return np.array(days, "datetime64[ns]")[which]


def _day(text: bytes) -> np.datetime64:
    try:
        return np.datetime64(text.decode("ascii", "replace"), "D")
    except ValueError:
        return np.datetime64("NaT")
