"""A learned current compared with the table of its station: how much later it turns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

import numpy as np

from layers.water.currents.currents import Currents, vector
from layers.water.heights._tide_parts import tide_parts
from layers.water.learned.learned import COLUMNS, HALF_DAILY, HALF_MONTH, LearnedCurrent, columns_of
from layers.water.times import MINUTE, as_utc, span
from seabed.array_types import Floats, Mask, Pair, Times

STEP_S: Final = 300.0
STEP: Final = 5 * MINUTE
MOST_S: Final = 3 * 3600.0
"""A turn of the water is compared with the table's turn within this."""
MOST_STEPS: Final = int(MOST_S / STEP_S)
LEAST_TURNS: Final = 4
DRAWS: Final = 200
FILLED_SHARE: Final = 0.3
FILLED_MPS: Final = 0.1
"""Standard deviations of what fills stages that no drift has seen: a share of its speed, and
besides.  Our choice, no source."""


@dataclass(frozen=True, slots=True)
class Later:
    """How much later something happens than the table says, seconds: in eight of ten cases."""

    low_s: float
    middle_s: float
    high_s: float


@dataclass(frozen=True, slots=True)
class AgainstTable:
    """A learned current against the table of its station.

    flood, ebb: when they begin; None where drifts have seen too few of these turns.
    ratio: (low, middle, high) of its speed over the table's: eight of ten cases.
    lag_s: by which the table fits best as a whole.
    toward_deg: where the water runs while the table has flood, degrees true.
    """

    flood: Later | None
    ebb: Later | None
    ratio: tuple[float, float, float]
    lag_s: float
    toward_deg: float


def against_table(
    learned: LearnedCurrent, table: Currents, *, seed: int = 0
) -> AgainstTable | None:
    """Compare a learned current with the table of its station, over the month of the drifts.

    The response of one tidal stream to another is a ratio and a lag in each band of frequency, its
    admittance (Munk & Cartwright 1966; Parker 2007, "Tidal Analysis and Prediction", chapter 7).
    In the half-daily band, which decides, both are found by the lag at which the table explains
    most of the learned current.  Turns are those of the curves, so that flood and ebb may differ.
    The intervals are of a day: draws of the learned coefficients and of what a day has to itself.

    table: the same everywhere, as a table or a station.
    Returned: None where the table does not hold the days of the drifts, or explains nothing.
    """
    first, last = learned.span
    middle, half = first + (last - first) // 2, max((last - first) // 2, HALF_MONTH)
    times = np.arange(middle - half, middle + half, STEP).astype("datetime64[ns]")
    stream = _along(table, times)
    basis = columns_of(tide_parts(learned.heights, times), learned.usual_tide_m)
    known = np.isfinite(stream) & np.isfinite(basis).all(axis=1) & learned.seen(times)
    if known.sum() < 6 * 3600 / STEP_S:
        return None
    mean = np.stack([learned.coefficients[:COLUMNS], learned.coefficients[COLUMNS:]])
    axis = _axis(basis[known] @ mean.T)
    # an axis has two ends: the one whose flow the table explains with less of a lag is its flood
    one, other = (_best(stream, basis @ (way @ mean), known) for way in (axis, -axis))
    axis, (explained, lag) = (axis, one) if one[0] >= other[0] else (-axis, other)
    if not explained > 0:
        return None
    rng = np.random.default_rng(seed)
    own = np.zeros((2, COLUMNS))
    own[:, 0], own[:, HALF_DAILY] = learned.day_spreads_mps
    spread = learned.covariance + np.diag(own.ravel() ** 2)
    drawn = rng.multivariate_normal(learned.coefficients, spread, DRAWS, method="eigh")
    along = axis[0] * drawn[:, :COLUMNS] + axis[1] * drawn[:, COLUMNS:]
    curves = along @ basis.T
    shifted = np.interp(np.arange(len(times)), np.arange(len(times)) + lag / STEP_S, stream)
    ratios = (curves[:, known] @ shifted[known]) / float(shifted[known] @ shifted[known])
    return AgainstTable(
        _turns(stream, curves, known, rising=True),
        _turns(stream, curves, known, rising=False),
        _three(ratios),
        lag,
        float(np.degrees(np.arctan2(axis[0], axis[1])) % 360.0),
    )


@dataclass(frozen=True, slots=True)
class FilledCurrent:
    """A learned current, and at stages that no drift has seen the table with its lag and ratio."""

    learned: LearnedCurrent
    table: Currents
    against: AgainstTable
    everywhere: ClassVar[bool] = True

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s; NaN where neither is known."""
        east, north = self.learned.velocity(times)
        filled = vector(self._stream(as_utc(times)), self.against.toward_deg)
        return (
            np.where(np.isnan(east), filled[0], east),
            np.where(np.isnan(north), filled[1], north),
        )

    def spread(self, times: Any) -> Floats:
        """Covariance of east and north, as `LearnedCurrent.spread`; wide where it is filled."""
        spread = self.learned.spread(times)
        size = (FILLED_SHARE * self._stream(as_utc(times))) ** 2 + FILLED_MPS**2
        return np.where(np.isnan(spread), size[:, None, None] * np.eye(2), spread)

    def _stream(self, times: Times) -> Floats:
        later = span(self.against.lag_s)
        return self.against.ratio[1] * _along(self.table, times - later)


def _along(table: Currents, times: Times) -> Floats:
    """Speed of a table's stream along its axis, flood (or its greater half) positive."""
    speed_along = getattr(table, "speed_along", None)
    if speed_along is not None:
        return np.asarray(speed_along(times), np.float64)
    flow = np.stack(table.velocity(times), axis=-1)
    known = np.isfinite(flow).all(axis=1)
    if not known.any():
        return flow[:, 0]
    along: Floats = flow @ _axis(flow[known])
    return -along if np.nanmin(along) < -np.nanmax(along) else along


def _axis(flow: Floats) -> Floats:
    """Give the unit vector along which a flow of shape (n, 2) varies most."""
    _, _, ways = np.linalg.svd(flow - flow.mean(axis=0), full_matrices=False)
    return np.asarray(ways[0], np.float64)


def _best(stream: Floats, curve: Floats, known: Mask) -> tuple[float, float]:
    """Give how much of a curve a stream explains at most, and its lag (s) then; 0 for nothing."""
    at, best = np.arange(len(stream)), (0.0, 0.0)
    for step in range(-MOST_STEPS, MOST_STEPS + 1):
        moved = np.interp(at, at + step, stream)
        size, both = float(moved[known] @ moved[known]), float(moved[known] @ curve[known])
        if size > 0 and both > 0:
            best = max(best, (both**2 / size, step * STEP_S))
    return best


def _turns(stream: Floats, curves: Floats, known: Mask, *, rising: bool) -> Later | None:
    """How much later curves (draws in rows) turn than a stream."""
    sign = 1.0 if rising else -1.0
    table = _crossings(sign * stream, np.isfinite(stream))
    if not table.size:
        return None
    later = []
    for curve in curves:
        own = _crossings(sign * curve, known)
        if own.size < LEAST_TURNS:
            continue
        off = own[:, None] - table[None, :]
        near = off[np.arange(len(own)), np.abs(off).argmin(axis=1)] * STEP_S
        near = near[np.abs(near) <= MOST_S]
        if near.size >= LEAST_TURNS:
            later.append(float(np.median(near)))
    return Later(*_three(np.array(later))) if len(later) > DRAWS / 2 else None


def _crossings(values: Floats, known: Mask) -> Floats:
    """Places, in steps, at which values pass from below 0 to above."""
    with np.errstate(invalid="ignore"):
        up = (values[:-1] < 0) & (values[1:] >= 0) & known[:-1] & known[1:]
    i = np.flatnonzero(up)
    return np.asarray(i - values[i] / (values[i + 1] - values[i]), np.float64)


def _three(values: Floats) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9])
    return float(low), float(middle), float(high)
