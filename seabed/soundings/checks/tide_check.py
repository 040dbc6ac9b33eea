"""Whether the tide that was taken off is right, by crossovers and by a chart.

If the true tide is ``1 + scale`` times the one that was taken off and comes ``late_s`` seconds
later, a depth is wrong by ``scale * height - late_s * rate``, and the difference of a crossover by
the difference of that at its two moments.  Both are fitted with Huber's weights (1964), and their
standard errors allow for errors shared by all crossovers of the same two outings (clustered, Liang
& Zeger 1986).  A constant drops out of the differences; against a chart it is fitted too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats, Pair
from seabed.notebook import NotebookTable
from seabed.robust import huber_fit
from seabed.soundings.checks.crossovers import CROSSOVERS
from seabed.soundings.sounding_table import SOUNDINGS, seconds_of
from seabed.soundings.surface._levels import outings_of

_FEWEST: Final = 20
_MOST: Final = 200_000
_LEAST_SPREAD_M: Final = 0.2  # of tide heights between the two moments: less tells nothing
_SURE: Final = 3.0
_MATTERS_M: Final = 0.1
_PIECE_S: Final = 300.0
_FEWEST_OUTINGS: Final = 3


@dataclass(frozen=True, slots=True)
class TideFit(NotebookTable):
    """What crossovers say of the tide.

    crossovers: those fitted, with a known tide at both moments.
    spread_m: root mean square of the difference of the tide's height between the two.
    scale, late_s: share by which the true tide is larger, seconds by which it is later; NaN if
        unknown.
    explained_m: root mean square that the fit takes off.
    """

    crossovers: int
    spread_m: float
    scale: float
    scale_sigma: float
    late_s: float
    late_sigma_s: float
    explained_m: float

    @property
    def wrong(self) -> bool:
        """Whether the tide looks wrong: surely, and by enough to matter."""
        sure = abs(self.scale) > _SURE * self.scale_sigma or (
            abs(self.late_s) > _SURE * self.late_sigma_s
        )
        return bool(sure and self.explained_m >= _MATTERS_M)

    def words(self) -> str:
        """Say it in a sentence; empty if nothing looks wrong."""
        if not self.wrong:
            return ""
        off = (
            f"Depths at crossings go with the tide: they fit a tide {1 + self.scale:.2f} "
            f"(± {self.scale_sigma:.2f}) times the one taken off, "
            f"{abs(self.late_s) / 60:.0f} (± {self.late_sigma_s / 60:.0f}) minutes "
            f"{'later' if self.late_s >= 0 else 'earlier'}."
        )
        if abs(self.scale - 1.0) < max(0.25, 2 * self.scale_sigma):
            return off + " As if it had been taken off half: check the tide table's units."
        if abs(self.scale + 1.0) < max(0.25, 2 * self.scale_sigma):
            return off + " As if no tide should have been taken off: does the sounder do it?"
        return off + " Check the tide table: its place, its zone, its units."


@dataclass(frozen=True, slots=True)
class ChartFit(NotebookTable):
    """How soundings differ from a chart of the same ground.

    offset_m: soundings deeper than the chart at the tide's mean level; NaN with too few.  It is
        what is wrong with the transducer's depth, the tide's datum and the chart together: they
        can't be separated.
    scale, late_s: as in `TideFit`; 0 where the soundings do not span enough of the tide.
    pieces: five-minute pieces of lines that it rests on.
    """

    offset_m: float
    sigma_m: float
    scale: float
    late_s: float
    pieces: int


def tide_of_crossovers(table: pd.DataFrame) -> TideFit:
    """Fit the tide's error to crossovers.

    Of more than 200,000, so many drawn at random (with a fixed seed) are fitted: the others would
    not make it surer, since errors are shared by all of two outings.  NaN with fewer than 20, or
    where the heights at the two moments differ by less than 0.2 m (root mean square).
    """
    CROSSOVERS.check(table)
    height = (table["height_1_m"] - table["height_2_m"]).to_numpy(np.float64)
    rate = (table["rate_1_mps"] - table["rate_2_mps"]).to_numpy(np.float64)
    difference = table["difference_m"].to_numpy(np.float64)
    known = np.flatnonzero(np.isfinite(height) & np.isfinite(rate))
    if len(known) > _MOST:
        known = np.sort(np.random.default_rng(0).choice(known, _MOST, replace=False))
    height, rate, difference = height[known], rate[known], difference[known]
    spread = float(np.sqrt((height**2).mean())) if len(height) else float("nan")
    if len(known) < _FEWEST or not spread >= _LEAST_SPREAD_M:
        return TideFit(len(known), spread, np.nan, np.inf, np.nan, np.inf, 0.0)
    seconds = np.concatenate([seconds_of(table[name])[known] for name in ("time_1", "time_2")])
    outing, _ = outings_of(seconds)
    pair = np.unique(np.sort(outing.reshape(2, -1), axis=0), axis=1, return_inverse=True)[1]
    terms = np.column_stack([height, -rate])
    (scale, late), (scale_sigma, late_sigma) = fit = _fitted(
        terms, difference, np.ones(len(known)), pair.ravel()
    )
    explained = np.sqrt(((terms @ fit[0]) ** 2).mean())
    values = (scale, scale_sigma, late, late_sigma, explained)
    return TideFit(len(known), spread, *map(float, values))


def fit_to_chart(soundings: pd.DataFrame, charted: Floats) -> ChartFit:
    """Fit the constant by which soundings differ from a chart, with the tide's error beside it.

    From medians of five-minute pieces of lines.  The tide's error is fitted where there are eight
    pieces or more of three outings, and heights span half a metre: within one outing a wrong tide
    and a constant are too much alike to separate.

    charted: depth of the chart under each, NaN off it.
    """
    SOUNDINGS.check(soundings)
    off = soundings["depth_m"].to_numpy(np.float64) - charted
    good = np.isfinite(off) & (soundings["flag"] == "").to_numpy()
    if not good.any():
        return ChartFit(np.nan, np.inf, 0.0, 0.0, 0)
    seconds = seconds_of(soundings["time"])
    piece = pd.DataFrame(
        {
            "line": soundings["line"].to_numpy()[good],
            "part": np.floor(np.nan_to_num(seconds[good]) / _PIECE_S),
            "off": off[good],
            "height": soundings["height_m"].to_numpy(np.float64)[good],
            "seconds": seconds[good],
        }
    ).groupby(["line", "part"], sort=False)
    medians = piece.median()
    weight = np.sqrt(np.minimum(piece.size().to_numpy(np.float64), 60.0))
    values, height = medians["off"].to_numpy(), medians["height"].to_numpy()
    terms = np.ones((len(values), 1))
    outing, _ = outings_of(medians["seconds"].to_numpy())
    outings = len(np.unique(outing))
    spans = len(values) >= 8 and np.ptp(height) >= 0.5 and outings >= _FEWEST_OUTINGS
    if spans:
        rate = _rates(medians["seconds"].to_numpy(), height)
        middle = 0.5 * (height.min() + height.max())
        terms = np.column_stack([terms[:, 0], height - middle, -rate])
    group = outing if outings >= 4 else np.arange(len(values))
    fit, sigma = _fitted(terms, values, weight, group)
    scale, late = (float(fit[1]), float(fit[2])) if spans else (0.0, 0.0)
    return ChartFit(float(fit[0]), float(sigma[0]), scale, late, len(values))


def _rates(seconds: Floats, height: Floats) -> Floats:
    """Rate of the tide at pieces in the order of time, from the piece before or after."""
    order = np.argsort(seconds, kind="stable")
    step, rise = np.diff(seconds[order]), np.diff(height[order])
    near = (step > 0) & (step < 3600.0)
    between = np.where(near, rise / np.where(near, step, 1.0), np.nan)
    both = np.vstack([np.append(between, np.nan), np.append(np.nan, between)])
    known = np.isfinite(both)
    mean = np.where(known, both, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    rates = np.zeros(len(seconds))
    rates[order] = mean
    return rates


def _fitted(terms: Floats, values: Floats, weight: Floats, group: NDArray[Any]) -> Pair:
    """Fit a linear model with Huber's weights; coefficients and errors clustered by `group`.

    Errors are infinite where there are no more groups than terms.
    """
    fit, huber = huber_fit(terms, values, 1.0 / weight)
    scaled = terms * weight[:, None]
    bread = np.linalg.pinv((scaled * huber[:, None]).T @ scaled)
    score = scaled * (huber * (values - terms @ fit) * weight)[:, None]
    _, of = np.unique(group, return_inverse=True)
    groups = int(of.max()) + 1
    if groups <= terms.shape[1]:
        return fit, np.full(terms.shape[1], np.inf, np.float64)
    sums = np.zeros((groups, terms.shape[1]))
    np.add.at(sums, of, score)
    meat = sums.T @ sums * groups / (groups - terms.shape[1])
    sigma: Floats = np.sqrt(np.maximum(np.diag(bread @ meat @ bread), 0.0))
    return fit, sigma
