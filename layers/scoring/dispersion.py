"""Whether fish come more bunched than chance has them, and what that takes from a count."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from scipy.special import chdtrc, gammaln

__all__ = ["Dispersion", "bunching_likelihood", "dispersion"]

Floats = NDArray[np.float64]

SIGNIFICANT: Final = 0.05
MOST: Final = 20.0


@dataclass(frozen=True, slots=True)
class Dispersion:
    """What the spread of counts about the rates of their groups says.

    Attributes
    ----------
    index : float
        Pearson's chi-square over its degrees of freedom; 1 is Poisson.  NaN without any.
    freedom : int
    p : float
        Chance of an index as great from Poisson counts; NaN without degrees of freedom.
    ratio : float
        Variance over mean that is reckoned with: the maximum of the negative binomial likelihood
        where p < 0.05, else 1.
    """

    index: float
    freedom: int
    p: float
    ratio: float

    @property
    def bunched(self) -> bool:
        """Whether Poisson is rejected."""
        return self.ratio > 1.0


def dispersion(count: Any, hours: Any, group: Any) -> Dispersion:
    """Test counts for overdispersion within groups of one rate.

    Fisher's index of dispersion against chi-square (Fisher, Thornton & Mackenzie 1922; Potthoff &
    Whittinghill 1966), with effort.  Where it rejects, the variance over the mean is that of the
    negative binomial law whose variance is a fixed multiple of its mean (Cameron & Trivedi 1998:
    NB1), which adds up over drifts as effort does.

    Parameters
    ----------
    count, hours : array, shape (n,)
        Of each drift, or visit.
    group : array, shape (n,)
        Its line.

    Returns
    -------
    Dispersion
        With NaN, and a ratio of 1, where no group has two counts to compare.

    Examples
    --------
    >>> import numpy as np
    >>> bunched = dispersion(np.array([0, 8, 0, 0, 9, 0]), np.ones(6), np.array(["N1"] * 6))
    >>> bunched.ratio > 1
    True
    """
    count, hours = np.asarray(count, float), np.asarray(hours, float)
    fished = hours > 0
    count, hours = count[fished], hours[fished]
    _, which = np.unique(np.asarray(group)[fished].astype(str), return_inverse=True)
    total, effort = np.bincount(which, count), np.bincount(which, hours)
    expected = (total / effort)[which] * hours if len(count) else count
    some = expected > 0
    freedom = int(some.sum() - len(np.unique(which[some])))
    if freedom < 1:
        return Dispersion(float("nan"), max(freedom, 0), float("nan"), 1.0)
    pearson = float(((count - expected)[some] ** 2 / expected[some]).sum())
    p = float(chdtrc(freedom, pearson))
    ratio = _ratio(count[some], expected[some], freedom) if p < SIGNIFICANT else 1.0
    return Dispersion(pearson / freedom, freedom, p, ratio)


def bunching_likelihood(ratio: float, count: Floats, expected: Floats) -> float:
    """Log likelihood of counts whose variance is `ratio` times their mean; above 1.

    Examples
    --------
    >>> import numpy as np
    >>> count, expected = np.array([0.0, 8, 0, 9]), np.full(4, 4.25)
    >>> bunching_likelihood(4.0, count, expected) > bunching_likelihood(1.1, count, expected)
    True
    """
    size = expected / (ratio - 1.0)
    return float(
        (
            gammaln(count + size) - gammaln(size) - gammaln(count + 1)
            - size * np.log(ratio) + count * np.log((ratio - 1.0) / ratio)
        ).sum()
    )  # fmt: skip


def _ratio(count: Floats, expected: Floats, freedom: int) -> float:
    """Fit the ratio, made good for the rates that were fitted to the same counts."""
    found = minimize_scalar(
        lambda ratio: -bunching_likelihood(ratio, count, expected),
        bounds=(1.0 + 1e-6, MOST),
        method="bounded",
    )
    return float(1.0 + (found.x - 1.0) * len(count) / freedom)
