"""The ground without noise: smoothed as far as the noise asks, sharp where it is clear.

A Gaussian twiced (Tukey 1977; Stuetzle & Mittal 1979) keeps humps some cells wide; what it loses of
smaller ones is put back where a narrow mean of the rest is beyond chance.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Depths, Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.structure.calm.noise import NoiseField

WIDEST: Final = 3.0
"""Cells: a wider Gaussian would lose humps that are worth a look."""
NARROWEST: Final = 0.8
_WORTH: Final = 0.2
"""A narrower width is not worth it: the noise is a fiftieth of the least height."""
_CLEAR: Final = 1.0
"""Deviations beyond the wanted significance for what is put back: so many cells are looked at."""
_ALONE: Final = 6.0
"""Deviations by which one cell alone is put back."""
_LEAST_WEIGHT: Final = 0.35
_NARROW: Final = np.array([-0.0625, 0.25, 0.625, 0.25, -0.0625], np.float32)
"""A binomial mean of three, twiced."""
_THREADS: Final = 2


@dataclass(frozen=True, slots=True)
class Calm:
    """How noise is taken off depths.

    width: standard deviation of the Gaussian, cells; 0 leaves depths as they are.
    """

    sigma_m: float
    significance: float
    width: float

    @classmethod
    def of(cls, sigma_m: float, significance: float, least_m: float) -> Calm:
        """Choose a width by the noise, for features of a least height.

        What is left of the noise is then about a twentieth of that height.
        """
        width = 2 * significance * sigma_m / least_m
        return cls(
            sigma_m, significance, 0.0 if width < _WORTH else min(max(width, NARROWEST), WIDEST)
        )

    @property
    def kernel(self) -> Depths:
        """The twiced Gaussian along one axis."""
        half = math.ceil(3 * self.width)
        once = np.exp(-0.5 * (np.arange(-half, half + 1) / self.width) ** 2)
        once /= once.sum()
        twice = -np.convolve(once, once)
        twice[half:-half] += 2 * once
        return twice.astype(np.float32)

    @property
    def reach(self) -> int:
        """Cells needed to each side, also for what single cells have lost."""
        return len(self.kernel) // 2 + 2 * (len(_NARROW) // 2) + 1 if self.width else 0

    @property
    def left_m(self) -> float:
        """Standard deviation of the noise that is left."""
        return self.sigma_m * float((self.kernel**2).sum()) if self.width else self.sigma_m

    def applied(self, depth: Depths) -> Depths:
        """Take the noise off.

        Cells whose Gaussian is within the block, or is cut off by the border of the grid, are
        those of the whole to the last bit.
        """
        if not self.width:
            return depth
        void = np.isnan(depth)
        voided = void.any(axis=1)
        values = np.where(void, np.float32(0), depth) if voided.any() else depth
        smooth = np.empty_like(depth)
        _in_bands(_smooth, values, void, voided, self.kernel, smooth)
        np.copyto(smooth, depth, where=np.isnan(smooth))  # void, or too little known about it
        rest = np.where(void, np.float32(0), depth - smooth) if voided.any() else depth - smooth
        narrow = float((_NARROW**2).sum()) * self.sigma_m
        out = np.empty_like(depth)
        limits = (self.significance + _CLEAR) * narrow, _ALONE * self.sigma_m
        _in_bands(_put_back, depth, smooth, rest, _NARROW, *map(np.float32, limits), out)
        return out


@dataclass(frozen=True, slots=True)
class Calms:
    """How noise that differs over a grid is taken off, for features of a least height: by zones."""

    noise: NoiseField
    significance: float
    least_m: float

    def of(self, sigma_m: float) -> Calm:
        """Give how a zone of some noise is smoothed."""
        return Calm.of(sigma_m, self.significance, self.least_m)

    @property
    def every(self) -> dict[float, Calm]:
        """Each zone's, by its noise."""
        return {sigma_m: self.of(sigma_m) for sigma_m in self.noise.levels}

    @property
    def reach(self) -> int:
        """Cells needed to each side."""
        return max(one.reach for one in self.every.values())

    def clear_m(self, row: NDArray[Any], column: NDArray[Any], lowered: float) -> Floats:
        """Give the least height at cells: that looked for, and clear of the noise that is left.

        Where depths are smoothed, so much of the height looked for is enough.
        """
        heights = np.array([
            max(self.least_m * (lowered if one.width else 1.0), self.significance * one.left_m)
            for one in self.every.values()
        ])  # fmt: skip
        return heights[np.searchsorted(self.noise.levels, self.noise.at(row, column))]

    def left_m(self, row: NDArray[Any], column: NDArray[Any]) -> Floats:
        """Give the standard deviation of the noise that is left at cells."""
        left = np.array([one.left_m for one in self.every.values()])
        return left[np.searchsorted(self.noise.levels, self.noise.at(row, column))]

    def applied(self, depth: Depths, row: int, column: int) -> Depths:
        """Take the noise off a block whose first cell is given; as `Calm.applied`."""
        zones = list(self.noise.zones(row, column, depth.shape))
        if len(zones) == 1:
            return self.of(zones[0][2]).applied(depth)
        out = np.empty_like(depth)
        for rows, columns, sigma_m in zones:
            calm = self.of(sigma_m)
            top, left = max(rows.start - calm.reach, 0), max(columns.start - calm.reach, 0)
            part = depth[top : rows.stop + calm.reach, left : columns.stop + calm.reach]
            field = calm.applied(np.ascontiguousarray(part))
            out[rows, columns] = field[
                rows.start - top : rows.stop - top, columns.start - left : columns.stop - left
            ]
        return out


def lost_at(depth: Depths, calm: Depths, row: Ints, column: Ints) -> Depths:
    """Give what cells of the calm ground have lost: a narrow mean of the rest about them."""
    total = np.zeros(len(row), np.float32)
    if depth is calm:
        return total
    half = len(_NARROW) // 2
    for down, weight in enumerate(_NARROW, -half):
        for across, share in enumerate(_NARROW, -half):
            r, c = row + down, column + across
            inside = (r >= 0) & (r < depth.shape[0]) & (c >= 0) & (c < depth.shape[1])
            r, c = np.where(inside, r, row), np.where(inside, c, column)
            total += weight * share * np.nan_to_num(depth[r, c] - calm[r, c])
    return total


def _in_bands(work: Callable[..., None], first: Depths, *others: object) -> None:
    """Work on bands of rows at once."""
    if len(first) < 64 * _THREADS:
        work(0, len(first), first, *others)
        return
    ends = np.linspace(0, len(first), _THREADS + 1).astype(int).tolist()
    with ThreadPoolExecutor(_THREADS) as pool:
        for one in [pool.submit(work, a, b, first, *others) for a, b in pairwise(ends)]:
            one.result()


@compiled
def _smooth(  # noqa: PLR0917  (compiled functions take no keywords)
    first: int,
    last: int,
    values: Depths,
    void: Mask,
    voided: Mask,
    kernel: Depths,
    out: Depths,
) -> None:
    """Weighted mean of known cells; NaN where they have too little of the weight."""
    rows, columns = values.shape
    half = len(kernel) // 2
    down, empty = np.empty(columns, np.float32), np.empty(columns, np.float32)
    gone = np.empty(columns, np.float32)
    across = np.zeros(columns, np.float32)
    for j in range(len(kernel)):
        for c in range(max(half - j, 0), min(columns + half - j, columns)):
            across[c] += kernel[j]
    for row in range(first, last):
        down[:] = 0
        empty[:] = 0
        weight, some = np.float32(0), False
        for j in range(len(kernel)):
            r = row + j - half
            if not 0 <= r < rows:
                continue
            weight += kernel[j]
            _add(down, values[r], kernel[j])
            if voided[r]:
                some = True
                for c in range(columns):
                    empty[c] += kernel[j] if void[r, c] else np.float32(0)
        own = out[row]
        _along(down, kernel, own)
        if some:
            _along(empty, kernel, gone)
        for c in range(columns):
            share = weight * across[c]
            if some:
                share -= gone[c]
                if void[row, c]:
                    share = np.float32(0)
            own[c] = own[c] / share if share >= _LEAST_WEIGHT else np.float32(np.nan)


@compiled
def _put_back(  # noqa: PLR0917  (compiled functions take no keywords)
    first: int,
    last: int,
    depth: Depths,
    smooth: Depths,
    rest: Depths,
    kernel: Depths,
    clear: float,
    alone: float,
    out: Depths,
) -> None:
    """Put back what is beyond chance, with a cell around it."""
    rows, columns = depth.shape
    three = np.zeros((3, columns), np.float32)
    lost = np.empty((3, columns), np.float32)
    buffer = np.empty(columns, np.float32)
    for row in range(first - 1, last + 1):
        slot = row % 3
        if 0 <= row < rows:
            _narrowed(rest, row, kernel, buffer, lost[slot])
            for c in range(columns):
                three[slot, c] = np.float32(1) if abs(lost[slot, c]) > clear else np.float32(0)
        else:
            three[slot] = 0
        at = row - 1
        if at < first:
            continue
        mid = at % 3
        for c in range(columns):
            buffer[c] = three[0, c] + three[1, c] + three[2, c]
        for c in range(columns):
            marks = buffer[c]
            if c > 0:
                marks += buffer[c - 1]
            if c < columns - 1:
                marks += buffer[c + 1]
            value = smooth[at, c] + (lost[mid, c] if marks > 0 else np.float32(0))
            out[at, c] = depth[at, c] if abs(depth[at, c] - value) > alone else value


@compiled
def _narrowed(rest: Depths, row: int, kernel: Depths, buffer: Depths, out: Depths) -> None:
    half = len(kernel) // 2
    buffer[:] = 0
    for j in range(len(kernel)):
        r = row + j - half
        if 0 <= r < len(rest):
            _add(buffer, rest[r], kernel[j])
    _along(buffer, kernel, out)


@compiled
def _add(total: Depths, values: Depths, factor: float) -> None:
    for c in range(len(total)):
        total[c] += factor * values[c]


@compiled
def _along(values: Depths, kernel: Depths, out: Depths) -> None:
    half, columns = len(kernel) // 2, len(values)
    out[:] = 0
    for j in range(len(kernel)):
        shift = j - half
        start, stop = max(-shift, 0), min(columns - shift, columns)
        if stop > start:
            _add(out[start:stop], values[start + shift : stop + shift], kernel[j])
