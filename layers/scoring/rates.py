"""Fish a rod-hour, honest on small numbers.

Counts are Poisson on effort; the lines' true rates follow a Gamma law whose mean and shape are
fitted to all lines together by marginal (negative binomial) likelihood: empirical Bayes (Robbins
1956; Gaver & O'Muircheartaigh 1987).  Few lines say little about the shape, so it has a weak prior:
log-normal about 1.5 with a factor of 2.5 for one standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import gammaln
from scipy.stats import chi2, gamma

__all__ = ["KeptRates", "Prior", "Rates", "fit_prior", "kept_rates", "poisson_limits", "rates_of"]

Floats = NDArray[np.float64]

SHAPE_GUESS: Final = 1.5
SHAPE_FACTOR: Final = 2.5
SHARE_WEIGHT: Final = 8.0
"""Fish that the common share of kept ones weighs as.  Common practice, no source."""

DRAWS: Final = 20_000


@dataclass(frozen=True, slots=True)
class Prior:
    """Gamma law of the lines' true rates: mean (fish a rod-hour) and shape."""

    mean: float
    shape: float

    @property
    def hours(self) -> float:
        """Rod-hours of evidence that the prior weighs as."""
        return self.shape / self.mean


@dataclass(frozen=True, slots=True)
class Rates:
    """Posterior rates of n lines, fish a rod-hour; each of shape (n,).

    Attributes
    ----------
    mean, low, high : ndarray
        Posterior mean and the ends of its central interval.
    shape, hours : ndarray
        Of each posterior Gamma law.
    """

    mean: Floats
    low: Floats
    high: Floats
    shape: Floats
    hours: Floats


def poisson_limits(count: Any, *, level: float = 0.8) -> tuple[Floats, Floats]:
    """Exact central limits of a Poisson mean (Garwood 1936).

    Parameters
    ----------
    count : int or array
        Events counted.
    level : float
        Confidence.

    Examples
    --------
    >>> low, high = poisson_limits(5, level=0.95)
    >>> round(float(low), 4), round(float(high), 4)
    (1.6235, 11.6683)
    """
    count = np.asarray(count, float)
    tail = (1 - level) / 2
    low = np.where(count > 0, chi2.ppf(tail, 2 * np.maximum(count, 1)) / 2, 0.0)
    return low, chi2.ppf(1 - tail, 2 * count + 2) / 2


def fit_prior(count: Any, hours: Any) -> Prior:
    """Fit the Gamma law of rates across lines by penalised marginal likelihood.

    Parameters
    ----------
    count, hours : array, shape (n,)
        Fish and rod-hours of each line; lines without hours are passed over.

    Returns
    -------
    Prior
        With no fish at all, a mean of half a fish in all the hours; with no hours, one fish a
        rod-hour at the guessed shape.
    """
    count, hours = np.asarray(count, float), np.asarray(hours, float)
    count, hours = count[hours > 0], hours[hours > 0]
    if not len(hours):
        return Prior(1.0, SHAPE_GUESS)
    pooled = max(count.sum(), 0.5) / hours.sum()
    if count.sum() == 0:
        return Prior(pooled, SHAPE_GUESS)

    def cost(logs: Floats) -> float:
        mean, shape = np.exp(logs)
        scaled = mean * hours
        likelihood = (
            gammaln(count + shape) - gammaln(shape) - gammaln(count + 1)
            + shape * np.log(shape / (shape + scaled)) + count * np.log(scaled / (shape + scaled))
        ).sum()  # fmt: skip
        doubt = (np.log(shape / SHAPE_GUESS) / np.log(SHAPE_FACTOR)) ** 2 / 2
        return float(doubt - likelihood)

    found = minimize(cost, np.log([pooled, SHAPE_GUESS]), method="Nelder-Mead")
    mean, shape = np.exp(found.x)
    return Prior(float(mean), float(shape))


def rates_of(count: Any, hours: Any, prior: Prior, *, level: float = 0.8) -> Rates:
    """Posterior rate of each line: Gamma(shape + fish, prior hours + rod-hours).

    A line without hours has the prior's rate and interval.
    """
    shape = prior.shape + np.asarray(count, float)
    total = prior.hours + np.asarray(hours, float)
    tail = (1 - level) / 2
    return Rates(
        mean=shape / total,
        low=gamma.ppf(tail, shape) / total,
        high=gamma.ppf(1 - tail, shape) / total,
        shape=shape,
        hours=total,
    )


@dataclass(frozen=True, slots=True)
class KeptRates:
    """Posterior rates of kept fish of n lines, fish a rod-hour; each of shape (n,).

    Attributes
    ----------
    mean, low, high : ndarray
        Posterior mean and the ends of its central interval.
    chance_best : ndarray
        Chance that the line's true rate is the greatest; sums to 1.
    """

    mean: Floats
    low: Floats
    high: Floats
    chance_best: Floats


def kept_rates(
    every: Rates, kept: Any, short: Any, *, level: float = 0.8, seed: int = 0, draws: int = DRAWS
) -> KeptRates:
    """Rates of kept fish: the rate of all fish times the share that is kept.

    Shorts are fish too, and tell where fish are; so a line's rate rests on all its fish, and the
    share that is of size on kept against short, drawn toward the share of all lines together with
    the weight of `SHARE_WEIGHT` fish.

    Parameters
    ----------
    every : Rates
        Of all fish.
    kept, short : array, shape (n,)
        Fish of which it is known.
    level : float
        Of the interval.
    seed, draws : int
        The product has no closed law: its mean, interval and chances are of seeded draws.
    """
    kept, short = np.asarray(kept, float), np.asarray(short, float)
    if not len(kept):
        return KeptRates(*(np.zeros(0) for _ in range(4)))
    share = (kept.sum() + 1) / (kept.sum() + short.sum() + 2)
    random = np.random.default_rng(seed)
    rate = random.gamma(every.shape, size=(draws, len(kept))) / every.hours
    of_size = random.beta(
        SHARE_WEIGHT * share + kept, SHARE_WEIGHT * (1 - share) + short, size=(draws, len(kept))
    )
    drawn = rate * of_size
    tail = (1 - level) / 2
    low, high = np.quantile(drawn, [tail, 1 - tail], axis=0)
    best = np.bincount(drawn.argmax(axis=1), minlength=len(kept)) / draws
    return KeptRates(drawn.mean(axis=0), low, high, best)
