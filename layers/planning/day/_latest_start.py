"""How late a pass can still be begun from the mark of a line."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.planning.day._passes import STILL_GOOD, Course, Pass, bearings_of
from layers.planning.drift._candidates import worth_rates
from layers.planning.drift._drift import Ended

STEP_MINUTES: Final = 10
LONGEST_HOURS: Final = 3
COARSE_S: Final = 60.0


def latest_start(last: Pass, course: Course, up_by: np.datetime64) -> pd.Timestamp:
    """Find the last of every ten minutes (UTC) at which a pass can still be made from its mark.

    From the begin of the line's last pass to three hours later, all in the same tide and within the
    hours that are open, as `follow_pass` asks; the pass is over by `up_by`, UTC.
    """
    wanted, over = last.wanted, last.setting
    minutes = np.arange(0, LONGEST_HOURS * 60 + 1, STEP_MINUTES)
    begins = last.begin + minutes.astype("timedelta64[m]")
    longitude, latitude = last.points[0]
    lasts = np.timedelta64(round(wanted.drift_s * 1e9), "ns")
    tracks = over.drifts(
        np.full(len(minutes), longitude), np.full(len(minutes), latitude), begins, wanted.drift_s,
        step_s=COARSE_S, depths=False,
    )  # fmt: skip
    ground = wanted.slot.worth
    worth = worth_rates(ground, tracks, over.limits)[:, -1]
    works: NDArray[np.bool_] = (
        (tracks.ended == Ended.TIME)
        & (worth >= STILL_GOOD * wanted.planned_worth)
        & course.holds(bearings_of(tracks), begins, wanted.drift_s)
        & (begins + lasts <= up_by)
    )
    works[0] = True  # as planned
    good = int(np.argmin(works)) if not works.all() else len(works)
    return pd.Timestamp(begins[good - 1], tz="UTC")
