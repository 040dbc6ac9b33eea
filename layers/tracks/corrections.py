"""Corrections by hand, kept in a small text file beside the track.

One a line; ``#`` begins a remark.  Times are local to the water unless they end in Z; a line
without a date has that of the line before; a span that ends before it begins goes over midnight,
if that makes twelve hours at most::

    2031-06-14 10:05-10:20  drift      # drift, run, hold or gap: what it really was
    10:41-10:52             lines up   # not fishing: no rod-hours
    10:55-11:05             motor      # no free drift: no current is learned from it
    11:07                   cut        # two drifts, not one
    11:12:40                no fish: brindle flounder
    11:14   fish: brindle flounder, 16 in, kept, rod 2, on the turn of the line
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

_DAY: Final = r"(?:(\d{4}-\d\d-\d\d)[ T]+)?"
_CLOCK: Final = r"(\d\d?:\d\d(?::\d\d(?:\.\d{1,3})?)?Z?)"
_LINE: Final = re.compile(
    rf"{_DAY}{_CLOCK}(?:\s*(?:-|–|to)\s*{_DAY}{_CLOCK})?\s+([a-z ]+?)\s*(?::\s*(.*))?",
    re.IGNORECASE,
)
OF_FISH: Final = ("fish", "no fish")
_MOMENTS: Final = ("cut", *OF_FISH)
MOTOR: Final = "motor"
_SPANS: Final = (*KIND_NAMES.values(), "lines up", MOTOR)
LONGEST_NIGHT: Final = pd.Timedelta(hours=12)
"""A longer span over midnight is a slip of the pen that would take a day's fishing away."""
_LIKE: Final = "Write it like: 2031-06-14 10:05-10:20 drift"


@dataclass(frozen=True, slots=True)
class Correction:
    """One line of a file of corrections, from `start` to `end`, UTC (the same but for a span).

    what: ``"run"``, ``"drift"``, ``"hold"``, ``"gap"``, ``"lines up"``, ``"motor"``, ``"cut"``,
        ``"fish"`` (one that came then) or ``"no fish"`` (one that did not).
    words: about the fish.
    """

    what: str
    start: pd.Timestamp
    end: pd.Timestamp
    file: str
    line: int
    words: str = ""

    @property
    def place(self) -> str:
        """Name the line of the file."""
        return f"{self.file}, line {self.line}"


def corrections_beside(tracks: Iterable[str | Path]) -> list[Path]:
    """Find the files of corrections beside tracks: ``boat.corrections.txt`` beside ``boat.gpx``."""
    beside = map(corrections_of, tracks)
    return [path for path in dict.fromkeys(beside) if path.exists()]


def corrections_of(track: str | Path) -> Path:
    """Name the file of corrections of a track, which need not exist.

    >>> corrections_of("trips/today.gpx").name
    'today.corrections.txt'
    """
    return Path(track).with_suffix(".corrections.txt")


def read_corrections(path: str | Path, *, timezone: str = "UTC") -> list[Correction]:
    """Read a file of corrections; `timezone` is that of times that don't end in Z."""
    plain_file(path)
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise TrackError(f"can't read the corrections: {error}", file=path) from error
    return parse_corrections(text, path, timezone=timezone)


def parse_corrections(text: str, path: str | Path, *, timezone: str = "UTC") -> list[Correction]:
    """Read corrections as `read_corrections`, out of the text of the file at `path`."""
    corrections: list[Correction] = []
    date = ""
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.partition("#")[0].strip()
        if words:
            match = _LINE.fullmatch(words)
            if match is None:
                raise _unread(f"can't read {words!r}", path, number)
            date = match[1] or date
            corrections.append(_correction(match, date, path, number, ZoneInfo(timezone)))
    return corrections


def correct(
    pieces: gpd.GeoDataFrame, fixes: pd.DataFrame, corrections: Sequence[Correction]
) -> tuple[gpd.GeoDataFrame, list[str]]:
    """Apply corrections to the pieces of a track.

    Times are taken to the nearest fix.  A later line overrules an earlier one: a span that was a
    drift is one drift, whatever was cut within it before.  Lines on fish and motor change no piece.
    Returned: pieces, with ``lines_up_s``; a sentence for each correction that touched nothing.
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
        if one.what in OF_FISH:
            continue
        first, last = (_nearest(time_s, moment) for moment in (one.start, one.end))
        touched = time_s[0] <= one.end.timestamp() and one.start.timestamp() <= time_s[-1]
        if not touched or (one.what != "cut" and first == last):
            unused.append(f"{one.place}: the track has nothing there; it was left out")
        elif one.what == "cut":
            breaks.append(first)
        elif one.what == "lines up":
            up[first:last] = True
        elif one.what != MOTOR:
            span = states[first:last]
            span[span != NOTHING] = codes[one.what]  # no piece spans two outings
            breaks = [row for row in breaks if not first < row < last]
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
    _, first, last_date, last, kind, words = match.groups()
    what = " ".join(kind.lower().split())
    if what not in (*_SPANS, *_MOMENTS):
        raise _unread(
            f"{what!r} is not one of: {', '.join(_SPANS)}, fish, no fish, cut", path, number
        )
    if (what in _MOMENTS) == bool(last):
        raise _unread(
            f"a {what} has one time" if last else f"{what!r} needs two times", path, number
        )
    if (words is not None and what not in OF_FISH) or (what == "fish" and not words):
        raise _unread("only a fish takes words, its species first", path, number)
    if not date:
        raise _unread("the first line needs a date", path, number)
    try:
        start = _moment(date, first, zone)
        end = _moment(last_date or date, last, zone) if last else start
    except ValueError as error:
        raise _unread(f"there is no such time: {match[0].strip()!r}", path, number) from error
    if end < start:
        end += pd.Timedelta(days=1)
        if last_date or end - start > LONGEST_NIGHT:
            raise _unread(f"it ends before it begins: {match[0].strip()!r}", path, number)
    return Correction(what, start, end, str(path), number, words or "")


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
