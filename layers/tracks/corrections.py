"""Corrections by hand, kept in a small text file beside the track.

One a line; ``#`` begins a remark.  Times are local to the water unless they end in Z; a line
without a date has that of the line before; a span that ends before it begins goes over midnight,
if that makes twelve hours at most::

    2031-06-14 10:05-10:20  drift      # drift, run, hold or gap: what it really was
    10:41-10:52             lines up   # not fishing: no rod-hours
    11:07                   cut        # two drifts, not one
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.tracks.motion import seconds_of
from layers.tracks.pieces import KIND_NAMES, pieces_table
from layers.tracks.spells import NOTHING
from seabed.errors import TrackError
from seabed.files import plain_file

__all__ = ["Correction", "correct", "corrections_beside", "read_corrections"]

_LINE: Final = re.compile(
    r"(?:(\d{4}-\d\d-\d\d)[ T]+)?(\d\d?:\d\d(?::\d\d)?Z?)"
    r"(?:\s*(?:-|–|to)\s*(\d\d?:\d\d(?::\d\d)?Z?))?\s+([a-z ]+?)\s*",
    re.IGNORECASE,
)
_SPANS: Final = (*KIND_NAMES.values(), "lines up")
LONGEST_NIGHT: Final = pd.Timedelta(hours=12)
"""A longer span over midnight is a slip of the pen that would take a day's fishing away."""
_LIKE: Final = "Write it like: 2031-06-14 10:05-10:20 drift"


@dataclass(frozen=True, slots=True)
class Correction:
    """One line of a file of corrections.

    Attributes
    ----------
    what : str
        ``"run"``, ``"drift"``, ``"hold"``, ``"gap"``, ``"lines up"`` or ``"cut"``.
    start, end : Timestamp
        UTC; the same for a cut.
    file : str
    line : int
        From 1.
    """

    what: str
    start: pd.Timestamp
    end: pd.Timestamp
    file: str
    line: int


def corrections_beside(tracks: Iterable[str | Path]) -> list[Path]:
    """Find the files of corrections beside tracks: ``boat.corrections.txt`` beside ``boat.gpx``.

    Examples
    --------
    >>> corrections_beside(["trip_1.gpx"])
    []
    """
    beside = (Path(track).with_suffix(".corrections.txt") for track in tracks)
    return [path for path in dict.fromkeys(beside) if path.exists()]


def read_corrections(path: str | Path, *, timezone: str = "UTC") -> list[Correction]:
    """Read a file of corrections.

    Parameters
    ----------
    path : str or Path
    timezone : str
        Zone of times that don't end in Z.

    Raises
    ------
    TrackError
        If the file can't be read, or a line of it can't, saying which.

    Examples
    --------
    >>> from pathlib import Path
    >>> _ = Path("trip.corrections.txt").write_text("2031-06-14 08:05-08:10 lines up")
    >>> [one.what for one in read_corrections("trip.corrections.txt")]
    ['lines up']
    """
    plain_file(path)
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise TrackError(f"can't read the corrections: {error}", file=path) from error
    found: list[Correction] = []
    date = ""
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.partition("#")[0].strip()
        if words:
            match = _LINE.fullmatch(words)
            if match is None:
                raise _unread(f"can't read {words!r}", path, number)
            date = match[1] or date
            found.append(_correction(match, date, path, number, ZoneInfo(timezone)))
    return found


def correct(
    pieces: gpd.GeoDataFrame, fixes: pd.DataFrame, corrections: Sequence[Correction]
) -> tuple[gpd.GeoDataFrame, list[str]]:
    """Apply corrections to the pieces of a track.

    Times are taken to the nearest fix.  A later line overrules an earlier one.

    Parameters
    ----------
    pieces, fixes : from `cut` and `clean`
    corrections : sequence of Correction

    Returns
    -------
    pieces : GeoDataFrame
        Cut again; ``lines_up_s`` says how long the lines were up in each.
    unused : list of str
        A sentence for each correction that touched nothing.

    Examples
    --------
    >>> import pandas as pd
    >>> from layers import clean, cut, example_trip
    >>> fixes, _ = clean(example_trip()[0])
    >>> start = pd.Timestamp("2031-06-14T08:02Z")
    >>> not_fished = Correction("lines up", start, start + pd.Timedelta(minutes=3), "by hand", 1)
    >>> pieces, unused = correct(cut(fixes), fixes, [not_fished])
    >>> float(pieces["lines_up_s"].iloc[0]), unused
    (180.0, [])
    """
    time_s = seconds_of(fixes["time"])
    states = np.full(len(time_s) - 1, NOTHING, np.int8)
    codes = {name: state for state, name in KIND_NAMES.items()}
    for kind, first, last in zip(
        pieces["kind"], pieces["first_fix"], pieces["last_fix"], strict=True
    ):
        states[first:last] = codes[kind]
    kind = pieces["kind"].to_numpy()
    breaks: list[int] = pieces["last_fix"].to_numpy()[:-1][kind[1:] == kind[:-1]].tolist()
    up = np.zeros(len(states), bool)
    unused: list[str] = []
    for one in corrections:
        first, last = (_nearest(time_s, moment) for moment in (one.start, one.end))
        touched = time_s[0] <= one.end.timestamp() and one.start.timestamp() <= time_s[-1]
        if not touched or (one.what != "cut" and first == last):
            unused.append(
                f"{one.file}, line {one.line}: the track has nothing there; it was left out"
            )
        elif one.what == "cut":
            breaks.append(first)
        elif one.what == "lines up":
            up[first:last] = True
        else:
            states[first:last] = codes[one.what]
    table = pieces_table(
        states,
        times=fixes["time"],
        longitude=fixes["longitude"].to_numpy(np.float64),
        latitude=fixes["latitude"].to_numpy(np.float64),
        breaks=breaks,
    )
    lifted = np.concatenate([[0.0], np.cumsum(np.diff(time_s) * up)])
    table["lines_up_s"] = lifted[table["last_fix"]] - lifted[table["first_fix"]]
    return table, unused


def _correction(
    match: re.Match[str], date: str, path: str | Path, number: int, zone: ZoneInfo
) -> Correction:
    what = " ".join(match[4].lower().split())
    if what != "cut" and what not in _SPANS:
        raise _unread(f"{what!r} is no {', '.join(_SPANS)} or cut", path, number)
    if (what == "cut") == bool(match[3]):
        raise _unread(
            "a cut has one time" if match[3] else f"{what!r} needs two times", path, number
        )
    if not date:
        raise _unread("the first line needs a date", path, number)
    try:
        start = _moment(date, match[2], zone)
        end = _moment(date, match[3], zone) if match[3] else start
    except ValueError as error:
        raise _unread(f"there is no such time: {match[0].strip()!r}", path, number) from error
    if end < start:
        end += pd.Timedelta(days=1)
        if end - start > LONGEST_NIGHT:
            raise _unread(f"it ends before it begins: {match[0].strip()!r}", path, number)
    return Correction(what, start, end, str(path), number)


def _moment(date: str, clock: str, zone: ZoneInfo) -> pd.Timestamp:
    naive = pd.Timestamp(f"{date} {clock.upper().rstrip('Z'):0>5}")
    if clock.upper().endswith("Z"):
        return naive.tz_localize("UTC")
    placed = naive.tz_localize(zone, nonexistent="NaT", ambiguous="NaT")
    if placed is pd.NaT:  # by itself it raises, but not the same in every pandas
        raise ValueError(f"{naive} is not one time in {zone}")
    return placed.tz_convert("UTC")


def _nearest(time_s: np.ndarray, moment: pd.Timestamp) -> int:
    return int(np.argmin(np.abs(time_s - moment.timestamp())))


def _unread(what: str, path: str | Path, number: int) -> TrackError:
    return TrackError(what, file=path, where=f"line {number}", do=f"{_LIKE}.")
