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
k = 1.345), so that odd pieces - a fish played, an eddy - count less.  An outing has a steady part
and a small wave of its own, and a share by which its tide runs stronger and earlier, so that fast
water is in more doubt, along its axis.  The spreads of outings, drifts and errors are found by
marginal likelihood with weak priors; the wind's error is one factor an outing.  This is a linear
mixed model (Laird & Ware 1982) with informative priors.
Drifts that look motored are left out before (`layers.water.learned.motored`); what is not known of
which they are goes into the doubt.  Those left were alike by choice, which says too little of how
outings differ: there most of the prior is its floor.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, NoReturn

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from layers.water.heights._heights import Heights
from layers.water.heights._tide_parts import TideParts, tide_parts
from layers.water.heights.stage import stage
from layers.water.learned.learned import (
    COEFFICIENTS,
    COLUMNS,
    HALF_DAILY,
    LearnedCurrent,
    MotoredDrift,
    columns_of,
)
from layers.water.learned.motored import FEWEST, Mixture, part_drifts
from layers.water.motion import set_and_drift
from layers.water.times import as_utc
from layers.water.wind.leeway import Leeway
from seabed.array_types import Floats, Pair
from seabed.errors import WaterError
from seabed.units import SPEED, convert

__all__ = ["learn_current"]


HUBER: Final = 1.345
ROUNDS: Final = 3

PRIOR_MPS: Final = (0.1, 0.1, 0.1, 1.0, 1.0, 0.1, 0.1)
"""Standard deviations of the columns before any drift is seen.  Our choice, no source."""

LEEWAY_DOUBT: Final = 0.35
"""Of the craft's leeway, as a share: Allen & Plourde's (1999) spread at usual winds."""

SPREADS: Final = np.array([0.03, 0.03, 0.03, 0.05])
SPREADS_DOUBT: Final = np.array([0.8, 0.7, 0.5, 0.5])
"""Spread of the error of a piece; of what a drift and an outing have to themselves, m/s; of the
share by which an outing's tide differs (set on simulated seasons; the others: our choice, no
source); before any is seen, and the doubt of its logarithm."""

WAVE_MPS: Final = 0.03
"""Spread of an outing's own half-daily wave, any way.  Our choice, no source."""

CHOSEN: Final = 0.1
CHOSEN_FLOOR: Final = 0.85
"""Where a greater share than `CHOSEN` is left out, how outings differ is not taken for less than
this share of what it is before any is seen.  Chosen on simulated seasons."""

LEAST_PIECES: Final = 6

FREE_CHANCE: Final = 0.3
LEAST_KEPT: Final = 0.4
NEARLY_ALL: Final = 0.9
WIND_SHOWS: Final = 0.85
SURE_SHOWS: Final = 0.8
LEAST_SCALE: Final = 0.7
LEAST_SCALE_OF_ALL: Final = 0.5
MOST_WIND_DOUBT: Final = 0.15
MOST_DOUBT_MPS: Final = 0.14 * SPEED["kn"]
"""Least chance of a drift that looks free, and least share of such drifts; least scale of the
wind's push, where less than nearly all look free and where all do; its greatest standard deviation
where less than `WIND_SHOWS` do; greatest doubt of the current on a day where less than `SURE_SHOWS`
do.  On simulated seasons what is learned beyond these is not what it claims to be, or not right to
0.13 kn."""


def learn_current(
    motions: pd.DataFrame, heights: Heights, leeway: Leeway, *, wind_doubt: float = 0.2
) -> LearnedCurrent:
    """Learn the current of a ground.

    Parameters
    ----------
    motions : DataFrame
        As `layers.water.learned.drift_motions` gives them.  Drifts that look motored are left out,
        and listed.
    heights : Heights
        Of the station whose tide times it.
    leeway : Leeway
        Of the craft.
    wind_doubt : float
        Standard deviation of the wind's given speed, as a share.

    Raises
    ------
    WaterError
        If fewer than six pieces have a known tide and wind, or most of the drifts look motored, or
        free and motored ones can't be parted.

    Examples
    --------
    >>> from layers import clean, cut, drifts, leeway_of, read_heights, read_tracks
    >>> from layers.water.learned.drift_motions import drift_motions
    >>> fixes, _ = clean(read_tracks(["trip_1.gpx", "trip_3.gpx"]))
    >>> motions = drift_motions(fixes, drifts(cut(fixes), fixes), None)
    >>> heights = read_heights("tide_table.csv", timezone="Etc/GMT+2")
    >>> learned = learn_current(motions, heights, leeway_of("skiff, V-hull"))
    >>> learned.outings, learned.drifts == motions["drift_id"].nunique()
    (2, True)
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
    motored, doubt = _motored(used, parts, leeway)
    free = ~used["drift_id"].isin([one.drift_id for one in motored]).to_numpy()
    used, parts = used[free].reset_index(drop=True), TideParts(parts.once[free], parts.twice[free])
    size = np.abs(parts.twice)
    usual = float(size.mean())
    model = _Model.of(used, columns_of(parts, usual), leeway, wind_doubt)
    mean, covariance, spreads = model.fitted(len(used), chosen=1 - free.mean() > CHOSEN)
    own_tide = _own_tide(mean)[:COEFFICIENTS]
    doubt = doubt + spreads[3] ** 2 * own_tide @ own_tide.T
    times = as_utc(used["time"])
    current = LearnedCurrent(
        heights=heights,
        coefficients=mean[:COEFFICIENTS],
        covariance=covariance[:COEFFICIENTS, :COEFFICIENTS] + doubt,
        day_spreads_mps=(float(spreads[2]), WAVE_MPS),
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
        motored=motored,
    )
    _check_fit(current)
    return current


def _check_fit(current: LearnedCurrent) -> None:
    """Refuse a current of which the drifts that look free say too little."""
    left_out = len(current.motored) / (len(current.motored) + current.drifts)
    if left_out > 1 - SURE_SHOWS and (doubt := current.doubt_mps()) > MOST_DOUBT_MPS:
        _refuse(
            f"{left_out:.0%} of the drifts look motored, and the others leave a doubt of "
            f"{convert(doubt, 'kn'):.2f} kn"
        )


def _motored(
    motions: pd.DataFrame, parts: TideParts, leeway: Leeway
) -> tuple[tuple[MotoredDrift, ...], Floats]:
    """Find the drifts that look motored, and the covariance of not knowing which they are.

    Raises WaterError where what is left can't be trusted.
    """
    ids, row = np.unique(motions["drift_id"].to_numpy(str), return_inverse=True)
    if len(ids) < FEWEST:
        return (), np.zeros((COEFFICIENTS, COEFFICIENTS))
    count = np.bincount(row)

    def mean(values: Floats) -> Floats:
        sums = [np.bincount(row, weights=column) for column in values.T]
        return np.asarray(np.stack(sums, axis=1) / count[:, None], np.float64)

    usual = float(np.abs(parts.twice).mean())
    push = _push(motions, leeway)
    velocity = motions[["east_mps", "north_mps"]].to_numpy(float)
    trips = motions["trip"].to_numpy(str)[np.unique(row, return_index=True)[1]]
    mixture = part_drifts(
        mean(columns_of(parts, usual)), mean(push), mean(velocity), trips, _prior()
    )
    _check(mixture)
    toward, speed = set_and_drift(*mixture.push_mps.T)
    motored = tuple(
        MotoredDrift(str(trips[i]), str(ids[i]), float(speed[i]), float(toward[i]))
        for i in np.flatnonzero(mixture.free < FREE_CHANCE)
    )
    # of the same current: the size of the usual tide changes with the drifts that are left out
    return motored, mixture.doubt[:COEFFICIENTS, :COEFFICIENTS]


def _check(mixture: Mixture) -> None:
    """Refuse drifts of which most look motored, or whose motors the wind can't show."""
    kept = float((mixture.free >= FREE_CHANCE).mean())
    looking = f"{1 - kept:.0%} of the drifts look motored"
    scale, doubt = mixture.scale
    least = LEAST_SCALE if kept < NEARLY_ALL else LEAST_SCALE_OF_ALL
    if kept < LEAST_KEPT:
        what = looking
    elif scale + doubt < least:
        what = (
            f"the wind moves the boat only {scale:.2f} times as much as published for its craft, "
            "as where the motor holds it"
        )
    elif kept < WIND_SHOWS and doubt > MOST_WIND_DOUBT:
        what = f"{looking}, and so little wind does not part them from free ones"
    else:
        return
    _refuse(what)


def _refuse(what: str) -> NoReturn:
    raise WaterError(
        f"no current can be learned: {what}",
        do="Learn from tracks of days without the motor, and give the wind of those days; or name "
        "the hours under motor in corrections beside the track: 2031-06-14 10:05-10:20 motor.",
    )


def _prior() -> Pair:
    """Give mean and precision of the coefficients before any drift is seen, the leeway's last."""
    mean = np.zeros(COEFFICIENTS + 1)
    mean[-1] = 1.0
    return mean, 1.0 / np.array([*PRIOR_MPS, *PRIOR_MPS, LEEWAY_DOUBT]) ** 2


def _push(motions: pd.DataFrame, leeway: Leeway) -> Floats:
    """Give east and north of the published leeway of each piece, shape (n, 2)."""
    from_deg = motions["wind_from_deg"].fillna(0.0).to_numpy(float)  # a calm has none
    return np.stack(leeway.velocity(motions["wind_mps"].to_numpy(float), from_deg), axis=1)


def _own_tide(mean: Floats) -> Floats:
    """Change of the coefficients where the tide runs stronger, and earlier, shape (m, 2)."""
    changes = np.zeros((len(mean), 2))
    for at in (HALF_DAILY.start, COLUMNS + HALF_DAILY.start):
        now, before = mean[at : at + 2]
        changes[at : at + 2] = (now, before), (before, -now)
    return changes


@dataclass(frozen=True, slots=True)
class _Outing:
    """Design of one outing: east rows, then north rows.

    tides, shape (rows, k): velocities of which it may have a share of its own, m/s.
    """

    design: Floats
    seen: Floats
    same_drift: Floats
    waves: Floats
    leeway: Floats
    rows: NDArray[np.intp]
    tides: Floats

    def own_part(self, drift_mps: float, weights: Floats) -> Floats:
        """Covariance of one component by what each drift has to itself; odd pieces have more."""
        loose = 1.0 / np.sqrt(weights[self.rows])
        return np.asarray(drift_mps**2 * self.same_drift * np.outer(loose, loose), np.float64)

    def covariance(self, spreads: Floats, weights: Floats, wind_doubt: float) -> Floats:
        """Covariance of its rows: errors, drift effects, the outing's own, the wind's error."""
        error, drift, day, share = spreads
        n = len(self.rows)
        whole = np.asarray(share**2 * self.tides @ self.tides.T, np.float64)
        one_part = self.own_part(drift, weights) + day**2 + WAVE_MPS**2 * self.waves @ self.waves.T
        whole[:n, :n] += one_part
        whole[n:, n:] += one_part
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
        push = _push(motions, leeway)
        velocity = motions[["east_mps", "north_mps"]].to_numpy(float)
        outings = []
        for _, group in motions.groupby("trip", sort=False):
            rows = group.index.to_numpy()
            n = len(rows)
            design = np.zeros((2 * n, COEFFICIENTS + 1))
            design[:n, :COLUMNS] = design[n:, COLUMNS:COEFFICIENTS] = basis[rows]
            wind = push[rows].T.ravel()
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
                    np.zeros((2 * n, 0)),
                )
            )
        return cls(tuple(outings), wind_doubt, *_prior())

    def fitted(self, pieces: int, *, chosen: bool) -> tuple[Floats, Floats, Floats]:
        """Posterior mean and covariance of the coefficients, and spreads, by Huber's weights.

        chosen: the drifts are those of many that were alike.
        """
        model, weights, spreads = self, np.ones(pieces), SPREADS
        mean, covariance, _ = model._posterior(spreads, weights)
        for _ in range(ROUNDS):
            weights = model.huber_weights(mean, spreads, weights)
            model = model.with_tides_of(mean)
            spreads = model.fit_spreads(spreads, weights)
            mean, covariance, _ = model._posterior(spreads, weights)
        if chosen:
            spreads[2:] = np.maximum(spreads[2:], CHOSEN_FLOOR * SPREADS[2:])
            mean, covariance, _ = model._posterior(spreads, weights)
        return mean, covariance, spreads

    def with_tides_of(self, mean: Floats) -> _Model:
        """Let each outing have its own share of the tide that these coefficients give."""
        changes = _own_tide(mean)
        return replace(
            self, outings=tuple(replace(one, tides=one.design @ changes) for one in self.outings)
        )

    def fit_spreads(self, start: Floats, weights: Floats) -> Floats:
        """Spreads of error, drift and outing of greatest marginal likelihood times prior."""

        def loss(log_spreads: Floats) -> float:
            off = (log_spreads - np.log(SPREADS)) / SPREADS_DOUBT
            spreads = np.exp(np.clip(log_spreads, np.log(1e-3), np.log(2.0)))
            return -self._posterior(spreads, weights)[2] + 0.5 * float(off @ off)

        fit = minimize(
            loss, np.log(start), method="Nelder-Mead", options={"xatol": 0.02, "fatol": 0.02}
        )
        return np.asarray(np.exp(np.clip(fit.x, *np.log([1e-3, 2.0]))), np.float64)

    def huber_weights(self, mean: Floats, spreads: Floats, weights: Floats) -> Floats:
        """Weights of pieces by what is left of them once the outing's own is taken out."""
        fresh = np.ones(len(weights))
        error, drift = spreads[:2]
        for outing in self.outings:
            n = len(outing.rows)
            off = outing.seen - outing.design @ mean
            pull = cho_solve(cho_factor(outing.covariance(spreads, weights, self.wind_doubt)), off)
            own = outing.own_part(drift, weights) + np.diag(error**2 / weights[outing.rows])
            left = np.hypot(own @ pull[:n], own @ pull[n:])
            size = left / np.sqrt(2.0 * (error**2 + drift**2))
            fresh[outing.rows] = np.minimum(1.0, HUBER / np.maximum(size, 1e-9))
        return fresh

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
