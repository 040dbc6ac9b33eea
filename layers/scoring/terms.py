"""Factors as columns of a regression."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from seabed.array_types import Floats, Mask

KNOTS: Final = (0.05, 0.35, 0.65, 0.95)
"""Quantiles of the effort at which the splines bend (Harrell 2001, table 2.3)."""

SEEN: Final = (0.01, 0.99)
"""Quantiles of the effort between which a value has been fished."""


LEAST_RANGE: Final = 1e-3
"""A number that varies by less, in its unit or as a share of itself, varies by rounding alone."""


@dataclass(frozen=True, slots=True)
class Term:
    """One factor's columns: levels of words (the commonest first), or knots of a spline of numbers.

    seen: least and greatest value fished; NaN for words. centre, spread: mean and standard
    deviation of the columns over the effort.
    """

    factor: str
    levels: tuple[str, ...]
    knots: tuple[float, ...]
    seen: tuple[float, float]
    centre: tuple[float, ...]
    spread: tuple[float, ...]

    def columns(self, values: Any) -> Floats:
        """Scaled columns of values, shape (n, k); NaN for what was never fished."""
        raw = np.where(self.fished(values)[:, None], _raw(values, self.levels, self.knots), np.nan)
        return np.asarray((raw - np.array(self.centre)) / np.array(self.spread))

    def fished(self, values: Any) -> Mask:
        """Say which values were fished; NaN is none."""
        if self.levels:
            words = pd.Series(values).astype(str).to_numpy()
            return np.isin(words, np.array(self.levels, dtype=object))
        number = np.asarray(values, float)
        with np.errstate(invalid="ignore"):
            return np.asarray((number >= self.seen[0]) & (number <= self.seen[1]))

    def clipped(self, values: Any) -> Any:
        """Clip numbers to the range that was fished; words stay."""
        return values if self.levels else np.clip(np.asarray(values, float), *self.seen)

    def values(self, points: int) -> Any:
        """Values over what was fished: the words, or evenly spaced numbers."""
        if self.levels:
            return np.array(self.levels, dtype=object)
        return np.linspace(*self.seen, points)


def term_of(factor: str, values: pd.Series, hours: Floats) -> Term | None:
    """Make the columns of a factor; None if it hardly varies."""
    if values.dtype.kind in "biufc":
        number = values.to_numpy(float)
        knots = _quantiles(number, hours, KNOTS)
        seen = _quantiles(number, hours, SEEN)
        if len(np.unique(np.round(knots, 9))) < len(knots):
            knots = _quantiles(np.unique(number), np.ones(len(np.unique(number))), KNOTS)
        if len(np.unique(np.round(knots, 9))) < len(knots):
            return None
        if np.ptp(knots) < LEAST_RANGE * max(1.0, float(np.abs(knots).max())):
            return None
        levels: tuple[str, ...] = ()
    else:
        weight = pd.Series(hours).groupby(values.astype(str).to_numpy()).sum()
        common = weight[weight > 0.02 * weight.sum()].sort_values(ascending=False, kind="stable")
        if len(common) < 2:
            return None
        levels, knots, seen = tuple(map(str, common.index)), (), (float("nan"), float("nan"))
    raw = _raw(values if levels else np.clip(values.to_numpy(float), *seen), levels, knots)
    known = np.isfinite(raw).all(axis=1)
    centre = np.average(raw[known], axis=0, weights=hours[known])
    spread = np.sqrt(np.average((raw[known] - centre) ** 2, axis=0, weights=hours[known]))
    if (spread < 1e-9).any():
        return None
    return Term(factor, levels, knots, seen, tuple(centre), tuple(spread))


def columns_of(terms: Sequence[Term], table: pd.DataFrame) -> Floats:
    """Columns of a regression: ones, then those of the terms; a missing factor is at its mean."""
    parts = [np.ones((len(table), 1))]
    for term in terms:
        if term.factor in table:
            parts.append(term.columns(table[term.factor]))
        else:
            parts.append(np.zeros((len(table), len(term.centre))))
    return np.hstack(parts)


def _raw(values: Any, levels: tuple[str, ...], knots: tuple[float, ...]) -> Floats:
    """Give indicators of all words but the first, or the restricted cubic spline of numbers."""
    if levels:
        words = pd.Series(values).astype(str).to_numpy()
        shown = (words[:, None] == np.array(levels[1:], dtype=object)).astype(float)
        known = np.isin(words, np.array(levels, dtype=object))
        return np.asarray(np.where(known[:, None], shown, np.nan))
    number = np.asarray(values, float)
    first, *middle, before, last = knots
    scale = (last - first) ** 2
    columns = [number]
    for knot in (first, *middle):
        bend = _cube(number - knot) - _cube(number - before) * (last - knot) / (last - before)
        bend += _cube(number - last) * (before - knot) / (last - before)
        columns.append(bend / scale)
    return np.stack(columns, axis=1)


def _cube(number: Floats) -> Floats:
    return np.maximum(number, 0.0) ** 3


def _quantiles(values: Floats, weight: Floats, parts: Sequence[float]) -> Any:
    """Give weighted quantiles."""
    order = np.argsort(values, kind="stable")
    upto = np.cumsum(weight[order])
    upto = (upto - weight[order] / 2) / upto[-1]
    return tuple(float(q) for q in np.interp(parts, upto, values[order]))
