"""The current of one ground, learned from the skipper's own drifts.

A drifting boat goes with the water and, a little, with the wind.  Its velocity over the ground is
fitted with the tide's own parts at the station, each with an admittance (a size and a lag) of its
own, plus the leeway of the craft in the wind, plus what one outing, or one drift, has to itself,
plus error:

    v = c + a . z1 + b . (z2 + z1 / 2) + d . z2^2 + scale leeway(wind) + outing + drift + error

z1 and z2 are the daily and half-daily part of the station's tide (the response method of Munk &
Cartwright 1966, with one admittance a band): springs, neaps and the daily inequality come in with
the station's.  Where the water that runs by is what fills a basin, the daily current has half the
admittance of the half-daily one, as it has half the speed: hence z1 / 2; a is what departs from it.
z2^2 is the quarter-daily overtide of shallow water.  Weights are Huber's (1964,
k = 1.345), so that odd pieces - a motor used, a fish played - count less.  The spreads of outings,
drifts and errors are found by marginal likelihood with weak priors; the wind's own error is one
factor an outing.  This is a linear mixed model (Laird & Ware 1982) with informative priors.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from layers.water.heights import Heights
from layers.water.leeway import Leeway
from layers.water.motion import set_and_drift
from layers.water.phase import TideParts, tide_parts
from layers.water.stage import stage
from layers.water.times import as_utc
from seabed.errors import WaterError

__all__ = ["LearnedCurrent", "learn_current"]

Floats = NDArray[np.float64]

HUBER: Final = 1.345
ROUNDS: Final = 4
COLUMNS: Final = 7
HALF_DAILY: Final = slice(3, 5)
"""Of one component: constant; daily, half-daily and quarter-daily part, two each."""

PRIOR_MPS: Final = (0.1, 0.2, 0.2, 1.0, 1.0, 0.1, 0.1)
"""Standard deviations of the columns before any drift is seen.  Our choice, no source."""

LEEWAY_DOUBT: Final = 0.35
"""Of the craft's leeway, as a share: Allen & Plourde's (1999) spread at usual winds."""

SPREADS_MPS: Final = np.array([0.03, 0.03, 0.03, 0.06])
SPREADS_DOUBT: Final = np.array([0.8, 0.7, 0.5, 0.5])
"""Spread of the error of a piece; of what a drift and an outing have to themselves; of an outing's
own half-daily wave; before any is seen, and the doubt of its logarithm.  Our choice, no source."""

SEEN_RADIANS: Final = np.radians(15.0)
"""Half an hour of a tide: a stage is seen if drifts lie this near on the circle."""

SEEN_RANGE: Final = 0.3
"""Share by which a tide may be smaller or bigger than those drifted on."""

LEAST_PIECES: Final = 6
NORMAL_90: Final = 1.6448536


@dataclass(frozen=True, slots=True)
class LearnedCurrent:
    """A current learned from drifts; the same all over the ground.

    Attributes
    ----------
    heights : Heights
        The station's tide that it is tied to.
    coefficients : ndarray of float64, shape (10,)
        Of the east component, then of the north one, m/s.
    covariance : ndarray of float64, shape (10, 10)
    day_spreads_mps : (steady, wave)
        Standard deviation of each component between one outing and another: of what is steady
        through it, and of a half-daily wave of the usual tide.
    usual_tide_m : float
        Size of the half-daily tide on the drifts, on average.
    seen_angles, seen_hours : ndarray of float64, shape (n,)
        Stages that were drifted on: radians of the half-daily tide, hours from high water.
    seen_sizes : (least, greatest)
        Sizes of the half-daily tide that were drifted on, over the usual one.
    span : (first, last)
        UTC, of the drifts.
    leeway_scale : (value, standard deviation)
        Of the craft's published leeway.
    outings, drifts, pieces : int
    centre : (longitude, latitude)
        Of the drifts, degrees.
    """

    heights: Heights
    coefficients: Floats
    covariance: Floats
    day_spreads_mps: tuple[float, float]
    usual_tide_m: float
    seen_angles: Floats
    seen_hours: Floats
    seen_sizes: tuple[float, float]
    span: tuple[np.datetime64, np.datetime64]
    leeway_scale: tuple[float, float]
    outings: int
    drifts: int
    pieces: int
    centre: tuple[float, float]

    def velocity(
        self, times: Any, longitude: Any = None, latitude: Any = None
    ) -> tuple[Floats, Floats]:
        """East and north, m/s; NaN at stages of the tide that no drift has seen."""
        moments = as_utc(times)
        east, north, _ = self._at(moments.ravel())
        return east.reshape(moments.shape), north.reshape(moments.shape)

    def spread(self, times: Any) -> Floats:
        """Covariance of east and north at times of shape (n,), shape (n, 2, 2); NaN where unseen.

        Of the current on that day: the doubt of the fit and the difference between days.
        """
        return self._at(times)[2]

    def seen(self, times: Any) -> NDArray[np.bool_]:
        """Whether drifts have seen the tide's stage at times of shape (n,)."""
        return self._seen(tide_parts(self.heights, times))

    def by_hour(self) -> pd.DataFrame:
        """Tell the current by hour of the tide, as it is on average over the tides drifted on.

        Returns
        -------
        DataFrame
            ``hours_from_high`` (whole hours around the station's high water), ``toward_deg``,
            ``speed_mps``, ``low_mps``, ``high_mps`` (90 % interval of the speed that way on a day,
            not below 0), ``drift_pieces`` (seen within half an hour of it), ``words``: "unknown"
            where no drift has seen the stage, "too doubtful to say" where the interval takes in
            every direction.
        """
        first, last = self.span
        middle = first + (last - first) // 2
        half = max((last - first) // 2, HALF_MONTH)
        times = np.arange(middle - half, middle + half, HALF_HOUR).astype("datetime64[ns]")
        hours = np.round(stage(self.heights, times)["hours_from_high"].to_numpy(float))
        east, north, spread = self._at(times)
        seen_hours = np.round(self.seen_hours)
        rows = []
        for hour in np.unique(hours[np.isfinite(hours)]):
            here = (hours == hour) & np.isfinite(east)
            pieces = int((seen_hours == hour).sum())
            rows.append(_hour_row(hour, east[here], north[here], spread[here], pieces))
        return pd.DataFrame(rows)

    def _seen(self, parts: TideParts) -> NDArray[np.bool_]:
        angle, size = np.angle(parts.twice), np.abs(parts.twice) / self.usual_tide_m
        apart = _apart(angle[:, None], self.seen_angles[None, :])
        near = (apart <= SEEN_RADIANS).sum(axis=1) >= 2
        low, high = self.seen_sizes
        usual = (size >= low * (1 - SEEN_RANGE)) & (size <= high * (1 + SEEN_RANGE))
        return np.asarray(near & usual, np.bool_)

    def _at(self, times: Any) -> tuple[Floats, Floats, Floats]:
        parts = tide_parts(self.heights, times)
        basis = _basis(parts, self.usual_tide_m)
        unseen = ~self._seen(parts)
        east = basis @ self.coefficients[:COLUMNS]
        north = basis @ self.coefficients[COLUMNS:]
        both = np.zeros((len(basis), 2, 2 * COLUMNS))
        both[:, 0, :COLUMNS] = both[:, 1, COLUMNS:] = basis
        spread = both @ self.covariance @ both.transpose(0, 2, 1)
        day, swing = self.day_spreads_mps
        own = day**2 + swing**2 * (basis[:, HALF_DAILY] ** 2).sum(axis=1)
        spread = spread + own[:, None, None] * np.eye(2)
        east[unseen], north[unseen], spread[unseen] = np.nan, np.nan, np.nan
        return east, north, spread


def _hour_row(
    hour: float, east: Floats, north: Floats, spread: Floats, pieces: int
) -> dict[str, Any]:
    if not east.size or not pieces:
        nothing = dict.fromkeys(("toward_deg", "speed_mps", "low_mps", "high_mps"), np.nan)
        return {"hours_from_high": hour, **nothing, "drift_pieces": pieces, "words": "unknown"}
    toward, speed = set_and_drift(east.mean(), north.mean())
    between = np.cov(np.stack([east, north])) if east.size > 1 else np.zeros((2, 2))
    whole = (spread.mean(axis=0) + between)[None]
    doubt = NORMAL_90 * float(along_spread(whole, np.atleast_1d(toward))[0])
    return {
        "hours_from_high": hour,
        "toward_deg": float(toward),
        "speed_mps": float(speed),
        "low_mps": max(float(speed) - doubt, 0.0),
        "high_mps": float(speed) + doubt,
        "drift_pieces": pieces,
        "words": DOUBTFUL if doubt > speed else "",
    }


HALF_HOUR: Final = np.timedelta64(1800 * 10**9, "ns")
HALF_MONTH: Final = np.timedelta64(int(14.77 / 2 * 86400) * 10**9, "ns")
DOUBTFUL: Final = "too doubtful to say"


def along_spread(spread: Floats, toward_deg: Floats) -> Floats:
    """Take the standard deviation along directions (degrees true) of covariances (n, 2, 2)."""
    way = np.stack([np.sin(np.radians(toward_deg)), np.cos(np.radians(toward_deg))], axis=-1)
    return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", way, spread, way)), np.float64)


def learn_current(
    motions: pd.DataFrame, heights: Heights, leeway: Leeway, *, wind_doubt: float = 0.2
) -> LearnedCurrent:
    """Learn the current of a ground.

    Parameters
    ----------
    motions : DataFrame
        As `drift_motions` gives them, of drifts without the motor.
    heights : Heights
        Of the station whose tide times it.
    leeway : Leeway
        Of the craft.
    wind_doubt : float
        Standard deviation of the wind's given speed, as a share.

    Raises
    ------
    WaterError
        If fewer than six pieces have a known tide and wind.
    """
    parts = tide_parts(heights, motions["time"])
    good = np.isfinite(parts.twice) & np.isfinite(
        motions[["east_mps", "north_mps", "wind_mps"]].to_numpy(float)
    ).all(axis=1)
    if good.sum() < LEAST_PIECES:
        raise WaterError(
            f"only {int(good.sum())} of {len(motions)} pieces of drift have a known tide and wind",
            do="Give more drifts, and tide heights and wind that cover their days.",
        )
    used = motions[good].reset_index(drop=True)
    parts = TideParts(parts.once[good], parts.twice[good])
    size = np.abs(parts.twice)
    usual = float(size.mean())
    model = _Model.of(used, _basis(parts, usual), leeway, wind_doubt)
    weights = np.ones(len(used))
    spreads = SPREADS_MPS
    for _ in range(ROUNDS):
        spreads = model.fit_spreads(spreads, weights)
        mean, covariance = model.solve(spreads, weights)
        weights = model.huber_weights(mean, spreads, weights)
    times = as_utc(used["time"])
    return LearnedCurrent(
        heights=heights,
        coefficients=mean[: 2 * COLUMNS],
        covariance=covariance[: 2 * COLUMNS, : 2 * COLUMNS],
        day_spreads_mps=(float(spreads[2]), float(spreads[3])),
        usual_tide_m=usual,
        seen_angles=np.angle(parts.twice),
        seen_hours=stage(heights, times)["hours_from_high"].to_numpy(float),
        seen_sizes=(float(size.min()) / usual, float(size.max()) / usual),
        span=(times.min(), times.max()),
        leeway_scale=(float(mean[-1]), float(np.sqrt(covariance[-1, -1]))),
        outings=int(used["trip"].nunique()),
        drifts=int(used["drift_id"].nunique()),
        pieces=len(used),
        centre=(float(used["longitude"].mean()), float(used["latitude"].mean())),
    )


def _basis(parts: TideParts, usual_m: float) -> Floats:
    once, twice = parts.once / usual_m, parts.twice / usual_m
    waves = (once, twice + once / 2, twice**2)
    columns = [part for wave in waves for part in (wave.real, wave.imag)]
    return np.stack([np.ones(once.shape), *columns], axis=-1)


def _apart(one: Floats, other: Floats) -> Floats:
    return np.abs((one - other + np.pi) % (2 * np.pi) - np.pi)


@dataclass(frozen=True, slots=True)
class _Outing:
    """Design of one outing: east rows, then north rows."""

    design: Floats
    seen: Floats
    same_drift: Floats
    waves: Floats
    leeway: Floats
    rows: NDArray[np.intp]

    def covariance(self, spreads: Floats, weights: Floats, wind_doubt: float) -> Floats:
        """Covariance of its rows: errors, drift effects, the outing's own, the wind's error."""
        error, drift, day, swing = spreads
        n = len(self.rows)
        one_part = drift**2 * self.same_drift + day**2 + swing**2 * self.waves @ self.waves.T
        whole = np.zeros((2 * n, 2 * n))
        whole[:n, :n] = whole[n:, n:] = one_part
        whole += wind_doubt**2 * np.outer(self.leeway, self.leeway)
        whole[np.diag_indices(2 * n)] += np.tile(error**2 / weights[self.rows], 2)
        return whole


@dataclass(frozen=True, slots=True)
class _Model:
    outings: tuple[_Outing, ...]
    wind_doubt: float
    prior_mean: Floats
    prior_precision: Floats

    @classmethod
    def of(cls, motions: pd.DataFrame, basis: Floats, leeway: Leeway, wind_doubt: float) -> _Model:
        from_deg = motions["wind_from_deg"].fillna(0.0).to_numpy(float)  # a calm has none
        push = leeway.velocity(motions["wind_mps"].to_numpy(float), from_deg)
        velocity = motions[["east_mps", "north_mps"]].to_numpy(float)
        outings = []
        for _, group in motions.groupby("trip", sort=False):
            rows = group.index.to_numpy()
            n = len(rows)
            design = np.zeros((2 * n, 2 * COLUMNS + 1))
            design[:n, :COLUMNS] = design[n:, COLUMNS : 2 * COLUMNS] = basis[rows]
            wind = np.concatenate([push[0][rows], push[1][rows]])
            design[:, -1] = wind
            drift = group["drift_id"].to_numpy()
            outings.append(
                _Outing(
                    design,
                    np.concatenate([velocity[rows, 0], velocity[rows, 1]]),
                    (drift[:, None] == drift[None, :]).astype(float),
                    basis[rows][:, HALF_DAILY],
                    wind,
                    rows,
                )
            )
        doubt = np.array([*PRIOR_MPS, *PRIOR_MPS, LEEWAY_DOUBT])
        mean = np.zeros(2 * COLUMNS + 1)
        mean[-1] = 1.0
        return cls(tuple(outings), wind_doubt, mean, 1.0 / doubt**2)

    def solve(self, spreads: Floats, weights: Floats) -> tuple[Floats, Floats]:
        """Posterior mean and covariance of the coefficients."""
        mean, covariance, _ = self._posterior(spreads, weights)
        return mean, covariance

    def fit_spreads(self, start: Floats, weights: Floats) -> Floats:
        """Spreads of error, drift and outing of greatest marginal likelihood times prior."""

        def loss(log_spreads: Floats) -> float:
            off = (log_spreads - np.log(SPREADS_MPS)) / SPREADS_DOUBT
            spreads = np.exp(np.clip(log_spreads, np.log(1e-3), np.log(2.0)))
            return -self._posterior(spreads, weights)[2] + 0.5 * float(off @ off)

        found = minimize(
            loss, np.log(start), method="Nelder-Mead", options={"xatol": 0.02, "fatol": 0.02}
        )
        return np.asarray(np.exp(np.clip(found.x, *np.log([1e-3, 2.0]))), np.float64)

    def huber_weights(self, mean: Floats, spreads: Floats, weights: Floats) -> Floats:
        """Weights of pieces by their error, once the outing's and drift's own are taken out."""
        found = np.ones(len(weights))
        for outing in self.outings:
            n = len(outing.rows)
            off = outing.seen - outing.design @ mean
            whole = outing.covariance(spreads, weights, self.wind_doubt)
            error = np.tile(spreads[0] ** 2 / weights[outing.rows], 2)
            left = error * cho_solve(cho_factor(whole), off)
            size = np.hypot(left[:n], left[n:]) / (spreads[0] * np.sqrt(2.0))
            found[outing.rows] = np.minimum(1.0, HUBER / np.maximum(size, 1e-9))
        return found

    def _posterior(self, spreads: Floats, weights: Floats) -> tuple[Floats, Floats, float]:
        precision = np.diag(self.prior_precision)
        right = self.prior_precision * self.prior_mean
        likelihood = 0.5 * float(np.log(self.prior_precision).sum())
        likelihood -= 0.5 * float(right @ self.prior_mean)
        for outing in self.outings:
            factor = cho_factor(outing.covariance(spreads, weights, self.wind_doubt), lower=True)
            solved = cho_solve(factor, np.column_stack([outing.design, outing.seen]))
            precision = precision + outing.design.T @ solved[:, :-1]
            right = right + outing.design.T @ solved[:, -1]
            likelihood -= float(np.log(np.diag(factor[0])).sum())
            likelihood -= 0.5 * float(outing.seen @ solved[:, -1])
        whole = cho_factor(precision, lower=True)
        mean = cho_solve(whole, right)
        likelihood += 0.5 * float(right @ mean) - float(np.log(np.diag(whole[0])).sum())
        return mean, cho_solve(whole, np.eye(len(mean))), likelihood
