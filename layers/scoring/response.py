"""How the rate answers to bottom, water and wind, only where that predicts better.

Poisson regression with effort as offset (McCullagh & Nelder 1989), numbers through restricted cubic
splines (Harrell 2001), words through indicators.  Lines differ for reasons of their own, and fish
are in patches along them; so the fish of one line, and of one trip, count as one witness.  A
factor is taken in only if it is sure by lines and by trips as witnesses (Wald's test on the
jackknife that leaves out one of them at a time: Efron 1982; against Hotelling's law, with as many
factors as were tried, Bonferroni), and predicts the fish of lines left out and of trips left out
better than without it (blocks of place and of time: Roberts et al. 2017).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.special import ndtri

from layers.scoring.terms import Term, columns_of, term_of
from layers.scoring.witnesses import (
    WITNESSES,
    SeasonFish,
    covariance_of,
    fit_poisson,
    left_out,
    log_score,
    scale_of,
    wald,
)
from seabed.array_types import Floats, Mask, Pair
from seabed.units import luck_words, rounded

RESPONSE_FACTORS: Final = (
    "depth_m",
    "state",
    "edge_m",
    "slope_deg",
    "sog_mps",
    "wind_along_mps",
)
"""Factors that are tried."""

SIGNIFICANT: Final = 0.015
FOLDS: Final = 10
LEAST_TRIPS: Final = 4
LEAST_LINES: Final = 10
ENOUGH_LINES: Final = 30
"""With fewer lines a response holds on these lines alone, and not for other water."""
LEAST_FISH: Final = 20


@dataclass(frozen=True, slots=True)
class Response:
    """A fitted response.

    Attributes
    ----------
    terms : tuple of Term
        Of the factors taken in, in that order.
    coefficients, covariance : ndarray
        Intercept first; of the columns of the terms.
    scale : float
        Variance over mean of the fish; 1 is Poisson.
    gain : float
        Log likelihood of the fish of lines left out, or of trips, whichever is less, over that of
        the plain rate, per fish.
    p : dict of str to float
        Of each factor as it came in, by lines or by trips, whichever is greater, times the number
        of factors tried.
    trips, lines, fish : int
        That it was fitted to.
    """

    terms: tuple[Term, ...]
    coefficients: Floats
    covariance: Floats
    scale: float
    gain: float
    p: dict[str, float]
    trips: int
    lines: int
    fish: int

    @property
    def elsewhere(self) -> bool:
        """Whether there are enough lines to predict water that nobody fished."""
        return self.lines >= ENOUGH_LINES

    @property
    def factors(self) -> tuple[str, ...]:
        """Names of the factors taken in."""
        return tuple(term.factor for term in self.terms)

    def rate(self, table: pd.DataFrame, *, level: float = 0.8) -> pd.DataFrame:
        """Give the expected fish a rod-hour, with limits: ``rate``, ``rate_low``, ``rate_high``.

        A factor that is missing from the table counts at its average over the effort.  NaN where
        one has a value that was never fished (outside all but the outermost hundredth of the
        effort) or is NaN.
        """
        columns = columns_of(self.terms, table)
        log_rate = columns @ self.coefficients
        spread = np.sqrt(((columns @ self.covariance) * columns).sum(axis=1))
        z = ndtri(0.5 + level / 2)
        return pd.DataFrame(
            {
                "rate": np.exp(log_rate),
                "rate_low": np.exp(log_rate - z * spread),
                "rate_high": np.exp(log_rate + z * spread),
            },
            index=table.index,
        )

    def fished(self, table: pd.DataFrame) -> Mask:
        """Say which rows `rate` knows: all factors given have values that were fished."""
        covered = np.ones(len(table), np.bool_)
        for term in self.terms:
            if term.factor in table:
                covered &= term.fished(table[term.factor])
        return covered

    def effect(self, factor: str, *, points: int = 41, level: float = 0.8) -> pd.DataFrame:
        """Give ``rate``, ``rate_low``, ``rate_high`` by one factor, the others at their average.

        ``value`` runs over what was fished.
        """
        term = next(term for term in self.terms if term.factor == factor)
        table = pd.DataFrame({factor: term.values(points)})
        curve = self.rate(table, level=level)
        return curve.assign(value=table[factor])[["value", "rate", "rate_low", "rate_high"]]

    def sentences(self) -> list[str]:
        """Say what it found, and on how much."""
        sentences = []
        for term in self.terms:
            effect = self.effect(term.factor)
            best = effect.loc[effect["rate"].idxmax()]
            worst = effect["rate"].min()
            value = best["value"] if isinstance(best["value"], str) else rounded(best["value"], 1)
            middle, low, high = (
                rounded(best[name], 1) for name in ("rate", "rate_low", "rate_high")
            )
            here = "" if self.elsewhere else f" on these {self.lines} lines"
            sentences.append(
                f"{term.factor}{here}: best at {value} with {middle} fish a rod-hour "
                f"({low} to {high}), {rounded(worst, 1)} at worst "
                f"({luck_words(self.p[term.factor])}; {self.fish} fish, {self.trips} trips)."
            )
        return sentences


def fit_response(
    samples: pd.DataFrame,
    *,
    factors: Sequence[str] = RESPONSE_FACTORS,
    folds: int = FOLDS,
    seed: int = 0,
) -> Response | None:
    """Fit a response; None where there is none to be seen.

    That is with fewer than 4 trips, 10 lines or 20 fish, or where no factor predicts better than
    the plain rate.  Samples with a factor unknown are left out for the factors that any sample
    knows; those without a ``line`` count as a line a drift.  Trips are divided into `folds` parts
    for cross-validation.
    """
    known = [name for name in factors if name in samples and samples[name].notna().any()]
    whose = [name for name in WITNESSES if name in samples]
    good = (samples["rod_hours"] > 0) & samples[known].notna().all(axis=1)
    use = samples.loc[good, [*whose, *known]]
    terms = {name: term_of(name, use[name], use["rod_hours"].to_numpy(float)) for name in known}
    usable = [term for term in terms.values() if term is not None]
    use = use.assign(**{term.factor: term.clipped(use[term.factor]) for term in usable})
    finite = [np.isfinite(term.columns(use[term.factor])).all(axis=1) for term in usable]
    use = use[np.logical_and.reduce(finite)] if finite else use
    season = SeasonFish.of(use, folds, seed)
    fish = int(use["fish"].sum())
    few = season.trips < LEAST_TRIPS or season.lines < LEAST_LINES
    if few or fish < LEAST_FISH or not usable:
        return None
    return _forward(season, use, usable)


@dataclass(frozen=True, slots=True)
class _Wider:
    """The regression with one more term."""

    term: Term
    fit: Floats
    covariance: Floats
    score: float
    p: float


def _forward(season: SeasonFish, use: pd.DataFrame, usable: list[Term]) -> Response | None:
    """Take in factors one by one, each time the one that predicts best."""
    chosen: list[_Wider] = []
    columns = columns_of((), use)
    fit, covariance = fit_poisson(columns, season.fish, season.hours)
    best_gain = plain = left_out(season, columns, fit)
    while len(chosen) < len(usable):
        taken = [wider.term for wider in chosen]
        tried = [
            _widened(season, use, (columns, fit), term, len(usable))
            for term in usable
            if term not in taken
        ]
        best = None
        for wider in sorted(tried, key=lambda wider: -wider.score):
            # a fit predicts what was left out no better than what it was fitted to
            if wider.p >= SIGNIFICANT or wider.score <= best_gain.max():
                continue
            gain = left_out(season, _with(columns, wider.term, use), wider.fit)
            if (gain > best_gain).all():
                best, best_gain = wider, gain
                break
        if best is None:
            break
        chosen.append(best)
        columns, fit, covariance = _with(columns, best.term, use), best.fit, best.covariance
    if not chosen:
        return None
    fish = season.fish.sum()
    return Response(
        tuple(wider.term for wider in chosen), fit, covariance_of(season, columns, fit, covariance),
        scale_of(season, columns, fit), float((best_gain - plain).min() / fish),
        {wider.term.factor: wider.p for wider in chosen}, season.trips, season.lines, int(fish),
    )  # fmt: skip


def _widened(
    season: SeasonFish,
    use: pd.DataFrame,
    so_far: Pair,
    term: Term,
    tried: int,
) -> _Wider:
    """Add a term to the columns and fit so far; its p is times how many are tried."""
    columns, fit = so_far
    more = _with(columns, term, use)
    start = np.concatenate([fit, np.zeros(more.shape[1] - len(fit))])
    wider, covariance = fit_poisson(more, season.fish, season.hours, start=start)
    better = log_score(more, wider, season.fish, season.hours)
    new = np.arange(len(fit), len(wider))
    p = max(
        wald(season, more, wider, covariance, group, new) for group in (season.line, season.trip)
    )
    return _Wider(term, wider, covariance, better, min(p * tried, 1.0))


def _with(columns: Floats, term: Term, use: pd.DataFrame) -> Floats:
    return np.hstack([columns, term.columns(use[term.factor])])
