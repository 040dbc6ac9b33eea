"""How far a camera's clock was ahead, found from photos that know their time or place.

A camera with a receiver writes the satellites' time beside its own clock: their difference is the
offset.  Where it wrote only the place, the offset is the one by which most photos taken aboard were
where the track was at their time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

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
