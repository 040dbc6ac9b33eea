"""Flag soundings that are not the bottom; none is taken out.

Along each line, in this order: no depth, or none above zero (the sounder lost the bottom); the same
number for longer than this sounder repeats itself; an echo that went down and up twice; spikes; and
the noise of a hull at speed.  What is a spike is judged against a straight line fitted to the
nearest soundings in time by repeated medians (Siegel 1982; as a filter Davies, Fried & Gather
2004), which half of them may be wrong without moving, and in units of the scaled median absolute
deviation, as in the filter of Hampel (1974; Pearson 2002): of the sounder's noise as the whole log
shows it, or of those nearest where the bottom is rougher than that.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import nnls

from seabed.array_types import Floats, Ints, Mask
from seabed.notebook import NotebookTable
from seabed.robust import TO_SIGMA
from seabed.soundings.flags._filtering import line_level, running_median, second_difference
from seabed.soundings.orders import ORDER_1A
from seabed.soundings.sounding_table import SOUNDINGS, even_seconds, metres_of

REASONS: Final = (
    "",
    "no position",
    "lost bottom",
    "lost bottom: same number repeated",
    "double echo",
    "spike",
    "too noisy at this speed",
)
"""Words of flags; the good soundings first."""

_GOOD, _NO_POSITION, _LOST, _REPEATED, _DOUBLE_ECHO, _SPIKE, _AT_SPEED = range(len(REASONS))
_SPIKE_SIGMAS: Final = 5.0
_LEAST_SPIKE_M: Final = 0.5
_CHANCE: Final = 1e-7
_TURNS: Final = 4
_NEIGHBOURS: Final = 7
_LEAST_REPEATS: Final = 6
_GONE_M: Final = 15.0

_LEAST_M: Final = 0.03
_TO_SIGMA: Final = TO_SIGMA / np.sqrt(1.5)  # of the median of absolute second differences
_EDGES_MPS: Final = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 17.0])
_FEWEST: Final = 30
_DEPTH_CLASSES: Final = 8
_AT_ONCE: Final = 500_000
_MOST: Final = 300_000
"""Of more differences every n-th tells: medians of so many are sure to a hundredth."""


@dataclass(frozen=True, slots=True)
class CleaningReport(NotebookTable):
    """Counts by `REASONS`, the good soundings under ``""``; and the noise of all but spikes."""

    counts: dict[str, int]
    noise: SounderNoise


def flagged(soundings: pd.DataFrame) -> tuple[pd.DataFrame, CleaningReport]:
    """Flag what is not the bottom, and say how noisy the rest is.

    Parameters
    ----------
    soundings : DataFrame
        In the order of the logs.  Flags that are there already stay.

    Returns
    -------
    soundings : DataFrame
        A new table of the same rows, with ``flag`` and ``sigma_m`` filled: the noise of soundings
        of like depth and speed; NaN for flagged ones.
    report : CleaningReport

    Examples
    --------
    >>> from seabed import example_soundings
    >>> table, report = flagged(example_soundings())
    >>> len(table)
    1020
    """
    SOUNDINGS.check(soundings)
    depth = soundings["measured_m"].to_numpy(np.float64).copy()
    line = soundings["line"].to_numpy()
    seconds = even_seconds(soundings["time"])
    flags = soundings["flag"].astype("category").cat
    words = [*REASONS, *flags.categories.difference(list(REASONS), sort=False).astype(str)]
    code = flags.set_categories(words).cat.codes.to_numpy().copy()
    code[(code == _GOOD) & ~np.isfinite(soundings["longitude"].to_numpy())] = _NO_POSITION
    code[(code == _GOOD) & ~(depth > 0)] = _LOST
    code[_repeated(soundings, depth, code == _GOOD)] = _REPEATED
    transducer = np.nan_to_num(soundings["to_surface_m"].to_numpy())
    code[_double(depth, line, code == _GOOD, transducer)] = _DOUBLE_ECHO
    speed = soundings["sog_mps"].to_numpy()
    noise = _mark_spikes(seconds, depth, line, code, speed)
    sigma = np.empty(len(depth), np.float32)
    for part in _parts(len(depth)):
        own = noise.sigma_m(depth[part], speed[part])
        noisy = _too_noisy(own, depth[part], speed[part], noise)
        code[part][noisy & (code[part] == _GOOD)] = _AT_SPEED
        sigma[part] = np.where(code[part] == _GOOD, own, np.nan)
    counts = np.bincount(code, minlength=len(words)).tolist()
    table = soundings.assign(flag=pd.Categorical.from_codes(code, categories=words), sigma_m=sigma)
    return table, CleaningReport(dict(zip(words, counts, strict=True)), noise)


def _repeated(soundings: pd.DataFrame, depth: Floats, use: Mask) -> Mask:
    """Numbers that stay the same for longer than chance allows.

    With a share p of soundings that repeat the one before in the line, n repeats in a row come by
    chance with p to the n; fewer than six never count.  p is of the line without those in question.
    A boat that does not move may repeat itself: it must have gone 15 m meanwhile.
    """
    line = soundings["line"].to_numpy()
    same = np.zeros(len(depth), bool)
    same[1:] = (depth[1:] == depth[:-1]) & (line[1:] == line[:-1]) & use[1:] & use[:-1]
    run = np.cumsum(~same)
    run -= 1
    length = np.bincount(run)[run]
    long = use & (length > _LEAST_REPEATS)
    rows = np.flatnonzero(long)
    length, own = length[rows], line[rows]
    repeats = np.bincount(line, same)[own] - (length - 1) + 1.0
    share = repeats / (np.bincount(line)[own] - length + 2.0)
    long[rows] = length > np.log(_CHANCE) / np.log(np.clip(share, 1e-6, 0.999))
    return np.asarray(long & (_gone_m(soundings, run) >= _GONE_M)) if long.any() else long


def _gone_m(soundings: pd.DataFrame, run: Ints) -> Floats:
    """How far the boat went from the first to the last sounding of each one's run, metres."""
    east, north = metres_of(soundings)
    first = np.searchsorted(run, run)
    last = np.searchsorted(run, run, side="right") - 1
    return np.hypot(east[last] - east[first], north[last] - north[first])


def _double(depth: Floats, line: NDArray[np.int32], use: Mask, transducer: Floats) -> Mask:
    """Echoes that went down and up twice, and the level of the rest.

    Sound that comes back to the surface and goes down once more arrives as if from twice the
    depth below the transducer, and once the depth of the transducer.  The level that they are
    compared with is a running median over two minutes; a second one without them follows.
    """
    double = np.zeros(len(depth), bool)
    for _ in range(2):
        level = running_median(depth, line, use & ~double, 61)
        for part in _parts(len(depth)):
            own, usual = depth[part], level[part]
            twice = 2.0 * usual + transducer[part]
            near = np.abs(own - twice) < 0.15 * usual + 0.3
            double[part] = use[part] & near & (own > 1.5 * usual)
    return double


def _mark_spikes(
    seconds: Floats, depth: Floats, line: NDArray[np.int32], code: NDArray[np.int8], speed: Floats
) -> SounderNoise:
    """Mark spikes in `code`; give the noise of the rest.

    Only what differs clearly from running medians of 5 or 15 is compared with the line.
    """
    noise = fit_noise(np.empty(0), np.empty(0), np.empty(0))
    for _ in range(_TURNS):
        use = code == _GOOD
        with ThreadPoolExecutor(2) as pool:
            medians = [pool.submit(running_median, depth, line, use, wide) for wide in (5, 15)]
            noise = fit_noise(second_difference(depth, line, use), depth, speed)
            short, long = (median.result() for median in medians)
        odd = use.copy()
        for part in _parts(len(depth)):
            own, limit = depth[part], _least_spike(noise, short[part], speed[part])
            odd[part] &= (np.abs(own - short[part]) > 0.5 * limit) | (
                np.abs(own - long[part]) > limit
            )
        rows = np.flatnonzero(odd)
        middle, scale = line_level(seconds, depth, line, use, rows, neighbours=_NEIGHBOURS)
        most = np.maximum(_least_spike(noise, short[rows], speed[rows]), _SPIKE_SIGMAS * scale)
        spikes = rows[np.abs(depth[rows] - middle) > most]
        code[spikes] = _SPIKE
        if not len(spikes):
            break
    return noise


def _least_spike(noise: SounderNoise, depth: Floats, speed: Floats) -> Floats:
    """How far from its neighbours a sounding is a spike, metres."""
    return np.maximum(_SPIKE_SIGMAS * noise.sigma_m(depth, speed), _LEAST_SPIKE_M)


def _parts(count: int) -> Iterator[slice]:
    """Cut rows into parts, so that what is worked out of each takes little memory."""
    for begin in range(0, count, _AT_ONCE):
        yield slice(begin, begin + _AT_ONCE)


def _too_noisy(sigma: Floats, depth: Floats, speed: Floats, noise: SounderNoise) -> Mask:
    """Soundings at a speed that makes them twice as noisy, and noisier than order 1a allows."""
    factor = np.append(noise.factors, 1.0)[noise.speed_class(speed)]
    return np.asarray((factor > 2.0) & (1.96 * sigma > ORDER_1A.uncertainty_m(depth)))


@dataclass(frozen=True, slots=True)
class SounderNoise:
    """Standard deviation of a sounding's own error: ``factor(speed) * (metres + share * depth)``.

    metres, share: at the speeds of most soundings.
    factors, counts, shape (11,): by class of speed, the class above 17 m/s last; its soundings,
        about.
    """

    metres: float
    share: float
    factors: Floats
    counts: Ints

    def sigma_m(self, depth: Floats, speed: Floats) -> Floats:
        """Give it at depths and speeds, metres; the factor is 1 at unknown speeds."""
        factor = np.append(self.factors, 1.0)[self.speed_class(speed)]
        return np.asarray(factor * (self.metres + self.share * np.abs(depth)))

    def speed_class(self, speed: Floats) -> Ints:
        """Class of each speed, 0 the slowest; 11 where it is not known."""
        known = np.isfinite(speed)
        return np.where(
            known, np.searchsorted(_EDGES_MPS, np.nan_to_num(speed)), len(_EDGES_MPS) + 1
        )

    def classes(self) -> list[tuple[float, float, float]]:
        """Least and greatest speed (m/s) and the factor of the classes that have soundings."""
        edges = [0.0, *_EDGES_MPS.tolist(), float("inf")]
        return [
            (edges[i], edges[i + 1], float(self.factors[i]))
            for i in range(len(self.factors))
            if self.counts[i] >= _FEWEST
        ]


def fit_noise(difference: Floats, depth: Floats, speed: Floats) -> SounderNoise:
    """Fit the noise to second differences along lines (NaN is passed over); at least 0.03 m.

    Medians of eight classes of depth, a straight line through them with neither term below zero;
    then the factor of each class of speed with at least 30 soundings, from its median; of a class
    with fewer that of the class below.
    """
    rows = np.flatnonzero(np.isfinite(difference) & np.isfinite(depth))
    blank = SounderNoise(
        _LEAST_M, 0.0, np.ones(len(_EDGES_MPS) + 1), np.zeros(len(_EDGES_MPS) + 1, int)
    )
    if len(rows) < _FEWEST:
        return blank
    every = -(-len(rows) // _MOST)
    rows = rows[::every]
    off, deep = np.abs(difference[rows]), np.abs(depth[rows])
    classes = blank.speed_class(speed[rows])
    most = int(np.argmax(np.bincount(classes)))
    usual = classes == most
    metres, share = _with_depth(off[usual], deep[usual])
    scaled = off / (metres + share * deep)
    factors, counts = np.ones(len(_EDGES_MPS) + 1), np.zeros(len(_EDGES_MPS) + 1, np.int64)
    last = 1.0
    for number in range(len(factors)):
        own = scaled[classes == number]
        counts[number] = every * len(own)
        if len(own) >= _FEWEST:
            last = max(_TO_SIGMA * float(np.median(own)), _LEAST_M / (metres + share * 1.0), 0.5)
        factors[number] = last
    return SounderNoise(metres, share, factors, counts)


def _with_depth(off: Floats, depth: Floats) -> tuple[float, float]:
    order = np.argsort(depth, kind="stable")
    parts = np.array_split(order, max(1, min(_DEPTH_CLASSES, len(order) // _FEWEST)))
    middle = np.array([np.median(depth[part]) for part in parts])
    sigma = np.array([_TO_SIGMA * np.median(off[part]) for part in parts])
    (metres, share), _ = nnls(np.column_stack([np.ones(len(middle)), middle]), sigma)
    return max(float(metres), _LEAST_M), float(share)
