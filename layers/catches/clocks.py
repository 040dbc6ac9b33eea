"""How far the clocks of cameras and of catch logs were ahead of the track's.

A camera with a receiver writes the satellites' time beside its own clock: their difference is the
offset.  Where it wrote only the place, the offset is the one by which most photos taken aboard were
where the track was at their time; fish whose places the log gives show its clock in the same way.
Without places, fish that fall outside the drifts show a clock that is whole hours off: a wrong
zone, or summer time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.catches.tying import AFTER_S, drift_at
from layers.tracks.motion import seconds_of
from seabed.array_types import Floats
from seabed.geodesy import local_metres

MOST_SPREAD_S: Final = 60.0
"""Photos that disagree by more (median deviation from the median) tell no offset."""

NEAR_M: Final = 50.0
"""A photo was taken aboard if the track passes within this.  Common practice, no source."""

REACH_S: Final = 26 * 3600.0
"""Offsets that are tried by place: any time zone and summer time set wrong."""

STEP_S: Final = 5.0
WIDEST_S: Final = 900.0
"""A boat that lay in one place, or drifted slowly, for longer tells no offset."""

GAP_S: Final = 120.0
"""Nothing is known of where the boat was in a longer gap of the track."""

LEAST_PHOTOS: Final = 2
LEAST_SHARE: Final = 0.6
"""Of the photos taken aboard, that must agree on an offset found by place."""


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """Seconds that a camera's clock was ahead, NaN where unknown; their median deviation; why."""

    offset_s: float
    spread_s: float
    photos: int
    why: str


def clock_offsets(photos: pd.DataFrame, fixes: pd.DataFrame) -> dict[str, ClockOffset]:
    """Find the offset of each camera's clock, by satellite times or places of its photos."""
    clocked = photos[photos["clock_utc"].notna()]
    offsets = {}
    for camera, own in clocked.groupby("camera", sort=True):
        timed = own[own["gps_time"].notna()]
        placed = own[own["longitude"].notna() & own["latitude"].notna()]
        if len(timed):
            away = (timed["clock_utc"] - timed["gps_time"]).dt.total_seconds().to_numpy(float)
            offsets[str(camera)] = _agreed(away, "by the satellites' time")
        elif len(placed):
            offsets[str(camera)] = _by_place(placed, fixes)
        else:
            offsets[str(camera)] = ClockOffset(
                np.nan, np.nan, 0, "no photo of it has the satellites' time or a place"
            )
    return offsets


def _agreed(away_s: Floats, how: str) -> ClockOffset:
    offset = float(np.median(away_s))
    spread = float(np.median(np.abs(away_s - offset)))
    if spread > MOST_SPREAD_S:
        why = f"its photos disagree {how}: {spread:.0f} s around {offset:.0f} s"
        return ClockOffset(np.nan, spread, len(away_s), why)
    return ClockOffset(offset, spread, len(away_s), how)


def _by_place(photos: pd.DataFrame, fixes: pd.DataFrame) -> ClockOffset:
    """Find the offset by which most photos were where the boat was."""
    timed = fixes[fixes["time"].notna()]
    if len(timed) < 2:
        return ClockOffset(np.nan, np.nan, 0, "the track has no times")
    shifts = np.arange(-REACH_S, REACH_S + STEP_S, STEP_S)
    away = np.stack([_away_m(one, timed, shifts) for one in photos.itertuples()])
    aboard = away[(away <= NEAR_M).any(axis=1)]
    agree = (aboard <= NEAR_M).sum(axis=0)
    most = int(agree.max()) if len(aboard) else 0
    if most < max(LEAST_PHOTOS, LEAST_SHARE * len(aboard)):
        why = f"{most} of its {len(photos)} photos with a place agree with the track; too few"
        return ClockOffset(np.nan, np.nan, most, why)
    best = shifts[agree == most]
    if (np.abs(best) <= MOST_SPREAD_S).any():  # a clock that may be right is taken to be
        best = best[np.abs(best) <= MOST_SPREAD_S]
    if (np.diff(best) > MOST_SPREAD_S).any() or np.ptp(best) > WIDEST_S:
        why = "more than one offset brings its photos onto the track"
        return ClockOffset(np.nan, float(np.ptp(best)), most, why)
    middle = best[np.argmin(np.minimum(aboard, NEAR_M)[:, np.isin(shifts, best)].sum(axis=0))]
    near = np.abs(shifts - middle) <= WIDEST_S / 2
    agreeing = aboard[(aboard[:, shifts == middle] <= NEAR_M).any(axis=1)][:, near]
    return _agreed(shifts[near][np.argmin(agreeing, axis=1)], "by where the track was")


def _away_m(photo: object, fixes: pd.DataFrame, shifts_s: Floats) -> Floats:
    """Metres between a photo's place and the boat, for each offset; inf where it is not known."""
    longitude, latitude = float(photo.longitude), float(photo.latitude)  # type: ignore[attr-defined]
    known = fixes["time"].to_numpy("datetime64[ns]").astype(np.int64) / 1e9
    moment = photo.clock_utc.timestamp() - shifts_s  # type: ignore[attr-defined]
    after = np.clip(np.searchsorted(known, moment), 1, len(known) - 1)
    inside = (moment >= known[0]) & (moment <= known[-1])
    inside &= known[after] - known[after - 1] <= GAP_S
    there = (np.interp(moment, known, fixes[name]) for name in ("longitude", "latitude"))
    east, north = local_metres(*there, centre=(longitude, latitude))
    return np.where(inside, np.hypot(east, north), np.inf)


HOUR_S: Final = 3600.0
SHIFTS_S: Final = np.arange(-56, 57) * HOUR_S / 4  # any zone's difference from any other
WORTH_SAYING_S: Final = 60.0  # a smaller offset by places seldom changes a fish's drift
LEAST_FISH: Final = 5
MOST_TIED: Final = 0.75  # of the fish at the best shift, that the clock as it is may tie
MOST_TIED_OF_ALL: Final = 0.9  # the same where the best shift ties every fish, `LEAST_FEWER` more
LEAST_FEWER: Final = 2
ALIKE: Final = 0.85  # of the fish on drifts as the clock is, that an hour off must put there too
LEAST_TIED: Final = 0.8  # of the fish, at the best shift
# Common practice, no source, all of them.


@dataclass(frozen=True, slots=True)
class LogClock:
    """How many seconds a log's clock was ahead of the track's; 0 where nothing is known.

    fish, of: those that agree on it, of those that could.
    how: ``"place"``, ``"drifts"`` or ``""``.
    or_s: where nothing was found, an hour that drifts alone can't tell; 0 for none.
    """

    offset_s: float = 0.0
    fish: int = 0
    of: int = 0
    how: str = ""
    or_s: float = 0.0

    @property
    def words(self) -> str:
        """The offset as an option takes it: ``"7 h"``, ``"-62 min"``."""
        minutes = round((self.offset_s or self.or_s) / 60.0)
        return f"{minutes // 60} h" if minutes % 60 == 0 else f"{minutes} min"

    def sentence(self, zone_s: float, begins: pd.Timestamp) -> str:
        """Say what was found, and the options that correct it; ``""`` for nothing.

        zone_s: the zone's difference from UTC; an offset of that size and the other sign means a
            track in local time, or a log in UTC.
        begins: local time of the track's first fix.
        """
        whole = self.words
        amount = (
            f"{whole.removeprefix('-')} {'behind' if whole[0] == '-' else 'ahead of'} the track"
        )
        if self.or_s:
            return (
                f"The drifts cannot check the log's clock: if it is {amount}, {self.fish} of "
                f'{self.of} fish came on drifts too. Give {{clock_offset}} "{whole}" if it is.'
            )
        if not self.how:
            return ""
        if self.how == "place":
            claim = f"{self.fish} of {self.of} fish with a place are {amount}"
        else:
            share = "all" if self.fish == self.of else f"{self.fish} of"
            claim = f"{share} {self.of} fish are {amount}: is the zone wrong?"
        if zone_s and abs(self.offset_s + zone_s) < 120.0:
            return (
                f"{claim[0].upper()}{claim[1:]} That is the zone's difference from UTC: the track "
                f"began at {begins:%H:%M} local time. If that is wrong, its device wrote local "
                f'time: give {{track_clock}} "{LogClock(-self.offset_s).words}". If it is right, '
                f'the log is in UTC: give {{clock_offset}} "{whole}".'
            )
        return f'{claim[0].upper()}{claim[1:]} Give {{clock_offset}} "{whole}" if the log is wrong.'


def log_clock(catches: gpd.GeoDataFrame, drifts: gpd.GeoDataFrame, fixes: pd.DataFrame) -> LogClock:
    """Find how far the clock of a log was ahead of the track's."""
    timed = catches[catches["time"].notna()]
    by_place = _log_by_place(timed, fixes)
    if by_place is not None:
        return by_place
    return _by_drifts(timed, drifts)


def _log_by_place(catches: gpd.GeoDataFrame, fixes: pd.DataFrame) -> LogClock | None:
    """By where the fish were; None where that tells nothing."""
    placed = catches[catches["longitude"].notna() & catches["latitude"].notna()]
    if not len(placed):
        return None
    as_photos = placed.assign(camera="log", clock_utc=placed["time"], gps_time=pd.NaT)
    offset = clock_offsets(as_photos, fixes)["log"]
    if not np.isfinite(offset.offset_s):
        return None
    if abs(offset.offset_s) < WORTH_SAYING_S:
        return LogClock()
    return LogClock(offset.offset_s, offset.photos, len(placed), "place")


def _by_drifts(catches: gpd.GeoDataFrame, drifts: gpd.GeoDataFrame) -> LogClock:
    """By the quarter of an hour that brings most fish onto drifts; whole hours of equals."""
    if len(catches) < LEAST_FISH or not len(drifts):
        return LogClock()
    moment = seconds_of(catches["time"])
    start, end = seconds_of(drifts["start"]), seconds_of(drifts["end"])
    tied = np.array(
        [(drift_at(moment - shift, start, end, AFTER_S) >= 0).sum() for shift in SHIFTS_S]
    )
    most, now = int(tied.max()), int(tied[SHIFTS_S == 0][0])
    is_clear = most == len(catches) and most - now >= LEAST_FEWER
    share = MOST_TIED_OF_ALL if is_clear else MOST_TIED
    if most < LEAST_TIED * len(catches) or now > share * most:
        return _or_an_hour(tied, len(catches))
    best = SHIFTS_S[tied == most]
    whole = best[best % HOUR_S == 0]
    likely = whole if len(whole) else best
    if np.ptp(likely) > HOUR_S:
        return LogClock()
    return LogClock(float(likely[len(likely) // 2]), most, len(catches), "drifts")


def _or_an_hour(tied: NDArray[np.int64], count: int) -> LogClock:
    """Tell where an hour off, as summer time set wrong is, would tie almost as many fish."""
    now = int(tied[SHIFTS_S == 0][0])
    fish, hour_s = max((int(tied[hour == SHIFTS_S][0]), hour) for hour in (-HOUR_S, HOUR_S))
    if not now or fish < max(now - 1, ALIKE * now):
        return LogClock()
    return LogClock(0.0, fish, count, or_s=hour_s)
