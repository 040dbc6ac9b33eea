"""Several devices that recorded at once, as one track."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.tracks.motion import seconds_of
from layers.tracks.settings import CutSettings
from seabed.array_types import Floats, Mask, Pair

_READING_S: Final = 5.0  # a depth of another device counts for a fix this near in time


def doubled_fixes(time_s: Floats, device: NDArray[np.integer[Any]], settings: CutSettings) -> Mask:
    """Find fixes of a device from times at which another one already recorded; times rise.

    The device that recorded longest leads, of equals the first; the next fills the times in which
    it had no fix for longer than ``longest_gap``, and so on.
    """
    doubled = np.zeros(len(time_s), bool)
    changes = int((np.diff(device) != 0).sum())
    devices = np.unique(device)
    if changes == len(devices) - 1:
        return doubled
    spans = {int(d): _recorded(time_s[device == d], settings.longest_gap_s) for d in devices}
    starts, ends = np.empty(0), np.empty(0)
    for d in sorted(spans, key=lambda d: -float((spans[d][:, 1] - spans[d][:, 0]).sum())):
        rows = np.flatnonzero(device == d)
        inside = np.searchsorted(starts, time_s[rows], side="right") - 1
        within = (
            (inside >= 0) & (time_s[rows] <= ends[np.maximum(inside, 0)])
            if len(ends)
            else (np.zeros(len(rows), bool))
        )
        doubled[rows[within]] = True
        starts, ends = _union(np.vstack([np.column_stack([starts, ends]), spans[d]]))
    return doubled


def with_readings_of(kept: pd.DataFrame, others: pd.DataFrame) -> pd.DataFrame:
    """Give fixes without a depth or temperature the nearest within 5 s of another device."""
    filled = kept.copy()
    at = seconds_of(kept["time"])
    for name in ("depth_m", "temperature_c"):
        known = others[others[name].notna()]
        blank = np.flatnonzero(filled[name].isna().to_numpy())
        if not len(known) or not len(blank):
            continue
        when = seconds_of(known["time"])
        after = np.clip(np.searchsorted(when, at[blank]), 1, max(1, len(when) - 1))
        before = after - 1
        after = np.minimum(after, len(when) - 1)
        nearer = np.where(at[blank] - when[before] <= when[after] - at[blank], before, after)
        near = np.abs(when[nearer] - at[blank]) <= _READING_S
        values = filled[name].to_numpy(np.float64).copy()
        values[blank[near]] = known[name].to_numpy(np.float64)[nearer[near]]
        filled[name] = values
    return filled


def _recorded(time_s: Floats, longest_gap_s: float) -> Floats:
    """Spans without a gap, shape (k, 2)."""
    broken = np.flatnonzero(np.diff(time_s) > longest_gap_s)
    first = np.concatenate([[0], broken + 1])
    last = np.concatenate([broken, [len(time_s) - 1]])
    return np.column_stack([time_s[first], time_s[last]])


def _union(spans: Floats) -> Pair:
    """Join spans that touch; give starts and ends, rising."""
    spans = spans[np.argsort(spans[:, 0])]
    reach = np.maximum.accumulate(spans[:, 1])
    fresh = np.concatenate([[True], spans[1:, 0] > reach[:-1]])
    return spans[fresh, 0], reach[np.append(np.flatnonzero(fresh)[1:] - 1, len(spans) - 1)]
