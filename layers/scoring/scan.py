"""Where along a line more fish came than the effort explains.

The scan statistic of Kulldorff (1997) for Poisson counts: of all windows, the one whose fish are
least likely to have come at the rate of everywhere; its p by Monte Carlo (Dwass 1957) over the
same search on fish scattered without regard to place, which allows for the many windows.  Along a
line what is compared is the likelihood ratio of all windows together (the average likelihood
ratio: Chan & Walther 2013, Statistica Sinica 23, 409-428): a wide stretch lifts many windows, luck
lifts few.  There the fish of a visit are scattered together, by shifting them along their own
tracks: fish that come in twos, in schools or in spells stay together, and prove no place.
Scattering stops once p is
plainly large, which keeps p valid (Besag & Clifford 1991, sequential Monte Carlo p-values,
Biometrika 78, 301-304).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from seabed.array_types import Floats, Ints, Mask, Pair
from seabed.compiled import compiled

Strew = Callable[[np.random.Generator, int], Floats]
"""Draws replicates of the fish, shape (replicates, bins)."""

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
    """The hottest run of bins along a line, `first` to `last`, both inside.

    fish, expected: in it, by weight; of its effort.
    ratio, p: of log likelihoods; Monte Carlo, sequential.
    """

    first: int
    last: int
    fish: float
    expected: float
    ratio: float
    p: float


def scan_stretch(
    hours: Any,
    fish: Any,
    *,
    strew: Strew | None = None,
    most_share: float = MOST_SHARE,
    replicates: int = REPLICATES,
    seed: int = 0,
) -> Stretch | None:
    """Find the hottest run of bins along a line; None where no window has two fish and too many.

    hours, fish, shape (n,): effort and fish, by weight, in bins in order along the line.  Fish in a
        bin without effort are an error of place; they count as if the bin had the least effort
        there is.
    strew: draws replicates of the fish, given a generator; without it, each fish is
        scattered by effort alone.
    most_share: of the effort in a window.
    replicates: most that are drawn for p, none gives 1; the drawing stops at `ENOUGH_BEATEN` as hot
        as the line's own, and p is their share.
    """
    share, count = shares(hours, fish)
    total = float(count.sum())
    if total < LEAST_FISH:
        return None
    upto = np.concatenate([[0.0], np.cumsum(share)])
    first, last, ratio = _hottest(count, upto, total, most_share)
    if first < 0:
        return None

    own = _heat(count[None], upto, total, most_share, ratio)[0] * (1.0 - LEVEL)

    def as_hot(strewn: Floats) -> Mask:
        return np.asarray(_heat(strewn, upto, total, most_share, ratio) >= own)

    expected = float(total * (upto[last + 1] - upto[first]))
    caught = float(count[first : last + 1].sum())
    draw = strew or by_effort(total, share)
    p = chance_of(as_hot, draw, replicates=replicates, seed=seed)
    return Stretch(first, last, caught, expected, ratio, p)


def by_effort(total: float, share: Floats) -> Strew:
    """Scatter each fish by effort alone; weights are put together to whole fish."""
    return lambda random, many: random.multinomial(round(total), share, size=many).astype(float)


def shifted(place: Ints, fish: Floats, drift: Any, visit: Any, bins: int) -> Strew:
    """Scatter fish by shifting those of each visit along its drifts' own tracks, round the end.

    The drifts of a visit are shifted by the same time: fish that were in one place for a day stay
        one finding.

    place, shape (n,): bin of each sample, in order of time within its drift, all of equal effort.
    fish, drift, visit, shape (n,): fish by weight; which drift and visit each sample is of.
    """
    _, start, size = np.unique(np.asarray(drift), return_index=True, return_counts=True)
    order = np.argsort(start)  # samples come drift by drift
    start, size = start[order], size[order]
    own = np.repeat(np.arange(len(start)), size)
    rows = np.flatnonzero(fish)
    _, of_visit = np.unique(np.asarray(visit), return_inverse=True)
    begin, long = start[own[rows]], size[own[rows]]
    longest = np.zeros(int(of_visit.max()) + 1)
    np.maximum.at(longest, of_visit, size[own])

    def strew(random: np.random.Generator, many: int) -> Floats:
        turn = np.floor((random.random((many, len(longest))) - 0.5) * longest).astype(np.int64)
        at = begin + (rows - begin + turn[:, of_visit[rows]]) % long
        flat = place[at] + bins * np.arange(many)[:, None]
        weight = np.tile(fish[rows], many)
        strewn = np.bincount(flat.ravel(), weight, minlength=many * bins)
        return strewn.reshape(many, bins).astype(np.float64)

    return strew


def chance_to_see(
    hours: Any,
    fish: int,
    *,
    times: float = 3.0,
    part: float = 0.2,
    level: float = 0.03,
    replicates: int = 999,
    seed: int = 0,
) -> float:
    """Chance that this many fish show a stretch that is a part of the effort and pays more.

    Single fish with exact places; fish that come together show less.

    times, part: what the stretch pays over the rest, and its share of the effort.
    level: below which p is called hot.
    """
    share, _ = shares(hours, np.zeros(len(np.asarray(hours))))
    if fish < LEAST_FISH or not share.sum() > 0:
        return 0.0
    random = np.random.default_rng(seed)
    upto = np.concatenate([[0.0], np.cumsum(share)])
    even = random.multinomial(fish, share, size=replicates).astype(float)
    middle = (upto[1:] + upto[:-1]) / 2
    begins = random.uniform(0.0, 1.0 - part, replicates)[:, None]
    worth = share * np.where((middle >= begins) & (middle < begins + part), times, 1.0)
    planted = random.multinomial(fish, worth / worth.sum(axis=1, keepdims=True)).astype(float)
    heat = (_heat(counts, upto, float(fish), MOST_SHARE, 0.0) for counts in (even, planted))
    needed = np.quantile(next(heat), 1.0 - level, method="higher")
    return float((next(heat) > needed).mean())


def chance_of(
    as_hot: Callable[[Floats], Mask], draw: Strew, *, replicates: int, seed: int
) -> float:
    """Share of replicates that are `as_hot`, by Besag & Clifford's rule."""
    beaten, random = 0, np.random.default_rng(seed)
    for drawn in range(0, replicates, AT_ONCE):
        strewn = draw(random, min(AT_ONCE, replicates - drawn))
        hot = np.flatnonzero(as_hot(strewn))
        if beaten + len(hot) >= ENOUGH_BEATEN:
            last = int(hot[ENOUGH_BEATEN - beaten - 1])
            return ENOUGH_BEATEN / (drawn + last + 1)
        beaten += len(hot)
    return (1 + beaten) / (1 + replicates)


def shares(hours: Any, fish: Any) -> Pair:
    """Each bin's share of the effort, and its fish."""
    effort, count = np.asarray(hours, float), np.asarray(fish, float)
    some = effort > 0
    if (count[~some] > 0).any() and some.any():
        effort = np.where(~some & (count > 0), effort[some].min(), effort)
    total = effort.sum()
    return (effort / total if total > 0 else effort), count * bool(total > 0)


def least_as_hot(ratio: float, inside: Floats, total: float) -> Floats:
    """Least count that gives each window at least this ratio; beyond `total` where none does.

    Above what the effort explains the ratio grows with the count, so halving finds it.
    """
    low, high = np.zeros(len(inside)), np.full(len(inside), total)
    never = ratios(high, inside, total) < ratio
    for _ in range(int(np.ceil(np.log2((total + 1.0) / LEVEL)))):
        middle = (low + high) / 2
        enough = ratios(middle, inside, total) >= ratio
        high, low = np.where(enough, middle, high), np.where(enough, low, middle)
    return np.asarray(np.where(never, total + 1.0, high - 2 * LEVEL))


@compiled
def ratios(counts: Floats, inside: Floats, total: float) -> Floats:
    """Log likelihood ratio of each window, shape (n,); 0 if it is not hot."""
    return np.array([_ratio(counts[i], inside[i], total) for i in range(len(counts))])


@compiled
def _ratio(caught: float, share: float, total: float) -> float:
    """Log likelihood ratio of one window."""
    expected = total * share
    if caught < LEAST_FISH or caught <= expected:
        return 0.0
    ratio = caught * np.log(caught / expected)
    if total > caught:
        ratio += (total - caught) * np.log((total - caught) / (total - expected))
    return float(ratio)


@compiled
def _hottest(
    count: Floats, upto: Floats, total: float, most_share: float
) -> tuple[int, int, float]:
    """First and last bin of the hottest window and its log likelihood ratio; -1, -1, 0 if none.

    A window that begins or ends without fish is never hotter than without those bins, so only bins
    with fish are tried as ends.
    """
    at = np.nonzero(count)[0]
    first, last, best = -1, -1, 0.0
    for i in range(len(at)):
        caught = 0.0
        for j in range(i, len(at)):
            caught += count[at[j]]
            share = upto[at[j] + 1] - upto[at[i]]
            if share > most_share:
                break
            ratio = _ratio(caught, share, total)
            if ratio > best:
                first, last, best = at[i], at[j], ratio
    return first, last, best


@compiled
def _heat(counts: Floats, upto: Floats, total: float, most_share: float, unit: float) -> Floats:
    """Sum, over the windows of each row that `_hottest` tries, of the likelihood ratio less one.

    In units of a window whose log ratio is `unit`, since ratios can be too great for a number.
    """
    heat = np.zeros(len(counts))
    for row in range(len(counts)):
        at = np.nonzero(counts[row])[0]
        for i in range(len(at)):
            caught = 0.0
            for j in range(i, len(at)):
                caught += counts[row, at[j]]
                share = upto[at[j] + 1] - upto[at[i]]
                if share > most_share:
                    break
                heat[row] += np.exp(_ratio(caught, share, total) - unit) - np.exp(-unit)
    return heat
