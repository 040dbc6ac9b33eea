"""Drifts on which the motor ran, found by a mixture: each drift against the others.

Water and wind alone move a free boat.  A motored one is kept along the water at a pace of its own,
which the wind does not change, or is driven somewhere else.  A drift's mean velocity v comes from
one of three kinds, with c the current of the drifts' common model and u its direction:

    free:   v = c + scale leeway(wind) + error
    held:   v = share |c| u + error, the share about two thirds
    driven: v = c + anything

They are parted by expectation and maximization (Dempster, Laird & Rubin 1977), started from many
small sets of drifts (as Rousseeuw & Van Driessen 2006 begin theirs), since with half of the drifts
motored one start from all ends anywhere; the end of greatest marginal likelihood counts (Laplace).
An outing's own shares are drawn to those of all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from seabed.array_types import Floats, Pair

FEWEST: Final = 15
"""Fewer drifts can't be compared with each other: the model has as many coefficients."""

STARTS: Final = 100
ROUNDS: Final = 40
FIRST_ROUNDS: Final = 3
"""With the spread of free drifts as it is before any is seen."""
START_DRIFTS: Final = (5, 9)
DRAWS: Final = 200
TEMPER: Final = 3.0
"""By which log likelihoods of the ends are divided: the three kinds are no more than a likeness."""

FREE_MPS: Final = 0.065
FREE_DRIFTS: Final = 10.0
"""Spread of a free drift before any is seen, and how many drifts it weighs.  This figure and those
below were set on simulated seasons."""
HELD_SHARE: Final = (0.65, 0.3)
HELD_MPS: Final = 0.08
HELD_ASIDE: Final = 0.25
DRIVEN_MPS: Final = 0.35
"""Pace of a held boat over the water's, and its spread; what its velocity is off besides, and
aside as a share of the current; spread of a driven one."""
OUTING_DRIFTS: Final = 8.0
"""How many drifts the shares of all outings weigh in an outing's own."""
PRIOR_SHARES: Final = np.array([1.0, 0.5, 0.5])


@dataclass(frozen=True, slots=True)
class Mixture:
    """Drifts parted into free and motored ones.

    free, shape (n,): chance that a drift was free.
    push_mps, shape (n, 2): east and north of its velocity beyond what water and wind do.
    scale: of the craft's leeway on free drifts, and its standard deviation.
    doubt, shape (m, m): covariance of the coefficients from not knowing which drifts are free.
    """

    free: Floats
    push_mps: Floats
    scale: tuple[float, float]
    doubt: Floats


def part_drifts(
    basis: Floats, leeway: Floats, velocity: Floats, trips: Any, prior: Pair
) -> Mixture:
    """Part drifts into free and motored ones.

    basis, shape (n, k): columns of the current's model for one component, mean over each drift.
    leeway, velocity, shape (n, 2): east and north, m/s.
    trips, shape (n,): the outing of each.
    prior: mean and precision of the 2 k + 1 coefficients, the leeway's scale last.
    """
    rng = np.random.default_rng(0)
    drifts = _Drifts.of(basis, leeway, velocity, trips, prior)
    ends = drifts.ends(rng)
    best = int(np.argmax(ends.likelihood))
    coefficients, free = ends.coefficients[best], ends.free[best]
    drawn = drifts.drawn(ends, rng) - coefficients
    push = velocity - drifts.design @ coefficients
    spread = np.linalg.inv(ends.precision[best])
    scale = float(coefficients[-1]), float(np.sqrt(spread[-1, -1]))
    return Mixture(free, push, scale, drawn.T @ drawn / len(drawn))


@dataclass(frozen=True, slots=True)
class _Ends:
    """Where each of s starts ended: chances (s, n), coefficients (s, m), their precision, fit."""

    free: Floats
    coefficients: Floats
    precision: Floats
    spread_mps: Floats
    likelihood: Floats


@dataclass(frozen=True, slots=True)
class _Drifts:
    design: Floats
    leeway: Floats
    velocity: Floats
    outings: Floats
    prior: Pair

    @classmethod
    def of(
        cls, basis: Floats, leeway: Floats, velocity: Floats, trips: Any,
        prior: Pair,
    ) -> _Drifts:  # fmt: skip
        n, k = basis.shape
        design = np.zeros((n, 2, 2 * k + 1))
        design[:, 0, :k] = design[:, 1, k : 2 * k] = basis
        design[:, :, -1] = leeway
        _, number = np.unique(np.asarray(trips, str), return_inverse=True)
        return cls(design, leeway, velocity, np.eye(int(number.max()) + 1)[number], prior)

    def ends(self, rng: np.random.Generator) -> _Ends:
        """Begin from all drifts, and from small sets of them, and improve each to its end."""
        n, number = len(self.velocity), self.outings.argmax(axis=1)
        weights = np.zeros((STARTS, n))
        for row in weights[1:]:
            row[rng.choice(n, min(int(rng.integers(*START_DRIFTS)), n), replace=False)] = 1.0
        weights[0] = 1.0
        spread = np.full(STARTS, FREE_MPS)
        shares = np.tile([0.5, 0.25, 0.25], (STARTS, n, 1))
        for at in range(ROUNDS):
            precision, coefficients = self._solve(weights, spread)
            fits = self._fits(coefficients)
            if at >= FIRST_ROUNDS:
                kept = weights.sum(axis=1) + FREE_DRIFTS
                squares = (weights * fits[0]).sum(axis=1) + 2 * FREE_DRIFTS * FREE_MPS**2
                spread = np.sqrt(squares / (2 * kept))
            free = -2 * np.log(spread)[:, None] - fits[0] / (2 * spread[:, None] ** 2)
            parts = np.stack([free, *fits[1:]], axis=2) + np.log(shares)
            whole = np.logaddexp.reduce(parts, axis=2)
            chances = np.exp(parts - whole[:, :, None])
            weights = chances[:, :, 0]
            common = (chances.sum(axis=1) + PRIOR_SHARES) / (n + PRIOR_SHARES.sum())
            own = np.einsum("snk,nt->stk", chances, self.outings) + OUTING_DRIFTS * common[:, None]
            shares = (own / (self.outings.sum(axis=0)[:, None] + OUTING_DRIFTS))[:, number]
        off = coefficients - self.prior[0]
        likelihood = (
            whole.sum(axis=1)
            - 0.5 * (off**2 * self.prior[1]).sum(axis=1)
            - 0.5 * np.linalg.slogdet(precision)[1]
            - FREE_DRIFTS * (2 * np.log(spread) + (FREE_MPS / spread) ** 2)
            + (np.log(common) * PRIOR_SHARES).sum(axis=1)
        )
        return _Ends(weights, coefficients, precision, spread, likelihood)

    def drawn(self, ends: _Ends, rng: np.random.Generator) -> Floats:
        """Draw ends and which drifts are free, and give the coefficients of each draw."""
        _, apart = np.unique(ends.likelihood.round(1), return_index=True)  # each end once
        chance = np.exp((ends.likelihood[apart] - ends.likelihood.max()) / TEMPER)
        rows = apart[rng.choice(len(apart), DRAWS, p=chance / chance.sum())]
        free = (rng.random((DRAWS, len(self.velocity))) < ends.free[rows]).astype(float)
        return self._solve(free, ends.spread_mps[rows])[1]

    def _solve(self, weights: Floats, spread: Floats) -> Pair:
        """Precision and mean of the coefficients, for weights of shape (s, n)."""
        mean, known = self.prior
        m = len(mean)
        squares = np.einsum("nci,ncj->nij", self.design, self.design).reshape(-1, m * m)
        seen = np.einsum("nci,nc->ni", self.design, self.velocity)
        scaled = weights / spread[:, None] ** 2
        precision = (scaled @ squares).reshape(-1, m, m) + np.diag(known)
        right = scaled @ seen + known * mean
        return precision, np.linalg.solve(precision, right[:, :, None])[:, :, 0]

    def _fits(self, coefficients: Floats) -> tuple[Floats, Floats, Floats]:
        """Squares of what is left of free drifts; log likelihoods of held and of driven ones."""
        current = np.einsum("nci,si->snc", self.design[:, :, :-1], coefficients[:, :-1])
        beside = self.velocity - current
        off = beside - coefficients[:, -1][:, None, None] * self.leeway
        size = np.maximum(np.hypot(current[..., 0], current[..., 1]), 1e-6)
        way = current / size[..., None]
        along = (self.velocity * way).sum(axis=2) - HELD_SHARE[0] * size
        aside = self.velocity[:, 0] * way[..., 1] - self.velocity[:, 1] * way[..., 0]
        along_var = HELD_MPS**2 + (HELD_SHARE[1] * size) ** 2
        aside_var = HELD_MPS**2 + (HELD_ASIDE * size) ** 2
        held = -0.5 * (np.log(along_var * aside_var) + along**2 / along_var + aside**2 / aside_var)
        driven = -2 * np.log(DRIVEN_MPS) - (beside**2).sum(axis=2) / (2 * DRIVEN_MPS**2)
        return (off**2).sum(axis=2), held, driven
