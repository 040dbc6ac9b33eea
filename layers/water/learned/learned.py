"""A current learned from the skipper's own drifts (see `layers.water.learned.learning`)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.water.heights._heights import Heights
from layers.water.heights._tide_parts import TideParts, tide_parts
from layers.water.heights.stage import stage
from layers.water.motion import set_and_drift
from layers.water.times import as_utc
from seabed.array_types import Floats, Mask, Pair

COLUMNS: Final = 7
"""Of one component: constant; daily, half-daily and quarter-daily part, two each."""

HALF_DAILY: Final = slice(3, 5)
COEFFICIENTS: Final = 2 * COLUMNS

SEEN_RADIANS: Final = np.radians(15.0)
"""Half an hour of a tide: a stage is seen if drifts lie this near on the circle."""

SEEN_RANGE: Final = 0.3
"""Share by which a tide may be smaller or bigger than those drifted on."""

NORMAL_90: Final = 1.6448536
DOUBTFUL: Final = "too doubtful to say"
HALF_HOUR: Final = np.timedelta64(1800 * 10**9, "ns")
HALF_MONTH: Final = np.timedelta64(int(14.77 / 2 * 86400) * 10**9, "ns")


@dataclass(frozen=True, slots=True)
class MotoredDrift:
    """A drift that looks motored: its velocity beyond what water and wind do, degrees true."""

    trip: str
    drift_id: str
    push_mps: float
    push_deg: float


@dataclass(frozen=True, slots=True)
class LearnedCurrent:
    """A current learned from drifts; the same all over the ground.

    Attributes
    ----------
    heights : Heights
        The station's tide that it is tied to.
    coefficients : ndarray of float64, shape (14,)
        Of the east component, then of the north one, m/s.
    covariance : ndarray of float64, shape (14, 14)
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
    motored : tuple of MotoredDrift
        Drifts that were left out; of a file, none.
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
    motored: tuple[MotoredDrift, ...] = ()
    everywhere: ClassVar[bool] = True

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s; NaN at stages of the tide that no drift has seen."""
        moments = as_utc(times)
        east, north, _ = self._at(moments.ravel())
        return east.reshape(moments.shape), north.reshape(moments.shape)

    def spread(self, times: Any) -> Floats:
        """Covariance of east and north at n times, m²/s², (n, 2, 2); NaN where unseen.

        It holds the doubt of the fit and the difference between days.
        """
        return self._at(times)[2]

    def seen(self, times: Any) -> Mask:
        """Whether drifts have seen the tide's stage at times of shape (n,)."""
        return self._seen(tide_parts(self.heights, times))

    def by_hour(self) -> pd.DataFrame:
        """Give the current by hour of the tide, on average over the tides drifted on.

        Columns: ``hours_from_high`` (whole hours around the station's high water), ``toward_deg``,
            ``speed_mps``, ``low_mps``, ``high_mps`` (90 % interval of the speed that way on a day,
            not below 0), ``drift_pieces`` (seen within half an hour of it), ``words``: "unknown"
            where no drift has seen the stage, "too doubtful to say" where the interval takes in
            every direction.
        """
        times = self._tides()
        hours = np.round(stage(self.heights, times)["hours_from_high"].to_numpy(float)) + 0.0
        east, north, spread = self._at(times)
        seen_hours = np.round(self.seen_hours)
        rows = []
        for hour in np.unique(hours[np.isfinite(hours)]):
            here = (hours == hour) & np.isfinite(east)
            pieces = int((seen_hours == hour).sum())
            rows.append(_hour_row(hour, east[here], north[here], spread[here], pieces))
        return pd.DataFrame(rows)

    def doubt_mps(self) -> float:
        """Root mean square of its doubt on a day, along the current of a month's tides or more."""
        east, north, spread = self._at(self._tides())
        toward, _ = set_and_drift(east, north)
        return float(np.sqrt(np.nanmean(along_spread(spread, toward) ** 2)))

    def _tides(self) -> NDArray[np.datetime64]:
        """Half hours of the days drifted on, a month at least."""
        first, last = self.span
        middle = first + (last - first) // 2
        half = max((last - first) // 2, HALF_MONTH)
        return np.arange(middle - half, middle + half, HALF_HOUR).astype("datetime64[ns]")

    def _seen(self, parts: TideParts) -> Mask:
        angle, size = np.angle(parts.twice), np.abs(parts.twice) / self.usual_tide_m
        apart = _apart(angle[:, None], self.seen_angles[None, :])
        near = (apart <= SEEN_RADIANS).sum(axis=1) >= 2
        low, high = self.seen_sizes
        usual = (size >= low * (1 - SEEN_RANGE)) & (size <= high * (1 + SEEN_RANGE))
        return np.asarray(near & usual, np.bool_)

    def between(self, times: Any, others: Any) -> Floats:
        """Covariance of what is not known of the current at two sets of times, shape (2 n, 2 m).

        Of the fit, and of what one outing has to itself; east and north of a time side by side.
        """
        one, other = (
            columns_of(tide_parts(self.heights, moments), self.usual_tide_m)
            for moments in (times, others)
        )
        day, swing = self.day_spreads_mps
        own = day**2 + swing**2 * one[:, HALF_DAILY] @ other[:, HALF_DAILY].T
        left, right = (
            np.kron(basis[:, None], np.eye(2)[None]).reshape(2 * len(basis), -1)
            for basis in (one, other)
        )
        order = np.arange(2 * COLUMNS).reshape(2, COLUMNS).T.ravel()
        fit = left @ self.covariance[np.ix_(order, order)] @ right.T
        return np.asarray(np.nan_to_num(fit + np.kron(own, np.eye(2))), np.float64)

    def _at(self, times: Any) -> tuple[Floats, Floats, Floats]:
        parts = tide_parts(self.heights, times)
        basis = columns_of(parts, self.usual_tide_m)
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
    mean = np.array([east.mean(), north.mean()])
    toward, speed = set_and_drift(mean[0], mean[1])
    between = np.cov(np.stack([east, north])) if east.size > 1 else np.zeros((2, 2))
    whole = (spread.mean(axis=0) + between)[None]
    doubt = NORMAL_90 * float(along_spread(whole, np.atleast_1d(toward))[0])
    doubtful = bool(too_doubtful(mean[:1], mean[1:], whole)[0])
    return {
        "hours_from_high": hour,
        "toward_deg": float(toward),
        "speed_mps": float(speed),
        "low_mps": max(float(speed) - doubt, 0.0),
        "high_mps": float(speed) + doubt,
        "drift_pieces": pieces,
        "words": DOUBTFUL if doubtful else "",
    }


def along_spread(spread: Floats, toward_deg: Floats) -> Floats:
    """Take the standard deviation along directions (degrees true) of covariances (n, 2, 2)."""
    way = np.stack([np.sin(np.radians(toward_deg)), np.cos(np.radians(toward_deg))], axis=-1)
    return np.asarray(np.sqrt(np.einsum("ni,nij,nj->n", way, spread, way)), np.float64)


def too_doubtful(east: Floats, north: Floats, spread: Floats) -> Mask:
    """Whether the 90 % interval of the speed takes in every direction; False where unknown."""
    toward, speed = set_and_drift(east, north)
    with np.errstate(invalid="ignore"):
        doubtful: Mask = NORMAL_90 * along_spread(spread, toward) > speed
    return doubtful


def columns_of(parts: TideParts, usual_m: float) -> Floats:
    """Columns of the fit for one component, shape (n, 7), tide parts over the usual tide."""
    once, twice = parts.once / usual_m, parts.twice / usual_m
    waves = (once, twice + once / 2, twice**2)
    columns = [part for wave in waves for part in (wave.real, wave.imag)]
    return np.stack([np.ones(once.shape), *columns], axis=-1)


def _apart(one: Floats, other: Floats) -> Floats:
    return np.abs((one - other + np.pi) % (2 * np.pi) - np.pi)
