"""Clean fixes: order, clocks, positions, speeds.  Everything set aside is counted."""

from __future__ import annotations

from enum import IntEnum
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.tracks.clean_report import CleanReport
from layers.tracks.devices import doubled_fixes, with_readings_of
from layers.tracks.motion import seconds_of
from layers.tracks.settings import CutSettings
from layers.tracks.table import FIXES
from seabed.array_types import Floats, Mask
from seabed.compiled import compiled
from seabed.errors import TrackError
from seabed.geodesy import local_metres

Rows = NDArray[Any]
Reasons = NDArray[np.int8]

_EARLIEST: Final = np.datetime64("1990-01-01", "ns")  # before it no receiver gave civil positions
_LATEST: Final = np.datetime64("2100-01-01", "ns")
_LONGEST_TRACK: Final = np.timedelta64(30, "D")
_JITTER_S: Final = 60.0  # a step back up to this is disorder; beyond it, a clock was set
_SHORT_STRETCH: Final = 5  # fixes
_UNTRUSTED_SHARE: Final = 0.2  # of steps that go back


class _Reason(IntEnum):
    KEPT = 0
    NO_TIME = 1
    BAD_POSITION = 2
    BOGUS_DATE = 3
    CLOCK_RESET = 4
    DUPLICATE = 5
    OTHER_DEVICE = 6
    IMPOSSIBLE_SPEED = 7


def clean(
    fixes: pd.DataFrame, settings: CutSettings | None = None
) -> tuple[pd.DataFrame, CleanReport]:
    """Put fixes in order of time and set aside those that cannot be right.

    Parameters
    ----------
    fixes : DataFrame
        As `read_fixes` gives.
    settings : CutSettings, optional

    Returns
    -------
    fixes : DataFrame
        The same columns; times rise strictly, positions are finite, the index is fresh.
    report : CleanReport

    Raises
    ------
    TrackError
        If there are no fixes, none has a time or a position, times go back so often that they
        cannot be trusted, or nothing is left.

    Notes
    -----
    Impossible speeds are judged by the longest chain of fixes each of which can be reached from
    the one before, so that neither one wild fix nor a run of them, nor one at the very start,
    takes good fixes with it.

    Examples
    --------
    >>> from layers import example_trip
    >>> fixes, catches = example_trip()
    >>> fixes, report = clean(fixes)
    >>> report.read, report.kept
    (577, 577)
    """
    settings = settings or CutSettings()
    FIXES.check(fixes)
    if not len(fixes):
        raise TrackError("there are no fixes", do="Name a track file that has some.")
    reason = np.zeros(len(fixes), np.int8)
    _mark_unplaced(fixes, reason)
    _mark_bogus_dates(fixes, reason)
    _refuse_untrusted_times(fixes, reason)
    disordered = _mark_clock_resets(fixes, reason)
    order = _one_device(fixes, reason, settings)
    _mark_impossible(fixes, order, reason, settings)
    order = order[reason[order] == _Reason.KEPT]
    if len(order) < 2:
        raise TrackError(
            f"only {len(order)} of {len(fixes)} fixes can be used: too few for a track",
            file=_files(fixes),
            do="Check the file's times and positions.",
        )
    cleaned = fixes.iloc[order].reset_index(drop=True)
    others = (reason == _Reason.OTHER_DEVICE) | (reason == _Reason.DUPLICATE)
    if others.any():
        cleaned = with_readings_of(cleaned, fixes.iloc[_in_order(fixes, others)])
    return cleaned, _report(cleaned, reason, disordered, settings)


def _mark_unplaced(fixes: pd.DataFrame, reason: Reasons) -> None:
    longitude, latitude = fixes["longitude"].to_numpy(), fixes["latitude"].to_numpy()
    with np.errstate(invalid="ignore"):
        placed = (np.abs(latitude) <= 90) & (np.abs(longitude) <= 180)
    placed &= (longitude != 0) | (latitude != 0)
    reason[~placed] = _Reason.BAD_POSITION
    reason[fixes["time"].isna().to_numpy()] = _Reason.NO_TIME
    if (reason == _Reason.NO_TIME).all():
        raise TrackError(
            "no point has a time, so the track cannot be cut",
            file=_files(fixes),
            do="Export the track with times (a recorded track, not a planned route).",
        )
    if not placed.any():
        raise TrackError(
            "no point has a usable position",
            file=_files(fixes),
            do="Check that the receiver had a fix.",
        )


def _mark_bogus_dates(fixes: pd.DataFrame, reason: Reasons) -> None:
    time = _times(fixes)
    kept = reason == _Reason.KEPT
    reason[kept & ((time < _EARLIEST) | (time >= _LATEST))] = _Reason.BOGUS_DATE
    for rows in _left(_tracks(fixes), reason):
        if len(rows):
            middle = np.sort(time[rows])[len(rows) // 2]
            reason[rows[np.abs(time[rows] - middle) > _LONGEST_TRACK]] = _Reason.BOGUS_DATE
    if not (reason == _Reason.KEPT).any():
        raise TrackError(
            "no point has both a usable position and a plausible date",
            file=_files(fixes),
            do="Check the recorder's clock.",
        )


def _refuse_untrusted_times(fixes: pd.DataFrame, reason: Reasons) -> None:
    time = _times(fixes)
    for rows in _left(_segments(fixes), reason):
        step = np.diff(time[rows]).astype(np.int64)
        back, moved = int((step < 0).sum()), int((step != 0).sum())
        if back > _UNTRUSTED_SHARE * moved:
            at = int(np.flatnonzero(step < 0)[0]) + 1
            raise TrackError(
                f"times go back at {back} of {moved} steps, first at "
                f"{pd.Timestamp(time[rows[at]]).isoformat()}Z, so they cannot be trusted",
                file=str(fixes["file"].iloc[rows[0]]),
                where=f"track {int(fixes['track'].iloc[rows[0]]) + 1}, "
                f"segment {int(fixes['segment'].iloc[rows[0]]) + 1}",
                do="Export it again in the order it was recorded.",
            )


def _mark_clock_resets(fixes: pd.DataFrame, reason: Reasons) -> int:
    """Mark what was recorded over again; give the number of fixes merely out of order."""
    time = _times(fixes)
    disordered = 0
    for segment in _left(_segments(fixes), reason):
        if not (np.diff(time[segment]).astype(np.int64) < 0).any():
            continue
        again = fixes.iloc[segment].duplicated(["time", "longitude", "latitude"]).to_numpy()
        reason[segment[again]] = _Reason.DUPLICATE
        rows = segment[~again]
        stamps = time[rows].astype(np.int64) / 1e9
        lost = _overlapping_stretches(stamps)
        reason[rows[lost]] = _Reason.CLOCK_RESET
        stamps = stamps[~lost]
        disordered += int((stamps < np.maximum.accumulate(stamps)).sum())
    return disordered


def _overlapping_stretches(stamps: Floats) -> Mask:
    """Find fixes of stretches that are, in time, inside a longer stretch of the same segment."""
    cuts = np.flatnonzero(np.diff(stamps) < -_JITTER_S) + 1
    stretches = np.split(np.arange(len(stamps)), cuts)
    stretches = [rows for rows in stretches if len(rows) > _SHORT_STRETCH]
    lost = np.zeros(len(stamps), bool)
    taken: list[tuple[float, float]] = []
    for rows in sorted(stretches, key=len, reverse=True):
        for low, high in taken:
            lost[rows] |= (stamps[rows] >= low) & (stamps[rows] <= high)
        taken.append((stamps[rows].min(), stamps[rows].max()))
    return lost


def _in_order(fixes: pd.DataFrame, chosen: Mask) -> Rows:
    rows = np.flatnonzero(chosen)
    return np.asarray(rows[np.argsort(_times(fixes)[rows], kind="stable")])


def _one_device(fixes: pd.DataFrame, reason: Reasons, settings: CutSettings) -> Rows:
    """Rows kept so far in order of time, of one device at a time, then one fix at a time.

    The device is chosen first: were repetitions set aside before, the one that leads would lose
    fixes to one whose own are then set aside too.
    """
    device = np.zeros(len(fixes), np.int64)
    for number, rows in enumerate(_tracks(fixes)):
        device[rows] = number
    order = _in_order(fixes, reason == _Reason.KEPT)
    again = fixes.iloc[order].duplicated(["time", "longitude", "latitude"], keep=False).to_numpy()
    time_s = seconds_of(fixes["time"])[order]
    doubled = doubled_fixes(time_s, device[order], settings)
    reason[order[doubled]] = np.where(again[doubled], _Reason.DUPLICATE, _Reason.OTHER_DEVICE)
    order, time_s = order[~doubled], time_s[~doubled]
    repeated = np.concatenate([[False], np.diff(time_s) == 0])
    reason[order[repeated]] = _Reason.DUPLICATE
    return np.asarray(order[~repeated])


def _mark_impossible(
    fixes: pd.DataFrame, order: Rows, reason: Reasons, settings: CutSettings
) -> None:
    longitude, latitude = fixes["longitude"].to_numpy()[order], fixes["latitude"].to_numpy()[order]
    middle = int(np.argsort(latitude)[len(latitude) // 2])
    x, y = local_metres(longitude, latitude, centre=(longitude[middle], latitude[middle]))
    chained = _longest_chain(
        seconds_of(fixes["time"])[order],
        x,
        y,
        settings.impossible_speed_mps,
        settings.position_slack_m,
    )
    reason[order[~chained]] = _Reason.IMPOSSIBLE_SPEED


@compiled
def _longest_chain(time_s: Floats, x: Floats, y: Floats, limit: float, slack: float) -> Mask:
    """Longest chain of fixes, each reachable from the one before at `limit`.

    Looks back 64 fixes; a chain may also leap, at the price of 10 fixes, so that a boat put on a
    trailer with the recorder running does not lose half its track.
    """
    count = time_s.size
    length = np.empty(count)
    before = np.empty(count, np.int64)
    best = -1
    for i in range(count):
        length[i] = 1.0
        before[i] = -1
        if best >= 0 and length[best] - 10.0 > 0.0:
            length[i] = length[best] - 9.0
            before[i] = best
        for j in range(i - 1, max(-1, i - 65), -1):
            if length[j] + 1.0 > length[i]:
                reach = limit * (time_s[i] - time_s[j]) + slack
                if (x[i] - x[j]) ** 2 + (y[i] - y[j]) ** 2 <= reach * reach:
                    length[i] = length[j] + 1.0
                    before[i] = j
            if j == best and length[i] > length[best]:
                break
        if best < 0 or length[i] >= length[best]:
            best = i
    chained = np.zeros(count, np.bool_)
    while best >= 0:
        chained[best] = True
        best = before[best]
    return chained


def _report(
    cleaned: pd.DataFrame, reason: Reasons, disordered: int, settings: CutSettings
) -> CleanReport:
    counts = {kind.name.lower(): int((reason == kind).sum()) for kind in _Reason}
    step = np.diff(seconds_of(cleaned["time"]))
    gaps = (step > settings.longest_gap_s) & (step <= settings.outing_break_s)
    return CleanReport(read=len(reason), out_of_order=disordered, gaps=int(gaps.sum()), **counts)


def _times(fixes: pd.DataFrame) -> NDArray[np.datetime64]:
    return np.asarray(fixes["time"].dt.tz_convert(None).to_numpy(), "datetime64[ns]")


def _tracks(fixes: pd.DataFrame) -> list[Rows]:
    return _groups(fixes["file"].cat.codes if _coded(fixes) else fixes["file"], fixes["track"])


def _segments(fixes: pd.DataFrame) -> list[Rows]:
    file = fixes["file"].cat.codes if _coded(fixes) else fixes["file"]
    return _groups(file, fixes["track"], fixes["segment"])


def _left(groups: list[Rows], reason: Reasons) -> list[Rows]:
    return [rows[reason[rows] == _Reason.KEPT] for rows in groups]


def _coded(fixes: pd.DataFrame) -> bool:
    return isinstance(fixes["file"].dtype, pd.CategoricalDtype)


def _groups(*columns: Any) -> list[Rows]:
    """Rows of each stretch of equal values, in order."""
    change = np.zeros(len(columns[0]) - 1, bool)
    for column in columns:
        values = column.to_numpy()
        change |= values[1:] != values[:-1]
    return np.split(np.arange(len(columns[0])), np.flatnonzero(change) + 1)


def _files(fixes: pd.DataFrame) -> str:
    names = [str(name) for name in pd.unique(fixes["file"])]
    return names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
