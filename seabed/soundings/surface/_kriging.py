"""Depth between soundings and how sure it is: local kriging, in groups of cells."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.soundings.surface._blocks import BlockDepths
from seabed.soundings.surface._roughness import Roughness, matern

NEAREST: Final = slice(0, 48)
"""Blocks considered for each group of cells, by their rank from the nearest."""

NEIGHBOURS: Final = slice(1, 25)
BESIDE: Final = slice(1, 9)
"""Those around a block, which is the nearest to its own place."""

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
STEPS_A_RANGE: Final = 512
TABLED_RANGES: Final = 64
ROOT_3: Final = 1.7320508075688772


def krige(
    blocks: BlockDepths,
    roughness: Roughness,
    *,
    middle: Floats,
    away: Floats,
    nearest: slice = NEAREST,
    workers: int = 2,
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Predict depths at the cells of groups, each from the blocks around the group's middle.

    Kriging with a plane beneath (Chilès & Delfiner 2012, ch. 3) as a Gaussian process whose mean
    and slope have wide priors; each neighbourhood sets the scale of its variance, with the
    variogram of the whole as its prior (Gramacy & Apley 2015).  `middle` is that of each group and
    `away` each cell's place from it, metres east and south.  Depth, deviation and the part of it
    that neighbours share, shape (groups, cells).
    """
    tree = cKDTree(blocks.places)
    table, steps = _tabled(roughness)
    depth = np.empty((len(middle), len(away)), np.float32)
    deviation, common = np.empty_like(depth), np.empty_like(depth)
    away_x, away_y = np.ascontiguousarray(away.T)

    def work(first: int) -> None:
        part = slice(first, first + GROUPS_AT_ONCE)
        _predict(
            _near(tree, middle[part], nearest), middle[part], away_x, away_y, blocks.x, blocks.y,
            blocks.depth, blocks.sigma, blocks.common, roughness.sill, roughness.range_m, table,
            steps, roughness.nugget, roughness.slope**2, depth[part], deviation[part], common[part],
        )  # fmt: skip

    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, range(0, len(middle), GROUPS_AT_ONCE)))
    return depth, deviation, common


def misfits(blocks: BlockDepths, roughness: Roughness, rows: Ints, *, workers: int = 2) -> Floats:
    """How far blocks are from what their neighbours predict, in deviations, deeper positive.

    All 0 where there are fewer than 5 blocks.
    """
    if len(blocks) < 5:
        return np.zeros(len(rows))
    alone = replace(blocks, common=np.zeros(len(blocks)))
    depth, deviation, _ = krige(
        alone, roughness, middle=blocks.places[rows], away=np.zeros((1, 2)), nearest=NEIGHBOURS,
        workers=workers,
    )  # fmt: skip
    sigma = np.sqrt(deviation[:, 0].astype(float) ** 2 + blocks.sigma[rows] ** 2)
    return np.asarray((blocks.depth[rows] - depth[:, 0]) / sigma)


def stand_out(blocks: BlockDepths, rows: Ints) -> Mask:
    """Which blocks are beyond the depths of the 8 nearest, by twice their deviation or more.

    A quick look: all that `misfits` would find strange are among them, but for slopes at the rim of
    the soundings.
    """
    near = _near(cKDTree(blocks.places), blocks.places[rows], BESIDE)
    if not near.shape[1]:
        return np.zeros(len(rows), bool)
    depth, beside = blocks.depth[rows], blocks.depth[near]
    beyond = np.maximum(depth - beside.max(axis=1), beside.min(axis=1) - depth)
    return np.asarray(beyond > 2 * blocks.sigma[rows])


def _near(tree: cKDTree, middle: Floats, nearest: slice) -> Ints:
    """Blocks of so many places from the nearest."""
    ranks = np.arange(1, tree.n + 1)[nearest]
    if not len(ranks):
        return np.empty((len(middle), 0), np.int64)
    return np.ascontiguousarray(tree.query(middle, k=ranks)[1], np.int64)


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
    in_octant = np.zeros(OCTANTS, np.int64)
    first = np.zeros(OCTANTS)
    count = 0
    for i in near:
        dx, dy = x[i] - at_x, y[i] - at_y
        octant = int(np.floor((np.arctan2(dy, dx) / np.pi + 1.0) * 3.9999999))
        away = dx * dx + dy * dy
        if in_octant[octant] == AN_OCTANT or (
            in_octant[octant] == AN_OCTANT - 1 and away < FURTHER**2 * first[octant]
        ):
            continue
        if in_octant[octant] == 0:
            first[octant] = away
        in_octant[octant] += 1
        chosen[count] = i
        count += 1
    return count


@compiled
def _solved(matrix: Floats, size: int, wide: int) -> None:
    """Turn a covariance, in the upper half of the first rows, to its factor (Cholesky).

    Columns to its right are right sides, solved for the factor on the way.
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
