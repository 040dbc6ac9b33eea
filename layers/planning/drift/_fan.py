"""How a drift may go astray: the same trim in many waters and winds."""

from __future__ import annotations

from functools import partial
from typing import Final

import numpy as np

from layers.planning.drift._drift import DriftTracks
from layers.planning.drift._hand import Hand, Printed, by_hand
from layers.planning.drift.doubt import Doubt, doubtful_velocity, draws, lower_tides
from layers.planning.drift.safe_water import Ended, SafeWater
from layers.water import Currents, Leeway, Wind
from layers.water.currents.currents import same_everywhere
from layers.water.times import SECOND
from seabed.array_types import Floats

BOATS: Final = 256
"""Enough that the chance to stay is good to 2 points of a hundred, one standard deviation."""

MOST_STOPPED: Final = 0.02
"""A line on which a greater share of the fan's boats is stopped is not chosen.  Our choice, no
source."""


def fans(
    printed: Printed,
    *,
    currents: Currents,
    wind: Wind | None,
    leeway: Leeway,
    hand: Hand,
    members: int = BOATS,
    doubt: Doubt | None = None,
    safe: SafeWater | None = None,
    step_s: float = 30.0,
    seed: int = 0,
) -> list[DriftTracks]:
    """Drift many boats from the start of each drift, each in a water and wind of its own.

    Each boat holds the trim that the sheet prints, corrected as `by_hand` says: the skipper doesn't
    know what its water and wind are.

    currents, wind, leeway: as predicted.
    members: boats of each drift; those of all drifts have the same draws.
    safe: what stops boats, under a tide that may be lower than predicted; and the charted depth
        under them.  Without it nothing stops them.
    Returned: `members` tracks of each drift.
    """
    doubt, draw = doubt or Doubt(), draws(members, seed)
    lower = np.tile(lower_tides(doubt, draw), len(printed.lasts_s))
    return by_hand(
        printed, doubtful_velocity(currents, wind, leeway, doubt, draw), hand,
        members=members, step_s=step_s, everywhere=same_everywhere(currents),
        look=None if safe is None else partial(safe.look, lower_m=lower),
    )  # fmt: skip


def boats_stopped(tracks: DriftTracks) -> int:
    """How many boats land, a hazard's clearance or less than the least water stopped."""
    return int(np.isin(tracks.ended, (Ended.SHOAL, Ended.HAZARD)).sum())


def too_many_stopped(tracks: DriftTracks) -> bool:
    """Whether more than one boat in 50 was stopped: such a line is not chosen."""
    return boats_stopped(tracks) > MOST_STOPPED * len(tracks.ended)


def share_in_band(tracks: DriftTracks, band_m: tuple[float, float]) -> float:
    """Share of all boats' time whose depth is in a band; a boat that was stopped is out of it.

    Between two points depth is taken to change evenly.  NaN without boats.
    """
    shares = _shares(tracks, band_m)
    return float(shares.mean()) if shares.size else float("nan")


def chance_of_staying(
    tracks: DriftTracks, band_m: tuple[float, float], *, of_time: float = 0.8
) -> float:
    """Chance that a boat spends a share of its drift in the band; NaN without boats."""
    shares = _shares(tracks, band_m)
    return float((shares >= of_time).mean()) if shares.size else float("nan")


def _shares(tracks: DriftTracks, band_m: tuple[float, float]) -> Floats:
    """Share of each boat's time in the band."""
    depth, steps = tracks.depth_m, np.diff(tracks.times) / SECOND
    shoaler, deeper = np.sort([depth[:, :-1], depth[:, 1:]], axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        within = np.clip(deeper, *band_m) - np.clip(shoaler, *band_m)
        flat = (shoaler >= band_m[0]) & (deeper <= band_m[1])
        share = np.where(deeper > shoaler, within / (deeper - shoaler), flat)
    return np.asarray(np.nan_to_num(share) @ steps / steps.sum(), np.float64)
