"""How late a drift can still be started from its mark."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from layers.planning.candidates import cells_under, worth_gathered
from layers.planning.drift import Ended
from layers.planning.setting import Setting
from layers.water.times import moment

__all__ = ["STILL_GOOD", "latest_start"]

STILL_GOOD: Final = 0.7
"""A drift still works while it gathers this share of what was planned.  Our choice, no source."""

STEP_MINUTES: Final = 10
LONGEST_HOURS: Final = 3
COARSE_S: Final = 60.0


def latest_start(setting: Setting, worth: xr.DataArray, row: dict[str, Any]) -> pd.Timestamp:
    """Find the last of every ten minutes at which a line still works from its mark.

    Parameters
    ----------
    setting : Setting
    worth : DataArray
        Of its slot.
    row : dict
        ``slot_start``, ``drift_s``, ``geometry``.

    Returns
    -------
    Timestamp
        UTC, at the most three hours after the line's own start.
    """
    minutes = np.arange(0, LONGEST_HOURS * 60 + 1, STEP_MINUTES)
    begins = moment(row["slot_start"]) + minutes.astype("timedelta64[m]")
    longitude, latitude = row["geometry"].coords[0][:2]
    tracks = setting.drifts(
        np.full(len(minutes), longitude), np.full(len(minutes), latitude), begins, row["drift_s"],
        step_s=COARSE_S, depths=False,
    )  # fmt: skip
    gathered = worth_gathered(worth, cells_under(worth, tracks), tracks)[:, -1]
    works: NDArray[np.bool_] = (gathered >= STILL_GOOD * gathered[0]) & (tracks.ended == Ended.TIME)
    works[0] = True  # as planned
    last = int(np.argmin(works)) if not works.all() else len(works)
    return row["slot_start"] + pd.Timedelta(minutes=int(minutes[last - 1]))
