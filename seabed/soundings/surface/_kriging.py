"""Depth between soundings and how sure it is: local kriging, in groups of cells."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.soundings.surface._blocks import BlockDepths
from seabed.soundings.surface.roughness import Roughness, matern

__all__ = ["krige", "misfits", "stand_out"]

ASKED: Final = 48
"""Nearest blocks looked at for each group of cells."""

AN_OCTANT: Final = 3
"""Blocks taken from each eighth of the horizon, so that the line across the gap has its say."""

FURTHER: Final = 1.7
"""The last block of an eighth is this many times as far as its first, or it sees no slope."""

OCTANTS: Final = 8
MOST: Final = AN_OCTANT * OCTANTS
PRIOR_WEIGHT: Final = 12.0
"""Neighbours' worth of trust in the variogram of the whole against the neighbours' own scatter."""

VAGUE: Final = 100.0
GROUPS_AT_ONCE: Final = 20_000
BESIDE: Final = 8
STEPS_A_RANGE: Final = 512
TABLED_RANGES: Final = 64
ROOT_3: Final = 1.7320508075688772


def krige(
    blocks: BlockDepths,
    roughness: Roughness,
    *,
    group_x: Floats,
    group_y: Floats,
    away_x: Floats,
    away_y: Floats,
    workers: int = 2,
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Predict depths at the cells of groups, each from the blocks around the group's middle.

    Kriging with a plane beneath (Chilès & Delfiner 2012, ch. 3) as a Gaussian process whose mean
    and slope have wide priors; each neighbourhood sets the scale of its variance, with the
    variogram of the whole as its prior (Gramacy & Apley 2015).  `group_x` and `group_y` are the
    middles of groups, `away_x` and `away_y` those of cells from them, metres.  Depth, deviation and
    the part of it that neighbours share, shape (groups, cells).
    """
    tree = cKDTree(np.column_stack([blocks.x, blocks.y]))
    table, steps = _tabled(roughness)
    depth = np.empty((len(group_x), len(away_x)), np.float32)
    deviation, common = np.empty_like(depth), np.empty_like(depth)

    def work(part: slice) -> None:
        middle = np.column_stack([group_x[part], group_y[part]])
        near = _near(tree, middle, ASKED)
        _predict(
            near, middle, away_x, away_y, blocks.x, blocks.y, blocks.depth, blocks.sigma,
            blocks.common, roughness.sill, roughness.range_m, table, steps, roughness.nugget,
            roughness.slope**2, depth[part], deviation[part], common[part],
        )  # fmt: skip

    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, _parts(len(group_x))))
    return depth, deviation, common


def misfits(
    blocks: BlockDepths, roughness: Roughness, *, asked: Ints | None = None, workers: int = 2
) -> Floats:
    """How far blocks lie from what their neighbours predict, in deviations, deeper positive.

    All 0 where there are fewer than 5 blocks.
    """
    asked = np.arange(len(blocks)) if asked is None else asked
    out = np.zeros(len(asked))
    if len(blocks) < 5:
        return out
    tree = cKDTree(np.column_stack([blocks.x, blocks.y]))
    table, steps = _tabled(roughness)
    nowhere, nothing = np.zeros(1), np.zeros(len(blocks))

    def work(part: slice) -> None:
        own = asked[part]
        middle = np.column_stack([blocks.x[own], blocks.y[own]])
        near = np.ascontiguousarray(_near(tree, middle, ASKED // 2 + 1)[:, 1:])
        depth = np.empty((len(middle), 1), np.float32)
        deviation = np.empty_like(depth)
        _predict(
            near, middle, nowhere, nowhere, blocks.x, blocks.y, blocks.depth, blocks.sigma,
            nothing, roughness.sill, roughness.range_m, table, steps, roughness.nugget,
            roughness.slope**2, depth, deviation, np.empty_like(depth),
        )  # fmt: skip
        whole = np.sqrt(deviation[:, 0].astype(float) ** 2 + blocks.sigma[own] ** 2)
        out[part] = (blocks.depth[own] - depth[:, 0]) / whole

    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, _parts(len(asked))))
    return out


def stand_out(blocks: BlockDepths, asked: Ints, *, workers: int = 2) -> Mask:
    """Which blocks lie beyond the depths of the 8 nearest, by twice their deviation or more.

    A quick look: all that `misfits` would find strange are among them, but for slopes at the rim of
    the soundings.
    """
    tree = cKDTree(np.column_stack([blocks.x, blocks.y]))
    out = np.zeros(len(asked), bool)

    def work(part: slice) -> None:
        own = asked[part]
        near = _near(tree, np.column_stack([blocks.x[own], blocks.y[own]]), BESIDE + 1)[:, 1:]
        if near.shape[1]:
            beside = blocks.depth[near]
            beyond = np.maximum(
                blocks.depth[own] - beside.max(axis=1), beside.min(axis=1) - blocks.depth[own]
            )
            out[part] = beyond > 2 * blocks.sigma[own]

    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, _parts(len(asked))))
    return out


def _parts(count: int) -> Iterator[slice]:
    for first in range(0, count, GROUPS_AT_ONCE):
        yield slice(first, min(first + GROUPS_AT_ONCE, count))


def _near(tree: cKDTree, middle: Floats, asked: int) -> Ints:
    _, near = tree.query(middle, k=np.arange(1, min(asked, tree.n) + 1))
    return np.ascontiguousarray(near, np.int64)


def _tabled(roughness: Roughness) -> tuple[Floats, float]:
    """Covariance at even steps of distance, up to 64 of the least range, and steps a metre.

    Straight between two of them it is right to 2 millionths of the sill.  All 0 where nothing but
    chance makes depths differ.
    """
    step = float(min(roughness.range_m, default=1.0)) / STEPS_A_RANGE
    away = np.arange(TABLED_RANGES * STEPS_A_RANGE + 1)[:, None] * step
    return (roughness.sill * matern(away / roughness.range_m)).sum(axis=1), 1.0 / step


@compiled
def _covariance(apart: float, table: Floats, steps: float, sill: Floats, range_m: Floats) -> float:
    place = apart * steps
    low = int(place)
    if low + 1 < len(table):
        return float(table[low] + (place - low) * (table[low + 1] - table[low]))
    total = 0.0
    for part in range(len(sill)):
        far = ROOT_3 * apart / range_m[part]
        total += sill[part] * (1.0 + far) * np.exp(-far)
    return total


@compiled
def _chosen(  # noqa: PLR0917 (compiled code is called by position)
    near: Ints, x: Floats, y: Floats, at_x: float, at_y: float, chosen: Ints
) -> int:
    """Nearest few of each octant, into `chosen`; how many.  `near` has the nearest first."""
    held = np.zeros(OCTANTS, np.int64)
    first = np.zeros(OCTANTS)
    count = 0
    for i in near:
        dx, dy = x[i] - at_x, y[i] - at_y
        octant = int(np.floor((np.arctan2(dy, dx) / np.pi + 1.0) * 3.9999999))
        away = dx * dx + dy * dy
        if held[octant] == AN_OCTANT or (
            held[octant] == AN_OCTANT - 1 and away < FURTHER**2 * first[octant]
        ):
            continue
        if held[octant] == 0:
            first[octant] = away
        held[octant] += 1
        chosen[count] = i
        count += 1
    return count


@compiled
def _solved(matrix: Floats, size: int, wide: int) -> None:
    """Turn a covariance, in the upper half of the first rows, to its factor (Cholesky).

    What stands right of it, as columns of right sides, is solved for the factor on the way.
    """
    for k in range(size):
        row = matrix[k]
        pivot = 1.0 / np.sqrt(max(row[k], 1e-12))
        for i in range(k, wide):
            row[i] *= pivot
        for j in range(k + 1, size):
            share, other = row[j], matrix[j]
            for i in range(j, wide):
                other[i] -= share * row[i]


@compiled
def _predict(  # noqa: PLR0917 (compiled code is called by position)
    near: Ints,
    middle: Floats,
    away_x: Floats,
    away_y: Floats,
    x: Floats,
    y: Floats,
    depth: Floats,
    sigma: Floats,
    common: Floats,
    sill: Floats,
    range_m: Floats,
    table: Floats,
    steps: float,
    nugget: float,
    slope_2: float,
    out_depth: NDArray[np.float32],
    out_deviation: NDArray[np.float32],
    out_common: NDArray[np.float32],
) -> None:
    chosen = np.empty(MOST, np.int64)
    matrix = np.empty((MOST, MOST + 2 + len(away_x)))
    dx, dy = np.empty(MOST), np.empty(MOST)
    whole = sill.sum()
    vague = VAGUE * (whole + nugget)
    for group in range(len(middle)):
        at_x, at_y = middle[group, 0], middle[group, 1]
        size = _chosen(near[group], x, y, at_x, at_y, chosen)
        mean = 0.0
        for i in range(size):
            dx[i], dy[i] = x[chosen[i]] - at_x, y[chosen[i]] - at_y
            mean += depth[chosen[i]] / size
        for i in range(size):
            for j in range(i, size):
                apart = np.sqrt((dx[i] - dx[j]) ** 2 + (dy[i] - dy[j]) ** 2)
                plane = vague + slope_2 * (dx[i] * dx[j] + dy[i] * dy[j])
                matrix[i, j] = plane + _covariance(apart, table, steps, sill, range_m)
            matrix[i, i] += sigma[chosen[i]] ** 2 + nugget
            matrix[i, size] = depth[chosen[i]] - mean
            matrix[i, size + 1] = common[chosen[i]]
            for cell in range(len(away_x)):
                cx, cy = away_x[cell], away_y[cell]
                apart = np.sqrt((dx[i] - cx) ** 2 + (dy[i] - cy) ** 2)
                plane = vague + slope_2 * (dx[i] * cx + dy[i] * cy)
                covariance = _covariance(apart, table, steps, sill, range_m)
                matrix[i, size + 2 + cell] = plane + covariance
        _solved(matrix, size, size + 2 + len(away_x))
        misfit = 0.0
        for i in range(size):
            misfit += matrix[i, size] ** 2
        scale = (PRIOR_WEIGHT + misfit) / (PRIOR_WEIGHT + max(size - 3, 0))
        for cell in range(len(away_x)):
            cx, cy = away_x[cell], away_y[cell]
            value, shared = mean, 0.0
            variance = vague + slope_2 * (cx * cx + cy * cy) + whole + nugget
            for i in range(size):
                right = matrix[i, size + 2 + cell]
                value += right * matrix[i, size]
                shared += right * matrix[i, size + 1]
                variance -= right**2
            out_depth[group, cell] = value
            out_deviation[group, cell] = np.sqrt(max(scale * variance, 0.0) + shared**2)
            out_common[group, cell] = abs(shared)
