"""Robust levels along lines of soundings, in machine code."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask, Pair
from seabed.compiled import compiled
from seabed.robust import TO_SIGMA

_THREADS: Final = 2
_FEW: Final = 100_000  # not worth a thread


def running_median(depth: Floats, line: NDArray[np.int32], use: Mask, window: int) -> Floats:
    """Median of the used soundings of the same line nearest in order, fewer near its ends.

    `window` is how many, odd; lines are in one piece each.  At soundings that are not used that of
    the used one before (else after); NaN in lines without any.
    """
    rows = np.flatnonzero(use)
    medians = np.full(len(depth), np.nan)
    if len(rows):

        def fill(part: slice) -> None:
            own = rows[part]
            medians[own] = _medians(depth[own], line[own], window // 2)

        with ThreadPoolExecutor(_THREADS) as pool:
            list(pool.map(fill, _between_lines(line[rows])))
        _carry(medians, line)
    return medians


def line_level(
    seconds: Floats,
    depth: Floats,
    line: NDArray[np.int32],
    use: Mask,
    asked: Ints,
    *,
    neighbours: int,
) -> Pair:
    """Straight line in time through the nearest used soundings, and their scale about it.

    By repeated medians, at `asked` soundings, from `neighbours` used ones of the same line on each
    side, without the sounding itself.  The scale is 1.4826 times the median distance from the line.
    NaN where the line has fewer than four others.
    """
    rows = np.flatnonzero(use)
    used = seconds[rows], depth[rows], line[rows], rows

    def of(part: Ints) -> Pair:
        place = np.searchsorted(rows, part)
        return _repeated_medians(*used, part, place, seconds[part], line[part], neighbours)

    with ThreadPoolExecutor(_THREADS) as pool:
        parts = np.array_split(asked, 1 if len(asked) < _FEW else _THREADS)
        level, scale = zip(*pool.map(of, parts), strict=True)
    return np.concatenate(level), np.concatenate(scale)


def _between_lines(line: NDArray[np.int32]) -> Iterator[slice]:
    """Cut soundings into parts for a thread each, where a line ends."""
    cuts = [0]
    for part in range(1, _THREADS if len(line) >= _FEW else 1):
        middle = part * len(line) // _THREADS
        same = np.flatnonzero(line[middle:] != line[middle])
        cuts.append(middle + int(same[0]) if len(same) else len(line))
    return (slice(low, high) for low, high in pairwise([*cuts, len(line)]))


@compiled
def _medians(depth: Floats, line: NDArray[np.int32], half: int) -> Floats:
    """Slide a median along, its window kept in order by insertion."""
    size = len(depth)
    level = np.empty(size)
    ordered = np.empty(2 * half + 2)
    first = 0
    while first < size:
        last = first
        while last + 1 < size and line[last + 1] == line[first]:
            last += 1
        count = 0
        entered = first
        for i in range(first, last + 1):
            while entered <= min(i + half, last):
                k = count
                while k > 0 and ordered[k - 1] > depth[entered]:
                    ordered[k] = ordered[k - 1]
                    k -= 1
                ordered[k] = depth[entered]
                count += 1
                entered += 1
            gone = i - half - 1
            if gone >= first:
                k = np.searchsorted(ordered[:count], depth[gone])
                for j in range(k, count - 1):
                    ordered[j] = ordered[j + 1]
                count -= 1
            level[i] = 0.5 * (ordered[(count - 1) // 2] + ordered[count // 2])
        first = last + 1
    return level


def second_difference(depth: Floats, line: NDArray[np.int32], use: Mask) -> Floats:
    """Depth less the mean of the used soundings before and after it in its line, else NaN.

    Of white noise of standard deviation s it has s times the root of 1.5.
    """
    rows = np.flatnonzero(use)
    rows = np.column_stack([rows[:-2], rows[1:-1], rows[2:]])
    before, middle, after = rows[line[rows[:, 0]] == line[rows[:, 2]]].T
    difference = np.full(len(depth), np.nan)
    difference[middle] = depth[middle] - 0.5 * (depth[before] + depth[after])
    return difference


@compiled
def _carry(values: Floats, line: NDArray[np.int32]) -> None:
    """Fill NaN with the value before in the line, else with the one after."""
    for i in range(1, len(values)):
        if np.isnan(values[i]) and line[i] == line[i - 1]:
            values[i] = values[i - 1]
    for i in range(len(values) - 2, -1, -1):
        if np.isnan(values[i]) and line[i] == line[i + 1]:
            values[i] = values[i + 1]


@compiled
def _repeated_medians(  # noqa: PLR0917  (compiled functions take no keywords)
    seconds: Floats,
    depth: Floats,
    line: NDArray[np.int32],
    rows: Ints,
    asked: Ints,
    place: Ints,
    when: Floats,
    of: NDArray[np.int32],
    half: int,
) -> Pair:
    level, scale = np.full(len(asked), np.nan), np.full(len(asked), np.nan)
    near = np.empty(2 * half, np.int64)
    slopes, middles = np.empty(2 * half), np.empty(2 * half)
    for n in range(len(asked)):
        count = 0
        low = place[n] - 1
        high = place[n]
        if high < len(rows) and rows[high] == asked[n]:
            high += 1
        for _ in range(half):
            if low >= 0 and line[low] == of[n]:
                near[count] = low
                count += 1
                low -= 1
        for _ in range(half):
            if high < len(rows) and line[high] == of[n]:
                near[count] = high
                count += 1
                high += 1
        if count < 4:
            continue
        for i in range(count):
            number = 0
            for j in range(count):
                step = seconds[near[j]] - seconds[near[i]]
                if step != 0:
                    slopes[number] = (depth[near[j]] - depth[near[i]]) / step
                    number += 1
            middles[i] = np.median(slopes[:number]) if number else 0.0
        slope = np.median(middles[:count])
        for i in range(count):
            middles[i] = depth[near[i]] - slope * (seconds[near[i]] - when[n])
        level[n] = np.median(middles[:count])
        for i in range(count):
            middles[i] = abs(middles[i] - level[n])
        scale[n] = TO_SIGMA * np.median(middles[:count])
    return level, scale
