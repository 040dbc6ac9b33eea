"""How wrong the tide of each outing was: fitted where outings sounded the same ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from seabed.array_types import Floats, Ints
from seabed.robust import robust_sigma
from seabed.soundings.surface._blocks import BlockDepths

BREAK_S: Final = 3 * 3600.0
"""An outing ends where the sounder was silent for this long, or after this long: then the tide's
error may be another."""

MEMORY_S: Final = 6 * 3600.0
"""Time in which the error of a tide falls to 1/e: half a tide (common practice, no source)."""

LASTING: Final = 0.5
"""Share of its variance that never does: a station that is not the place, a datum that is off."""

MOST_BLOCKS: Final = 300_000
MOST_COUNTED: Final = 30
"""Pairs of neighbours that count as apart in one comparison of two outings."""


@dataclass(frozen=True, slots=True)
class Levels:
    """What the depths of each outing are too deep by."""

    offset: Floats  # metres, of each outing; taken off its depths
    covariance: Floats  # of what is left, shape (outings, outings), square metres
    compared: Ints  # pairs of neighbouring blocks that it rests on


def outings_of(seconds: Floats) -> tuple[Ints, Floats]:
    """Cut soundings into outings, stretches of time in which the tide's error hardly changes.

    The number of each sounding's outing, in the order of time, and the mean time of each outing.
    Those without a time are one outing, the last, whose mean is NaN.
    """
    known = np.isfinite(seconds)
    order = np.argsort(seconds, kind="stable")[: known.sum()]
    times = seconds[order]
    run = np.cumsum(np.diff(times, prepend=times[:1]) > BREAK_S)
    begins = times[np.searchsorted(run, run)] if len(run) else times
    ends = times[np.searchsorted(run, run, side="right") - 1] if len(run) else times
    pieces = np.maximum(1, np.ceil((ends - begins) / BREAK_S))
    length = np.where(ends > begins, (ends - begins) / pieces, 1.0)
    piece = np.minimum(((times - begins) / length).astype(np.int64), pieces.astype(np.int64) - 1)
    _, number = np.unique(run * (int(pieces.max(initial=1)) + 1) + piece, return_inverse=True)
    outing = np.full(len(seconds), number.max() + 1 if len(number) else 0, np.int64)
    outing[order] = number
    middle = np.full(int(outing.max()) + 1 if len(outing) else 0, np.nan)
    if len(number):
        middle[: number.max() + 1] = np.bincount(number, times) / np.bincount(number)
    return outing, middle


def fit_levels(
    blocks: BlockDepths, middle: Floats, *, tide_sigma_m: float, near_m: float
) -> Levels:
    """Fit the offset of each outing to its differences from others on the same ground.

    Least squares with a prior: offsets of 0 within `tide_sigma_m`, half of whose variance all
    outings share, and half those within 6 h.  Of two outings the median difference of neighbouring
    blocks counts, those as near as `near_m`.  `middle` is the mean time of each outing, seconds.
    """
    prior = _prior(middle, tide_sigma_m)
    compared = np.zeros(len(middle), np.int64)
    if len(middle) < 2 or tide_sigma_m <= 0:
        return Levels(np.zeros(len(middle)), prior, compared)
    inverse = np.linalg.inv(prior)
    normal, right = inverse.copy(), np.zeros(len(middle))
    for one, other, difference, variance, pairs in _differences(blocks, near_m):
        weight = 1.0 / variance
        normal[[one, other], [one, other]] += weight
        normal[[one, other], [other, one]] -= weight
        right[one] += weight * difference
        right[other] -= weight * difference
        compared[[one, other]] += pairs
    covariance = np.linalg.inv(normal)
    return Levels(covariance @ right, covariance, compared)


def _prior(middle: Floats, sigma_m: float) -> Floats:
    apart = np.abs(middle[:, None] - middle[None, :])
    fading = np.exp(-np.nan_to_num(apart, nan=np.inf) / MEMORY_S)
    prior = sigma_m**2 * (LASTING + (1 - LASTING) * fading)
    np.fill_diagonal(prior, sigma_m**2 * 1.000001)
    return prior


def _differences(blocks: BlockDepths, near_m: float) -> list[tuple[int, int, float, float, int]]:
    """Outing, other, median difference, its variance and pairs, for all that met."""
    every = max(1, -(-len(blocks) // MOST_BLOCKS))
    some = slice(0, None, every)
    places = blocks.places
    tree = cKDTree(places)
    _, neighbour = tree.query(places[some], k=min(8, len(blocks)), distance_upper_bound=near_m)
    one = np.repeat(np.arange(len(blocks))[some], neighbour.shape[1])
    other = neighbour.ravel()
    real = other < len(blocks)
    one, other = one[real], other[real]
    apart = blocks.outing[one] != blocks.outing[other]
    one, other = one[apart], other[apart]
    turned = blocks.outing[one] > blocks.outing[other]
    one, other = np.where(turned, other, one), np.where(turned, one, other)
    table = pd.DataFrame(
        {
            "one": blocks.outing[one],
            "other": blocks.outing[other],
            "difference": blocks.depth[one] - blocks.depth[other],
            "variance": blocks.sigma[one] ** 2 + blocks.sigma[other] ** 2,
        }
    )
    return [_settled(pair, rows) for pair, rows in table.groupby(["one", "other"])]


def _settled(pair: tuple[int, int], rows: pd.DataFrame) -> tuple[int, int, float, float, int]:
    difference = rows["difference"].to_numpy()
    middle = float(np.median(difference))
    variance = max(robust_sigma(difference) ** 2, float(rows["variance"].median()))
    efficiency = np.pi / 2  # of a median against a mean
    counted = min(len(rows), MOST_COUNTED)
    return int(pair[0]), int(pair[1]), middle, efficiency * variance / counted, len(rows)
