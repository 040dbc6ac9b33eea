"""Soundings drawn together: one robust depth for each cell and outing, then for each cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.compiled import compiled
from seabed.robust import TO_SIGMA

__all__ = ["BlockDepths", "by_cell_and_outing", "combined", "noise_factor"]

DECORRELATION_S: Final = 1.0
"""Soundings nearer in time than this count as one: sounders smooth over about a second (common
practice, no source)."""

LEAST_SIGMA_M: Final = 0.02
OUTLYING: Final = 3.0
MOST_NOISE: Final = 3.0
MOST_INSERTED: Final = 32


@dataclass(frozen=True, slots=True)
class BlockDepths:
    """Depths of blocks of soundings, one a row.

    Attributes
    ----------
    cell : ndarray of int64
        Flat index of the cell, rising.
    outing : ndarray of int64
        Number of the outing; -1 where several were combined.
    x, y : ndarray of float64
        Mean position, metres east and south of the lattice's north-west corner.
    depth : ndarray of float64
        Metres, positive down.
    sigma : ndarray of float64
        One standard deviation of what is random in it, metres.
    common : ndarray of float64
        One standard deviation of what it shares with its neighbours (tide, offset), metres.
    count : ndarray of int64
        Soundings in the block, those left out of its depth among them.
    """

    cell: NDArray[np.int64]
    outing: NDArray[np.int64]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    depth: NDArray[np.float64]
    sigma: NDArray[np.float64]
    common: NDArray[np.float64]
    count: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.cell)


def noise_factor(
    depth: NDArray[np.float64], sigma: NDArray[np.float64], line: NDArray[np.int64]
) -> float:
    """By how much soundings scatter more than their standard deviations say, 1 to 3.

    Told from third differences along each line, which no slope or curve of the bottom moves, by
    their median absolute value, which no spike moves.

    Parameters
    ----------
    depth, sigma : ndarray of float64, shape (n,)
        Metres, in the order they were sounded.
    line : ndarray of int64, shape (n,)
        Number of the unbroken run.

    Returns
    -------
    float
        1 where there are fewer than 20 differences to tell it from.
    """
    if len(depth) < 4:
        return 1.0
    third = depth[3:] - 3 * depth[2:-1] + 3 * depth[1:-2] - depth[:-3]
    spread = np.sqrt(sigma[3:] ** 2 + 9 * sigma[2:-1] ** 2 + 9 * sigma[1:-2] ** 2 + sigma[:-3] ** 2)
    ratio = np.abs(third / spread)[line[3:] == line[:-3]]
    if ratio.size < 20:
        return 1.0
    return float(np.clip(TO_SIGMA * np.median(ratio), 1.0, MOST_NOISE))


def by_cell_and_outing(
    *,
    cell: NDArray[np.int64],
    outing: NDArray[np.int64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    depth: NDArray[np.float64],
    sigma: NDArray[np.float64],
    seconds: NDArray[np.float64],
) -> BlockDepths:
    """Draw the soundings of each cell and outing together.

    Depths more than 3 deviations from the block's median are left out (the deviation being the
    greater of 1.4826 times the median absolute one and the soundings' own); the others are
    averaged, weighed by their variance.  Soundings within 1 s count as one in the deviation of the
    mean, which is told from the soundings' own or, where it is greater, from their scatter.

    Parameters
    ----------
    cell, outing, x, y, depth, sigma : ndarray, shape (n,)
        As in `BlockDepths`, one a sounding.
    seconds : ndarray of float64, shape (n,)
        Time of each, rising, NaN if not known (then every one counts).

    Returns
    -------
    BlockDepths
        In the order of cell, then outing.  `common` is 0.
    """
    outings = int(outing.max()) + 1 if len(outing) else 1
    key = cell * outings + outing
    order = np.argsort(key, kind="stable")  # keeps the order of time
    first = np.flatnonzero(np.diff(key[order], prepend=-1))
    edges = np.append(first, len(order))
    separate = _separate(seconds[order], edges)
    found = key[order[first]]
    values = _averages(order, edges, separate, x, y, depth, sigma)
    return BlockDepths(
        found // outings,
        found % outings,
        values[0],
        values[1],
        values[2],
        values[3],
        np.zeros(len(first)),
        np.diff(edges),
    )


def combined(blocks: BlockDepths, covariance: NDArray[np.float64]) -> BlockDepths:
    """Combine the blocks of each cell, of whichever outing, into one.

    Parameters
    ----------
    blocks : BlockDepths
        In the order of cell.
    covariance : ndarray of float64, shape (outings, outings)
        Of what the outings' depths have in common each, square metres.

    Returns
    -------
    BlockDepths
        Weighed by variance.  Where outings differ by more than they should, the deviation is the
        greater for it (Birge 1932).
    """
    first = np.flatnonzero(np.diff(blocks.cell, prepend=-1))
    edges = np.append(first, len(blocks))
    x, y, depth, sigma, common = _joined(
        edges, blocks.outing, blocks.x, blocks.y, blocks.depth, blocks.sigma, covariance
    )
    lone = np.diff(edges) == 1
    return BlockDepths(
        blocks.cell[first],
        np.where(lone, blocks.outing[first], -1),
        x,
        y,
        depth,
        sigma,
        common,
        np.add.reduceat(blocks.count, first) if len(first) else blocks.count,
    )


@compiled
def _separate(seconds: NDArray[np.float64], edges: NDArray[np.int64]) -> NDArray[np.int64]:
    """Soundings of each block that are apart in time."""
    out = np.zeros(len(edges) - 1, np.int64)
    for block in range(len(edges) - 1):
        last = -np.inf
        for i in range(edges[block], edges[block + 1]):
            if not seconds[i] - last < DECORRELATION_S:
                out[block] += 1
                last = seconds[i]
    return out


@compiled
def _deviation(values: NDArray[np.float64], middle: float) -> float:
    """Median absolute deviation of rising values, by walking inward from both ends."""
    low, high = 0, len(values) - 1
    for _ in range((len(values) - 1) // 2):
        if middle - values[low] > values[high] - middle:
            low += 1
        else:
            high -= 1
    return float(max(middle - values[low], values[high] - middle))


@compiled
def _by_depth(members: NDArray[np.int64], depth: NDArray[np.float64]) -> None:
    """Put members in the order of their depths, those as deep in the order they have."""
    if len(members) > MOST_INSERTED:
        members[:] = members[np.argsort(depth[members], kind="mergesort")]
        return
    for i in range(1, len(members)):
        one, at = members[i], i
        while at > 0 and depth[members[at - 1]] > depth[one]:
            members[at] = members[at - 1]
            at -= 1
        members[at] = one


@compiled
def _averages(  # noqa: PLR0917 (compiled code is called by position)
    order: NDArray[np.int64],
    edges: NDArray[np.int64],
    separate: NDArray[np.int64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    depth: NDArray[np.float64],
    sigma: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Position, depth and deviation of each run of `order` between two `edges`.

    Each run of `order` is put in the order of depth.
    """
    out = np.empty((4, len(edges) - 1))
    for block in range(len(edges) - 1):
        members = order[edges[block] : edges[block + 1]]
        _by_depth(members, depth)
        values = depth[members]
        size = len(members)
        middle = 0.5 * (values[(size - 1) // 2] + values[size // 2])
        own = 0.0
        for i in members:
            own += sigma[i] / size
        limit = OUTLYING * max(TO_SIGMA * _deviation(values, middle), own, LEAST_SIGMA_M)
        total = at_x = at_y = mean = square = 0.0
        kept = 0
        for i in members:
            off = depth[i] - middle
            if abs(off) > limit:
                continue
            weight = 1.0 / max(sigma[i], LEAST_SIGMA_M) ** 2
            total += weight
            at_x += weight * x[i]
            at_y += weight * y[i]
            mean += weight * off
            square += off * off
            kept += 1
        mean /= total
        variance = kept / total
        if kept > 3:
            variance = max(variance, (square - kept * mean * mean) / (kept - 1))
        apart = max(separate[block] * kept / size, 1.0)
        out[0, block] = at_x / total
        out[1, block] = at_y / total
        out[2, block] = middle + mean
        out[3, block] = max(np.sqrt(variance / apart), LEAST_SIGMA_M)
    return out


@compiled
def _joined(  # noqa: PLR0917 (compiled code is called by position)
    edges: NDArray[np.int64],
    outing: NDArray[np.int64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    depth: NDArray[np.float64],
    sigma: NDArray[np.float64],
    covariance: NDArray[np.float64],
) -> NDArray[np.float64]:
    out = np.empty((5, len(edges) - 1))
    for block in range(len(edges) - 1):
        start, stop = edges[block], edges[block + 1]
        weight = np.empty(stop - start)
        for i in range(start, stop):
            weight[i - start] = 1.0 / (sigma[i] ** 2 + covariance[outing[i], outing[i]])
        weight /= weight.sum()
        random = common = at_x = at_y = mean = 0.0
        for i in range(start, stop):
            share = weight[i - start]
            at_x += share * x[i]
            at_y += share * y[i]
            mean += share * depth[i]
            random += (share * sigma[i]) ** 2
            for j in range(start, stop):
                common += share * weight[j - start] * covariance[outing[i], outing[j]]
        if stop - start > 1:
            misfit = 0.0
            for i in range(start, stop):
                own = sigma[i] ** 2 + covariance[outing[i], outing[i]]
                misfit += (depth[i] - mean) ** 2 / own
            random *= max(1.0, misfit / (stop - start - 1))
        out[0, block] = at_x
        out[1, block] = at_y
        out[2, block] = mean
        out[3, block] = np.sqrt(random)
        out[4, block] = np.sqrt(max(common, 0.0))
    return out
