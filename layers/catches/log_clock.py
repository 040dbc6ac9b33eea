"""How far the clock of a catch log was ahead of the track's: found from places, or from the drifts.

Fish whose places the log gives tell the offset to a minute or two, as photos do
(`layers.catches.camera_clock`).  Without places, fish that fall outside the drifts tell a clock
that is whole hours out: a zone set wrong, or summer time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.catches.camera_clock import clock_offsets
from layers.catches.tying import AFTER_S, drift_at
from layers.tracks.motion import seconds_of

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

    fish, of: those that agree on it, of those that could. how: ``"place"``, ``"drifts"`` or ``""``.
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

        zone_s: the zone's difference from UTC; an offset of that size and the other sign is that of
        a track in local time, or of a log in UTC. begins: local time of the track's first fix.
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
    by_place = _by_place(timed, fixes)
    if by_place is not None:
        return by_place
    return _by_drifts(timed, drifts)


def _by_place(catches: gpd.GeoDataFrame, fixes: pd.DataFrame) -> LogClock | None:
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
    """Tell where an hour off, summer time set wrong, would put almost as many fish onto drifts."""
    now = int(tied[SHIFTS_S == 0][0])
    fish, hour_s = max((int(tied[hour == SHIFTS_S][0]), hour) for hour in (-HOUR_S, HOUR_S))
    if not now or fish < max(now - 1, ALIKE * now):
        return LogClock()
    return LogClock(0.0, fish, count, or_s=hour_s)
