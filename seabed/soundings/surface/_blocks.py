"""Soundings drawn together: one robust depth for each cell and outing, then for each cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled
from seabed.robust import TO_SIGMA

DECORRELATION_S: Final = 1.0
"""Soundings nearer in time than this count as one: sounders smooth over about a second (common
practice, no source)."""

LEAST_SIGMA_M: Final = 0.02
OUTLYING: Final = 3.0
MOST_NOISE: Final = 3.0
MOST_INSERTED: Final = 32


@dataclass(frozen=True, slots=True)
class BlockDepths:
    """Depths of blocks of soundings, one a row."""

    cell: Ints  # flat index of the cell, rising
    outing: Ints  # its number; -1 where several were combined
    x: Floats  # mean position, metres east and south of the lattice's north-west corner
    y: Floats
    depth: Floats  # metres
    sigma: Floats  # one standard deviation of what is random in it, metres
    common: Floats  # that of what it shares with its neighbours: tide, offset
    count: Ints  # soundings in the block, those left out of its depth among them

    def __len__(self) -> int:
        return len(self.cell)

    @property
    def places(self) -> Floats:
        """Mean positions, shape (n, 2)."""
        return np.column_stack([self.x, self.y])


def noise_factor(depth: Floats, sigma: Floats, line: Ints) -> float:
    """By how much soundings scatter more than their deviations, 1 to 3; 1 with too few.

    From third differences along lines, which no slope or curve of the bottom moves, by their median
    absolute value, which no spike moves.
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
    *, cell: Ints, outing: Ints, x: Floats, y: Floats, depth: Floats, sigma: Floats, seconds: Floats
) -> BlockDepths:
    """Draw the soundings of each cell and outing together, in the order of cell, then outing.

    Soundings come in the order of time.  Depths more than 3 deviations from the block's median are
    left out (the deviation is the greater of 1.4826 times the median absolute one and the
    soundings' own); the others are averaged, weighed by their variance.  Soundings within 1 s count
    as one in the deviation of the mean, which comes from the soundings' own or, where it is
    greater, from their scatter.  A sounding without a time counts by itself.
    """
    outings = int(outing.max()) + 1 if len(outing) else 1
    key = cell * outings
    key += outing
    order = np.argsort(key, kind="stable")  # keeps the order of time
    first = _firsts(key, order)
    edges = np.append(first, len(order))
    separate = _separate(seconds, order, edges)
    number = key[order[first]]
    del key
    x, y, depth, sigma = _averages(order, edges, separate, x, y, depth, sigma)
    none = np.zeros(len(first))
    return BlockDepths(
        number // outings, number % outings, x, y, depth, sigma, none, np.diff(edges)
    )


def combined(blocks: BlockDepths, covariance: Floats) -> BlockDepths:
    """Combine the blocks of each cell, of whichever outing, weighed by variance.

    `covariance` is that of the outings' common errors, shape (outings, outings), square metres.
    Where outings differ by more than they should, the deviation is the greater for it (Birge 1932).
    """
    first = np.flatnonzero(np.diff(blocks.cell, prepend=-1))
    edges = np.append(first, len(blocks))
    x, y, depth, sigma, common = _joined(
        edges, blocks.outing, blocks.x, blocks.y, blocks.depth, blocks.sigma, covariance
    )
    outing = np.where(np.diff(edges) == 1, blocks.outing[first], -1)
    count = np.add.reduceat(blocks.count, first) if len(first) else blocks.count
    return BlockDepths(blocks.cell[first], outing, x, y, depth, sigma, common, count)


@compiled
def _firsts(key: Ints, order: Ints) -> Ints:
    """Places in `order` where another key begins."""
    count = 0
    for i in range(len(order)):
        count += i == 0 or key[order[i]] != key[order[i - 1]]
    out = np.empty(count, np.int64)
    count = 0
    for i in range(len(order)):
        if i == 0 or key[order[i]] != key[order[i - 1]]:
            out[count] = i
            count += 1
    return out


@compiled
def _separate(seconds: Floats, order: Ints, edges: Ints) -> Ints:
    """Soundings of each block, a run of `order` between two `edges`, that are apart in time."""
    out = np.zeros(len(edges) - 1, np.int64)
    for block in range(len(edges) - 1):
        last = -np.inf
        for i in range(edges[block], edges[block + 1]):
            moment = seconds[order[i]]
            if not moment - last < DECORRELATION_S:
                out[block] += 1
                last = moment
    return out


@compiled
def _deviation(values: Floats, middle: float) -> float:
    """Median absolute deviation of rising values, by walking inward from both ends."""
    low, high = 0, len(values) - 1
    for _ in range((len(values) - 1) // 2):
        if middle - values[low] > values[high] - middle:
            low += 1
        else:
            high -= 1
    return float(max(middle - values[low], values[high] - middle))


@compiled
def _by_depth(members: Ints, depth: Floats) -> None:
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
    order: Ints, edges: Ints, separate: Ints, x: Floats, y: Floats, depth: Floats, sigma: Floats
) -> Floats:
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
    edges: Ints,
    outing: Ints,
    x: Floats,
    y: Floats,
    depth: Floats,
    sigma: Floats,
    covariance: Floats,
) -> Floats:
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
