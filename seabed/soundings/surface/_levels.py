"""How wrong the tide of each outing was: fitted where outings sounded the same ground."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
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
AT_ONCE: Final = 50_000
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
    count = int(known.sum())
    order: Ints | slice = slice(count)
    if not (known[:count].all() and (np.diff(seconds[:count]) >= 0).all()):  # not as in most logs
        order = np.argsort(seconds, kind="stable")[:count]
    times = seconds[order]
    number = _pieces(times)
    last = int(number[-1]) + 1 if count else 0
    outing = np.full(len(seconds), last, np.int64)
    outing[order] = number
    middle = np.full(last + (count < len(seconds)), np.nan)
    middle[:last] = np.bincount(number, times) / np.bincount(number)
    return outing, middle


def _pieces(times: Floats) -> Ints:
    """Cut rising times at breaks and where they last too long; give each one's piece."""
    jump = np.diff(times, prepend=-np.inf) > BREAK_S
    first = np.flatnonzero(jump)
    begins, ends = times[first], times[np.append(first, len(times))[1:] - 1]
    pieces = np.maximum(1, np.ceil((ends - begins) / BREAK_S))
    length = np.where(ends > begins, (ends - begins) / pieces, 1.0)
    run = np.cumsum(jump) - 1
    along = times - begins[run]
    along /= length[run]
    piece = np.minimum(along.astype(np.int64), (pieces.astype(np.int64) - 1)[run])
    del along, run
    jump[1:] |= np.diff(piece) != 0
    return np.cumsum(jump) - 1


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
    some = np.arange(0, len(blocks), every)
    places = blocks.places
    tree = cKDTree(places)
    met = [
        _met(blocks, tree, places, some[first : first + AT_ONCE], near_m)
        for first in range(0, len(some), AT_ONCE)
    ]
    one, other = np.concatenate(met, axis=1) if met else np.empty((2, 0), np.int64)
    outings = int(blocks.outing.max(initial=0)) + 1
    pair = blocks.outing[one] * outings + blocks.outing[other]
    order = np.argsort(pair, kind="stable")
    edges = np.append(np.flatnonzero(np.diff(pair[order], prepend=-1)), len(order))
    return [
        (*divmod(int(pair[rows[0]]), outings), *_settled(blocks, one[rows], other[rows]))
        for rows in (order[begin:end] for begin, end in pairwise(edges.tolist()))
    ]


def _met(blocks: BlockDepths, tree: cKDTree, places: Floats, some: Ints, near_m: float) -> Ints:
    """Blocks and their neighbours of other outings, the lower outing first, shape (2, n)."""
    _, neighbour = tree.query(places[some], k=min(8, len(blocks)), distance_upper_bound=near_m)
    one, other = np.repeat(some, neighbour.shape[1]), neighbour.ravel()
    real = other < len(blocks)
    one, other = one[real], other[real]
    apart = blocks.outing[one] != blocks.outing[other]
    one, other = one[apart], other[apart]
    turned = blocks.outing[one] > blocks.outing[other]
    return np.stack([np.where(turned, other, one), np.where(turned, one, other)])


def _settled(blocks: BlockDepths, one: Ints, other: Ints) -> tuple[float, float, int]:
    difference = blocks.depth[one] - blocks.depth[other]
    middle = float(np.median(difference))
    usual = float(np.median(blocks.sigma[one] ** 2 + blocks.sigma[other] ** 2))
    variance = max(robust_sigma(difference) ** 2, usual)
    efficiency = np.pi / 2  # of a median against a mean
    counted = min(len(one), MOST_COUNTED)
    return middle, efficiency * variance / counted, len(one)
