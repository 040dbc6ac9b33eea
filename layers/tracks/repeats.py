"""Files that hold the same way at another hour: two devices, of which one has a wrong clock."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from layers.tracks.motion import seconds_of
from seabed.array_types import Floats
from seabed.geodesy import local_metres

_STEP_S: Final = 900.0
"""Zones differ by quarters of an hour."""
_MOST_S: Final = 14 * 3600.0
_SHORTEST_S: Final = 1200.0  # that the two ways must have in common
_SAME_M: Final = 40.0  # between two devices of one boat, half of the time at the least
_MOVED_M: Final = 300.0  # a boat that stays in one place repeats itself by chance
_LOOKED_AT: Final = 240  # moments of a way


def repeated_ways(fixes: pd.DataFrame) -> list[str]:
    """Say which files hold one way at two times, quarters of an hour apart.

    fixes: as `layers.tracks.read_fixes` gives, before cleaning.
    """
    usable = fixes[fixes[["time", "longitude", "latitude"]].notna().all(axis=1)]
    x, y = local_metres(usable["longitude"].to_numpy(), usable["latitude"].to_numpy())
    table = np.column_stack([seconds_of(usable["time"]), x, y])
    files = usable["file"].cat
    ways = [
        (Path(str(name)).name, table[files.codes == code])
        for code, name in enumerate(files.categories)
    ]
    return list(_notes([(name, way[np.argsort(way[:, 0])]) for name, way in ways if len(way) > 1]))


def _notes(ways: list[tuple[str, Floats]]) -> Iterator[str]:
    for (first, one), (second, other) in combinations(ways, 2):
        later_s = _shift_s(one, other)
        if later_s:
            early, late = (first, second) if later_s > 0 else (second, first)
            yield (
                f"{late} goes the way of {early} again, {abs(later_s) / 3600:g} h later: one of "
                "the two clocks is wrong, and the drifts count twice. Leave out the wrong file, "
                "or take it alone and correct its clock: {track_clock}."
            )


def _shift_s(one: Floats, other: Floats) -> float:
    """Seconds by which the other way is later; 0 if it is another, or at the same time."""
    few = other[:: max(1, len(other) // _LOOKED_AT)]
    shifts = np.arange(-_MOST_S, _MOST_S + 1.0, _STEP_S)
    best, least = 0.0, _SAME_M
    for shift_s in shifts.tolist():
        at = few[:, 0] - shift_s
        within = (at >= one[0, 0]) & (at <= one[-1, 0])
        common = few[within]
        if len(common) < 2 or common[-1, 0] - common[0, 0] < _SHORTEST_S:
            continue
        if float(np.ptp(common[:, 1:], axis=0).max()) < _MOVED_M:
            continue
        apart = [common[:, k] - np.interp(at[within], one[:, 0], one[:, k]) for k in (1, 2)]
        median = float(np.median(np.hypot(*apart)))
        if median < least:
            best, least = shift_s, median
    return best
