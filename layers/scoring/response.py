"""How the rate answers to bottom, water and wind - said only where it foretells better.

Poisson regression with effort as offset (McCullagh & Nelder 1989), numbers through restricted cubic
splines (Harrell 2001), words through indicators.  A factor is taken in only if it lowers the
deviance by more than chance with as many factors tried (Bonferroni, on a scale that bunched fish
widen) and foretells the fish of trips left out better than without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import chdtrc, ndtri

from layers.scoring.terms import Term, columns_of, term_of

__all__ = ["RESPONSE_FACTORS", "Response", "fit_poisson", "fit_response"]

Floats = NDArray[np.float64]

RESPONSE_FACTORS: Final = (
    "depth_m",
    "state",
    "edge_m",
    "slope_deg",
    "sog_mps",
    "wind_along_mps",
)
"""Factors that are tried."""

SIGNIFICANT: Final = 0.05
FOLDS: Final = 10
LEAST_TRIPS: Final = 4
LEAST_FISH: Final = 20
RIDGE: Final = 0.5
"""Holds coefficients of scaled columns where there are few fish."""


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
        Log likelihood of the fish of trips left out, over that of the plain rate, per fish.
    p : dict of str to float
        Of each factor as it came in, times the number of factors tried.
    trips, fish : int
        That it was fitted to.
    """

    terms: tuple[Term, ...]
    coefficients: Floats
    covariance: Floats
    scale: float
    gain: float
    p: dict[str, float]
    trips: int
    fish: int

    @property
    def factors(self) -> tuple[str, ...]:
        """Names of the factors taken in."""
        return tuple(term.factor for term in self.terms)

    def rate(self, table: pd.DataFrame, *, level: float = 0.8) -> pd.DataFrame:
        """Give the expected fish a rod-hour, with limits of that expectation.

        Parameters
        ----------
        table : DataFrame
            Columns of the factors; one that is missing counts at its average over the effort.
        level : float

        Returns
        -------
        DataFrame
            ``rate``, ``rate_low``, ``rate_high``; NaN where a factor has a value that was never
            fished (outside all but the outermost hundredth of the effort) or is NaN.
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

    def fished(self, table: pd.DataFrame) -> NDArray[np.bool_]:
        """Say of which rows `rate` can tell: those whose factors all have values that were fished.

        A column that is missing is taken for known.
        """
        told = np.ones(len(table), np.bool_)
        for term in self.terms:
            if term.factor in table:
                told &= term.fished(table[term.factor])
        return told

    def effect(self, factor: str, *, points: int = 41, level: float = 0.8) -> pd.DataFrame:
        """Give the expected rate along one factor, the others at their average.

        Returns
        -------
        DataFrame
            ``value`` (over what was fished), ``rate``, ``rate_low``, ``rate_high``.
        """
        term = next(term for term in self.terms if term.factor == factor)
        table = pd.DataFrame({factor: term.values(points)})
        told = self.rate(table, level=level)
        return told.assign(value=table[factor])[["value", "rate", "rate_low", "rate_high"]]

    def sentences(self) -> list[str]:
        """Say what it found, and on how much."""
        said = []
        for term in self.terms:
            effect = self.effect(term.factor)
            best = effect.loc[effect["rate"].idxmax()]
            worst = effect["rate"].min()
            value = best["value"] if isinstance(best["value"], str) else f"{best['value']:.1f}"
            said.append(
                f"{term.factor}: best at {value} with {best['rate']:.1f} fish a rod-hour "
                f"({best['rate_low']:.1f} to {best['rate_high']:.1f}), {worst:.1f} at worst "
                f"(p {self.p[term.factor]:.3f}; {self.fish} fish, {self.trips} trips)."
            )
        return said


def fit_response(
    samples: pd.DataFrame,
    *,
    factors: Sequence[str] = RESPONSE_FACTORS,
    folds: int = FOLDS,
    seed: int = 0,
) -> Response | None:
    """Fit a response, or tell that there is none to be seen.

    Parameters
    ----------
    samples : from `with_factors`
        Those with a factor unknown are left out for the factors that any sample knows.
    factors : sequence of str
        To try, of the columns that `samples` have.
    folds : int
        Parts that the trips are dealt to for cross-validation; each trip lies in one.
    seed : int
        For the dealing.

    Returns
    -------
    Response or None
        None with fewer than 4 trips or 20 fish, or where no factor foretells better than the plain
        rate.

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip, gather, tie
    >>> from layers.scoring import sample_drifts
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> own = gather(drifts(cut(fixes), fixes))
    >>> samples = sample_drifts(own, tie(catches, own, fixes), fixes)
    >>> fit_response(samples) is None  # four drifts show no pattern
    True
    """
    known = [name for name in factors if name in samples and samples[name].notna().any()]
    use = samples[(samples["rod_hours"] > 0) & samples[known].notna().all(axis=1)]
    terms = {name: term_of(name, use[name], use["rod_hours"].to_numpy(float)) for name in known}
    usable = [term for term in terms.values() if term is not None]
    use = use.assign(**{term.factor: term.clipped(use[term.factor]) for term in usable})
    use = use[np.isfinite(columns_of(usable, use)).all(axis=1)]
    trips, trip = np.unique(use["trip"].to_numpy().astype(str), return_inverse=True)
    fish = int(use["fish"].sum())
    if len(trips) < LEAST_TRIPS or fish < LEAST_FISH or not usable:
        return None
    return _forward(_Season.of(use, trip, len(trips), folds, seed), use, usable)


@dataclass(frozen=True, slots=True)
class _Season:
    """What fits are made to: fish, hours, trip, drift and fold of each sample."""

    fish: Floats
    hours: Floats
    trip: NDArray[np.int64]
    drift: NDArray[np.int64]
    fold: NDArray[np.int64]

    @classmethod
    def of(
        cls, use: pd.DataFrame, trip: NDArray[np.int64], trips: int, folds: int, seed: int
    ) -> _Season:
        dealt = np.random.default_rng(seed).permutation(trips) % min(folds, trips)
        _, drift = np.unique(use["drift_id"].to_numpy().astype(str), return_inverse=True)
        return cls(
            use["fish"].to_numpy(float), use["rod_hours"].to_numpy(float), trip, drift, dealt[trip]
        )


@dataclass(frozen=True, slots=True)
class _Wider:
    """The regression with one more term."""

    term: Term
    columns: Floats
    fit: Floats
    covariance: Floats
    score: float
    p: float


def _forward(season: _Season, use: pd.DataFrame, usable: list[Term]) -> Response | None:
    """Take in factors one by one, each time the one that foretells best."""
    chosen: list[_Wider] = []
    columns = columns_of((), use)
    fit, covariance = fit_poisson(columns, season.fish, season.hours)
    best_told = plain = _left_out(season, columns, fit)
    while len(chosen) < len(usable):
        score = _log_score(columns, fit, season.fish, season.hours)
        taken = [wider.term for wider in chosen]
        tried = [
            _widened(season, use, (columns, fit, score), term, len(usable))
            for term in usable
            if term not in taken
        ]
        best = None
        for wider in sorted(tried, key=lambda wider: -wider.score):
            # a fit foretells trips left out no better than it tells all trips when fitted to all
            if wider.p >= SIGNIFICANT or wider.score <= best_told:
                continue
            told = _left_out(season, wider.columns, wider.fit)
            if told > best_told:
                best, best_told = wider, told
        if best is None:
            break
        chosen.append(best)
        columns, fit, covariance = best.columns, best.fit, best.covariance
    if not chosen:
        return None
    scale, fish = _scale(season, columns, fit), season.fish.sum()
    return Response(
        tuple(wider.term for wider in chosen), fit, covariance * scale, scale,
        float((best_told - plain) / fish), {wider.term.factor: wider.p for wider in chosen},
        int(season.trip.max()) + 1, int(fish),
    )  # fmt: skip


def _widened(
    season: _Season,
    use: pd.DataFrame,
    so_far: tuple[Floats, Floats, float],
    term: Term,
    tried: int,
) -> _Wider:
    """Add a term to the columns, fit and log score so far; its p is times how many are tried."""
    columns, fit, score = so_far
    more = np.hstack([columns, term.columns(use[term.factor])])
    start = np.concatenate([fit, np.zeros(more.shape[1] - len(fit))])
    wider, covariance = fit_poisson(more, season.fish, season.hours, start=start)
    better = _log_score(more, wider, season.fish, season.hours)
    scale = _scale(season, more, wider)
    p = float(chdtrc(len(wider) - len(fit), max(2 * (better - score), 0.0) / scale))
    return _Wider(term, more, wider, covariance, better, p * tried)


def fit_poisson(
    columns: Floats,
    fish: Floats,
    hours: Floats,
    *,
    ridge: float = RIDGE,
    start: Floats | None = None,
) -> tuple[Floats, Floats]:
    """Fit log rate = columns x coefficients to fish in hours, by Newton's method.

    Parameters
    ----------
    columns : ndarray, shape (n, k)
        The first is 1.
    fish, hours : ndarray, shape (n,)
        Where both are 0 a row counts for nothing.
    ridge : float
        Added to the information of every coefficient but the first.
    start : ndarray, shape (k,), optional
        Coefficients to begin from; near the answer it takes fewer steps.

    Returns
    -------
    coefficients : ndarray, shape (k,)
    covariance : ndarray, shape (k, k)

    Examples
    --------
    >>> import numpy as np
    >>> columns = np.column_stack([np.ones(6), [0, 0, 0, 1, 1, 1]])
    >>> weights, _ = fit_poisson(columns, np.array([1.0, 1, 1, 3, 3, 3]), np.ones(6), ridge=0.0)
    >>> np.exp(weights).round(1).tolist()
    [1.0, 3.0]
    """
    penalty = np.full(columns.shape[1], ridge)
    penalty[0] = 0.0
    if start is None:
        at = np.zeros(columns.shape[1])
        at[0] = np.log(max(fish.sum(), 0.5) / hours.sum())
    else:
        at = start
    for _ in range(30):
        expected = hours * np.exp(np.clip(columns @ at, -20, 20))
        slope = columns.T @ (fish - expected) - penalty * at
        information = (columns.T * expected) @ columns + np.diag(penalty)
        step = np.linalg.solve(information, slope)
        step /= max(1.0, np.abs(step).max() / 2.0)
        at = at + step
        if np.abs(step).max() < 1e-6:  # what is left is of the order of its square
            break
    return at, np.asarray(np.linalg.inv(information), np.float64)


def _log_score(columns: Floats, fit: Floats, fish: Floats, hours: Floats) -> float:
    """Log likelihood, but for what hangs on fish and hours alone."""
    log_rate = columns @ fit
    return float((fish * log_rate - hours * np.exp(log_rate)).sum())


def _left_out(season: _Season, columns: Floats, start: Floats) -> float:
    """Log score of the trips left out, fold by fold, of fits that begin from that to all trips."""
    total = 0.0
    for fold in range(int(season.fold.max()) + 1):
        out = season.fold == fold
        stay = ~out
        fit, _ = fit_poisson(columns, season.fish * stay, season.hours * stay, start=start)
        total += _log_score(columns[out], fit, season.fish[out], season.hours[out])
    return total


def _scale(season: _Season, columns: Floats, fit: Floats) -> float:
    """Pearson's index of drifts or of trips, whichever is greater; at least 1."""
    expected = season.hours * np.exp(columns @ fit)
    greatest = 1.0
    for group in (season.drift, season.trip):
        due, came = np.bincount(group, expected), np.bincount(group, season.fish)
        freedom = len(due) - (columns.shape[1] if group is season.drift else 1)
        if freedom > 0:
            greatest = max(greatest, float(((came - due) ** 2 / due).sum() / freedom))
    return greatest
