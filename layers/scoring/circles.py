"""Where on the ground more fish came than the effort explains: `layers.scoring.scan` in circles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.spatial import cKDTree

from layers.scoring.scan import (
    LEVEL,
    MOST_SHARE,
    REPLICATES,
    by_effort,
    chance_of,
    least_as_hot,
    ratios,
    shares,
)
from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled


@dataclass(frozen=True, slots=True)
class Patch:
    """The hottest circle: row of its middle cell, radius in metres, and as `Stretch`."""

    centre: int
    radius_m: float
    fish: float
    expected: float
    ratio: float
    p: float


def scan_ground(
    xy_m: Any,
    hours: Any,
    fish: Any,
    radii_m: Any,
    *,
    most_share: float = MOST_SHARE,
    replicates: int = REPLICATES,
    seed: int = 0,
) -> Patch | None:
    """Find the hottest circle about any of the cells with effort, as `scan_stretch` does a stretch.

    xy_m, shape (n, 2): middles of the cells.
    """
    share, count = shares(hours, fish)
    total = float(count.sum())
    if total < 2:
        return None
    windows, centres, radii = _circles(np.asarray(xy_m, float), np.asarray(radii_m, float))
    inside = windows @ share
    allowed = inside <= most_share
    windows, inside = windows[allowed], inside[allowed]
    centres, radii = centres[allowed], radii[allowed]
    if not len(inside):
        return None
    own = windows @ count
    ratio = ratios(own, inside, total)
    best = int(np.argmax(ratio))
    if ratio[best] <= 0:
        return None

    least = least_as_hot(float(ratio[best]) - LEVEL, inside, total)

    def as_hot(strewn: Floats) -> Mask:
        columns = np.ascontiguousarray(strewn.T, np.int32)
        return np.asarray(_any_reaches(windows.indptr, windows.indices, least, columns))

    return Patch(
        int(centres[best]),
        float(radii[best]),
        float(own[best]),
        float(total * inside[best]),
        float(ratio[best]),
        chance_of(as_hot, by_effort(total, share), replicates=replicates, seed=seed),
    )


def _circles(xy: Floats, radii: Floats) -> tuple[csr_array, Ints, Floats]:
    """Every circle as a row of 0 and 1 over the cells; its middle cell; its radius."""
    count = len(xy)
    pairs = cKDTree(xy).query_pairs(radii.max(initial=0.0), output_type="ndarray")
    apart = np.hypot(*(xy[pairs[:, 0]] - xy[pairs[:, 1]]).T)
    itself = np.arange(count)
    rows, columns = [], []
    for k, radius in enumerate(radii):
        one, other = pairs[apart <= radius].T
        rows.append(k * count + np.concatenate([itself, one, other]))
        columns.append(np.concatenate([itself, other, one]))
    at = np.concatenate(rows or [itself]), np.concatenate(columns or [itself])
    windows = csr_array((np.ones(len(at[0])), at), shape=(len(radii) * count, count))
    return windows, np.tile(itself, len(radii)), np.repeat(radii, count)


@compiled
def _any_reaches(start: Ints, cells: Ints, least: Floats, strewn: NDArray[np.int32]) -> Mask:
    """Say of each column of counts whether any window's cells together have its least count."""
    reached = np.zeros(strewn.shape[1], np.bool_)
    caught = np.empty(strewn.shape[1], np.int32)
    for window in range(len(least)):
        caught[:] = 0
        for place in range(start[window], start[window + 1]):
            count = strewn[cells[place]]
            for column in range(len(caught)):
                caught[column] += count[column]
        for column in range(len(caught)):
            reached[column] |= caught[column] >= least[window]
    return reached
