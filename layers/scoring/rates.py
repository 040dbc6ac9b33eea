"""Fish a rod-hour, honest on small numbers.

Counts are Poisson on effort; the lines' true rates follow a Gamma law whose mean and shape are
learned from all lines together by marginal (negative binomial) likelihood: empirical Bayes (Robbins
1956; Gaver & O'Muircheartaigh 1987).  Few lines say little about the shape, so it has a weak prior:
log-normal about 1.5 with a factor of 2.5 for one standard deviation.  What stays unsure of mean and
shape is summed over (Kass & Steffey 1989): with one best guess alone, intervals come out too short.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

import numpy as np
from scipy.optimize import minimize
from scipy.special import betaln, expit, gammaincinv, gammaln, logit

from seabed.array_types import Floats, Pair

SHAPE_GUESS: Final = 1.5
SHAPE_FACTOR: Final = 2.5
SHARE_WEIGHT: Final = 80.0
"""Fish that the common share of kept ones weighs as: the guess; with the same factor of doubt, but
far more room for surprise.  Lines mostly differ in it less than a few fish make believe.  Common
practice, no source."""

CAUTION: Final = 0.2
"""The quantile of a line's rate that is its cautious value: four chances in five that it is better.
Lines of few hours are ranked on it; all of them ranked so lose fish
(docs/scores.md)."""

DRAWS: Final = 20_000
NODES: Final = 9
"""Points a side of the grid on which mean and shape are summed over."""


@dataclass(frozen=True, slots=True)
class Prior:
    """Gamma law of the lines' true rates, the likeliest: mean in fish a rod-hour, and shape.

    means, shapes, weights, shape (m,): others that the counts allow, and how likely each is;
        without them, mean and shape are taken as known.
    """

    mean: float
    shape: float
    means: Floats = field(default_factory=lambda: np.zeros(0))
    shapes: Floats = field(default_factory=lambda: np.zeros(0))
    weights: Floats = field(default_factory=lambda: np.zeros(0))

    @property
    def hours(self) -> float:
        """Rod-hours of evidence that the prior weighs as."""
        return self.shape / self.mean

    def nodes(self) -> tuple[Floats, Floats, Floats]:
        """Shapes, hours and weights to sum over; at least one."""
        if not len(self.weights):
            return np.array([self.shape]), np.array([self.hours]), np.ones(1)
        return self.shapes, self.shapes / self.means, self.weights


def poisson_limits(count: Any, *, level: float = 0.8) -> Pair:
    """Exact central limits of a Poisson mean (Garwood 1936).

    >>> low, high = poisson_limits(5, level=0.95)
    >>> round(float(low), 4), round(float(high), 4)
    (1.6235, 11.6683)
    """
    count = np.asarray(count, float)
    tail = (1 - level) / 2
    low = np.where(count > 0, gammaincinv(np.where(count > 0, count, 1.0), tail), 0.0)
    return low, gammaincinv(count + 1, 1 - tail)


def fit_prior(
    count: Any,
    hours: Any,
    *,
    guess: float = SHAPE_GUESS,
    factor: float | None = None,
    near: Prior | None = None,
) -> Prior:
    """Fit the Gamma law of rates across lines by penalised marginal likelihood.

    With no fish at all, a mean of half a fish in all the hours; with no hours, one fish a rod-hour
    at the guessed shape.

    guess, factor: of the shape, and how far one standard deviation is from it.
    near: one near the answer, which is then found sooner, and without its neighbours.
    """
    count, hours = np.asarray(count, float), np.asarray(hours, float)
    count, hours = count[hours > 0], hours[hours > 0]
    if not len(hours):
        return Prior(1.0, guess)
    pooled = max(count.sum(), 0.5) / hours.sum()
    if count.sum() == 0:
        return Prior(pooled, guess)

    def cost(logs: Floats) -> float:
        mean, shape = np.exp(logs)
        off = np.log(shape / guess) / np.log(factor or SHAPE_FACTOR)
        return -_log_likelihood(mean, shape, count, hours) + float(off**2) / 2

    if near is not None:
        mean, shape = np.exp(_least(cost, np.log([near.mean, near.shape])))
        return Prior(float(mean), float(shape))
    best, nodes, weights = _likely(cost, np.log([pooled, guess]))
    mean, shape = np.exp(best)
    means, shapes = np.exp(nodes).T
    return Prior(float(mean), float(shape), means, shapes, weights)


@dataclass(frozen=True, slots=True)
class KeptRates:
    """Posterior rates of kept fish of n lines, fish a rod-hour; each of shape (n,).

    low, high: ends of the central interval.  cautious: the `CAUTION` quantile.
    chance_best: chance that the line's true rate is the greatest; sums to 1.
    """

    mean: Floats
    low: Floats
    high: Floats
    cautious: Floats
    chance_best: Floats


class Drawn(Protocol):
    """Rates that can be drawn."""

    def draw(self, random: np.random.Generator, draws: int) -> Floats:
        """Draw rates of all lines together, shape (draws, n)."""


def kept_rates(
    every: Drawn, kept: Any, short: Any, *, level: float = 0.8, seed: int = 0
) -> KeptRates:
    """Rates of kept fish: the rate of all fish times the share that is kept.

    Shorts are fish too, and show where fish are; so a line's rate rests on all its fish, and the
    share that is of size on kept against short, drawn toward the share of all lines together
    (beta-binomial, its weight learned from the lines about a guess of `SHARE_WEIGHT` fish). The
    product has no closed law: its mean, interval and chances are of seeded draws.
    """
    kept, short = np.asarray(kept, float), np.asarray(short, float)
    if not len(kept):
        return KeptRates(*(np.zeros(0) for _ in range(5)))
    random = np.random.default_rng(seed)
    drawn = every.draw(random, DRAWS)
    drawn *= _draw_shares(kept, short, random)
    tail = (1 - level) / 2
    best = np.bincount(drawn.argmax(axis=1), minlength=len(kept)) / DRAWS
    mean = drawn.mean(axis=0)
    low, cautious, high = np.quantile(
        drawn, [tail, CAUTION, 1 - tail], axis=0, overwrite_input=True
    )
    return KeptRates(mean, low, high, cautious, best)


def _draw_shares(kept: Floats, short: Floats, random: np.random.Generator) -> Floats:
    """Draw each line's share of kept fish, shape (`DRAWS`, n)."""

    def cost(point: Floats) -> float:
        share, weight = expit(point[0]), np.exp(point[1])
        a, b = weight * share, weight * (1 - share)
        likelihood = (betaln(a + kept, b + short) - betaln(a, b)).sum()
        flat = np.log(share * (1 - share))  # an even prior on the share itself
        # Cauchy's law: where lines differ widely, their counts outweigh it
        off = np.log(weight / SHARE_WEIGHT) / np.log(SHAPE_FACTOR)
        return float(-likelihood - flat + np.log1p(off**2))

    share = (kept.sum() + 1) / (kept.sum() + short.sum() + 2)
    _, nodes, weights = _likely(cost, np.array([logit(share), np.log(SHARE_WEIGHT)]))
    node = nodes[random.choice(len(weights), size=DRAWS, p=weights)]
    mean, weight = expit(node[:, :1]), np.exp(node[:, 1:])
    return np.asarray(random.beta(weight * mean + kept, weight * (1 - mean) + short))


def _log_likelihood(mean: float, shape: float, count: Floats, hours: Floats) -> float:
    """Negative binomial, the marginal law of the counts; factorials left out."""
    scaled = mean * hours
    return float(
        (
            gammaln(count + shape) - gammaln(shape)
            + shape * np.log(shape / (shape + scaled)) + count * np.log(scaled / (shape + scaled))
        ).sum()
    )  # fmt: skip


def _likely(cost: Callable[[Floats], float], start: Floats) -> tuple[Floats, Floats, Floats]:
    """Find the least of a cost of two numbers; nodes about it, and their weights.

    The nodes are a square grid of three standard deviations either way, along the axes of the
    cost's curvature.
    """
    best = _least(cost, start)
    values, axes = np.linalg.eigh(_curvature(cost, best))
    reach = 3.0 / np.sqrt(np.clip(values, 0.25, None))
    side = np.linspace(-1.0, 1.0, NODES)
    steps = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2) * reach
    nodes = best + steps @ axes.T
    weight = np.exp(cost(best) - np.array([cost(node) for node in nodes]))
    return best, nodes, weight / weight.sum()


def _least(cost: Callable[[Floats], float], start: Floats) -> Floats:
    simplex = start + 0.1 * np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    options = {"xatol": 1e-4, "fatol": 1e-6, "initial_simplex": simplex}
    return np.asarray(minimize(cost, start, method="Nelder-Mead", options=options).x)


def _curvature(cost: Callable[[Floats], float], at: Floats) -> Floats:
    """Second differences of a function of two numbers, shape (2, 2)."""
    step = 0.02
    a, b = np.eye(2) * step
    middle = cost(at)
    aa = cost(at + a) + cost(at - a) - 2 * middle
    bb = cost(at + b) + cost(at - b) - 2 * middle
    ab = (cost(at + a + b) + cost(at - a - b) - cost(at + a - b) - cost(at - a + b)) / 4
    return np.array([[aa, ab], [ab, bb]]) / step**2
