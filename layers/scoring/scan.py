"""Where along a line, or on the ground, more fish came than the effort explains.

The scan statistic of Kulldorff (1997) for Poisson counts: of all windows, the one whose fish are
least likely to have come at the rate of everywhere; its p by Monte Carlo (Dwass 1957) over the same
search on fish strewn by effort alone, so that looking at many windows is paid for.  The strewing is
stopped once p is plainly large, which keeps p a valid one (Besag & Clifford 1991, sequential Monte
Carlo p-values, Biometrika 78, 301-304).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.spatial import cKDTree
from scipy.special import xlogy

from seabed.compiled import compiled

__all__ = ["Patch", "Stretch", "scan_ground", "scan_stretch"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

MOST_SHARE: Final = 0.5
"""A window has at most this share of the effort: more is not a stretch but the line (Kulldorff)."""

LEAST_FISH: Final = 2
REPLICATES: Final = 999

ENOUGH_BEATEN: Final = 50
"""Replicates as hot as what was found after which no more are drawn.  Of 999 it takes 49 to make p
0.05, so that stopping here never changes whether p is below that; p above it is coarser."""

AT_ONCE: Final = 100
"""Replicates drawn at once."""

LEVEL: Final = 1e-9
"""Ratios this near each other are level."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """The hottest run of bins along a line.

    Attributes
    ----------
    first, last : int
        Bins, both inside.
    fish, expected : int, float
        In it; of its effort.
    ratio : float
        Log likelihood ratio.
    p : float
        Monte Carlo, sequential.
    """

    first: int
    last: int
    fish: int
    expected: float
    ratio: float
    p: float


@dataclass(frozen=True, slots=True)
class Patch:
    """The hottest circle: row of its middle cell, radius in metres, and as `Stretch`."""

    centre: int
    radius_m: float
    fish: int
    expected: float
    ratio: float
    p: float


def scan_stretch(
    hours: Any,
    fish: Any,
    *,
    most_share: float = MOST_SHARE,
    replicates: int = REPLICATES,
    seed: int = 0,
) -> Stretch | None:
    """Find the hottest run of bins along a line.

    Parameters
    ----------
    hours, fish : array, shape (n,)
        Effort and fish in bins in order along the line.  Fish in a bin without effort are an error
        of place; they count as if the bin had the least effort there is.
    most_share : float
        Greatest share of the effort in a window.
    replicates, seed : int
        Most that are drawn for the Monte Carlo p; none gives p = 1.  The drawing stops at
        `ENOUGH_BEATEN` as hot as the line's own: p is then their share of those drawn.

    Returns
    -------
    Stretch or None
        None where no window has two fish and more than its effort explains.

    Examples
    --------
    >>> import numpy as np
    >>> stretch = scan_stretch(np.ones(10), np.array([0, 0, 0, 5, 6, 0, 0, 0, 1, 0]))
    >>> stretch.first, stretch.last, stretch.fish
    (3, 4, 11)
    """
    share, count = _shares(hours, fish)
    total = int(count.sum())
    if total < LEAST_FISH:
        return None
    upto = np.concatenate([[0.0], np.cumsum(share)])
    first, last, ratio = _hottest(count, upto, total, most_share)
    if first < 0:
        return None

    runs = upto[1:] - upto[:-1, None]
    allowed = np.triu(runs <= most_share)
    least = np.full(runs.shape, total + 1)
    least[allowed] = _least_as_hot(ratio - LEVEL, runs[allowed], total)

    def as_hot(strewn: Ints) -> Flags:
        return np.asarray(_any_run_reaches(least, strewn))

    expected = float(total * (upto[last + 1] - upto[first]))
    caught = int(count[first : last + 1].sum())
    p = _p_of(as_hot, total, share, replicates=replicates, seed=seed)
    return Stretch(first, last, caught, expected, ratio, p)


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
    """Find the hottest circle about any of the cells with effort.

    Parameters
    ----------
    xy_m : array, shape (n, 2)
        Middles of cells, metres.
    hours, fish : array, shape (n,)
    radii_m : array, shape (k,)
        Radii that are tried.
    most_share, replicates, seed
        As in `scan_stretch`.

    Returns
    -------
    Patch or None

    Examples
    --------
    >>> import numpy as np
    >>> places = np.array([[0.0, 0], [20, 0], [200, 0], [220, 0]])
    >>> patch = scan_ground(places, np.ones(4), np.array([5, 6, 0, 1]), (30.0,))
    >>> patch.fish, patch.radius_m
    (11, 30.0)
    """
    share, count = _shares(hours, fish)
    total = int(count.sum())
    if total < LEAST_FISH:
        return None
    windows, centres, radii = _circles(np.asarray(xy_m, float), np.asarray(radii_m, float))
    inside = windows @ share
    allowed = inside <= most_share
    windows, inside = windows[allowed], inside[allowed]
    centres, radii = centres[allowed], radii[allowed]
    if not len(inside):
        return None
    own = windows @ count
    ratio = _ratios(own[:, None], inside, total)[:, 0]
    best = int(np.argmax(ratio))
    if ratio[best] <= 0:
        return None

    least = _least_as_hot(float(ratio[best]) - LEVEL, inside, total)

    def as_hot(strewn: Ints) -> Flags:
        columns = np.ascontiguousarray(strewn.T, np.int32)
        return np.asarray(_any_reaches(windows.indptr, windows.indices, least, columns))

    return Patch(
        int(centres[best]),
        float(radii[best]),
        int(own[best]),
        float(total * inside[best]),
        float(ratio[best]),
        _p_of(as_hot, total, share, replicates=replicates, seed=seed),
    )


def _p_of(
    as_hot: Callable[[Ints], Flags],
    total: int,
    share: Floats,
    *,
    replicates: int,
    seed: int,
) -> float:
    """Share of replicates that are `as_hot`, by Besag & Clifford's rule."""
    beaten, random = 0, np.random.default_rng(seed)
    for drawn in range(0, replicates, AT_ONCE):
        strewn = random.multinomial(total, share, size=min(AT_ONCE, replicates - drawn))
        hot = np.flatnonzero(as_hot(strewn))
        if beaten + len(hot) >= ENOUGH_BEATEN:
            last = int(hot[ENOUGH_BEATEN - beaten - 1])
            return ENOUGH_BEATEN / (drawn + last + 1)
        beaten += len(hot)
    return (1 + beaten) / (1 + replicates)


def _shares(hours: Any, fish: Any) -> tuple[Floats, Ints]:
    """Each bin's share of the effort, and its fish."""
    effort, count = np.asarray(hours, float), np.asarray(fish, np.int64)
    some = effort > 0
    if (count[~some] > 0).any() and some.any():
        effort = np.where(~some & (count > 0), effort[some].min(), effort)
    total = effort.sum()
    return (effort / total if total > 0 else effort), count * bool(total > 0)


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


def _least_as_hot(ratio: float, inside: Floats, total: int) -> Ints:
    """Least count that gives each window at least this ratio; beyond `total` where none does.

    Above what the effort explains the ratio grows with the count, so halving finds it.
    """
    low, high = np.zeros(len(inside), np.int64), np.full(len(inside), total + 1)
    while (high - low > 1).any():
        middle = (low + high) // 2
        enough = _ratios(middle[:, None], inside, total)[:, 0] >= ratio
        high, low = np.where(enough, middle, high), np.where(enough, low, middle)
    return high


def _ratios(count: Any, inside: Floats, total: int) -> Floats:
    """Log likelihood ratio of each window (rows) in each replicate (columns); 0 if not hot."""
    expected = total * inside[:, None]
    rest = total - count
    hot = (count >= LEAST_FISH) & (count > expected)
    # xlogy of the quotient: expected is above 0 where a window holds effort
    at_home = xlogy(count, count / np.maximum(expected, 1e-12))
    elsewhere = xlogy(rest, rest / np.maximum(total - expected, 1e-12))
    return np.asarray(np.where(hot, at_home + elsewhere, 0.0))


@compiled
def _any_reaches(start: Ints, cells: Ints, least: Ints, strewn: NDArray[np.int32]) -> Flags:
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


@compiled
def _hottest(count: Ints, upto: Floats, total: int, most_share: float) -> tuple[int, int, float]:
    """First and last bin of the hottest window and its log likelihood ratio; -1, -1, 0 if none.

    A window that begins or ends without fish is never hotter than without those bins, so only bins
    with fish are tried as ends.
    """
    at = np.nonzero(count)[0]
    first, last, best = -1, -1, 0.0
    for i in range(len(at)):
        caught = 0
        for j in range(i, len(at)):
            caught += count[at[j]]
            share = upto[at[j] + 1] - upto[at[i]]
            if share > most_share:
                break
            expected = total * share
            if caught < 2 or caught <= expected:
                continue
            ratio = caught * np.log(caught / expected)
            if total > caught:
                ratio += (total - caught) * np.log((total - caught) / (total - expected))
            if ratio > best:
                first, last, best = at[i], at[j], ratio
    return first, last, best


@compiled
def _any_run_reaches(least: Ints, strewn: Ints) -> Flags:
    """Say of each row of counts whether any run, of first and last bin, has its least count.

    As in `_hottest`, runs that begin without fish need not be tried.
    """
    reached = np.zeros(len(strewn), np.bool_)
    for row in range(len(strewn)):
        count = strewn[row]
        for first in range(len(count)):
            if count[first] == 0:
                continue
            caught = 0
            for last in range(first, len(count)):
                caught += count[last]
                if caught >= least[first, last]:
                    reached[row] = True
                    break
            if reached[row]:
                break
    return reached
