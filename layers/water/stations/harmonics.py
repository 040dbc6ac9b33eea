"""Harmonic prediction: tidal constituents to a value at any moment.

The astronomical arguments and nodal corrections are those of Schureman, "Manual of Harmonic
Analysis and Prediction of Tides" (U.S. Coast and Geodetic Survey Special Publication 98, 1940, as
reprinted 1958), through pyTMD; agencies that publish Greenwich phases for the usual constituents
mean these.  Two conventions differ between programs and are settled here by Schureman's table 2:

* SA runs with the mean longitude of the sun, h (0.0410686 degrees an hour), and not with h - p'.
* M1 runs with T - s + h + p - 90 degrees (14.4966939 degrees an hour), with u = -nu - Qu and the
  factor f(O1)/Qa.  Qu = P - Q, where tan Q = 0.483 tan P and Q is in the quadrant of P; without
  the quadrant M1 would change its sign twice in each 8.85 years.

* MSK6 is M2 + S2 + K2 and SNK6 S2 + N2 + K2, in V and in u; the library has u of M2 - K2.
* M3 is 3 T - 3 s + 3 h; programs that take its phase from the potential of third degree (UTide)
  add half a turn to it.  OQ2 is O1 + Q1 (27.341696 degrees an hour); others give the name to a line
  of the potential nearby (27.350980, UTide).

f and u can be followed from day to day, or held for each calendar year at their values of 2 July,
as Schureman's tables 14 and 15 have them and the U.S. agency still predicts.  There M1 needs care:
its tabulated V + u at the year's beginning takes Q, and with it the perigee, at the *middle* of the
year (V without p), while its speed has the perigee's motion in it, so that it runs ahead by half a
year of that motion, 20.3 degrees.  Found by comparison with the agency's printed predictions.
Held so, heights would step at midnight of 1 January, at Seattle by up to 10 cm, which makes turns
of the tide that are none: from six hours before to six after, one year's sum passes smoothly into
the next one's.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from layers.water.times import as_utc
from seabed.array_types import Floats, Ints, Times
from seabed.errors import WaterError

# On import pyTMD makes a folder in the user's cache, which we have no use for, and fails where it
# can't.
os.environ.setdefault("PYTMD_CACHE_DIR", tempfile.gettempdir())

from pyTMD.astro import mean_longitudes, schureman_arguments
from pyTMD.constituents import arguments, coefficients_table, frequency

Complexes = NDArray[np.complex128]
Nodal = Literal["daily", "yearly"]

DAY: Final = np.timedelta64(86_400_000_000_000, "ns")
EPOCH: Final = np.datetime64("1858-11-17", "ns")  # of the Modified Julian Date
CHUNK: Final = 16_384
HALF_YEAR_DAYS: Final = 182.5
HALF_YEAR_HOURS: Final = 4380
PASSING_DAYS: Final = 0.25
"""Before and after a new year, in which yearly corrections pass into the next year's."""
PERIGEE_RATE: Final = np.radians(4069.0137 / 36525.0)
"""Mean motion of the lunar perigee, radians a day (Meeus 1998, ch. 47)."""

WITH_K2: Final = frozenset({"msk6", "snk6"})
"""Sums that hold K2, to whose nodal phase the library gives the sign of a difference."""

SPELLINGS: Final = {
    "lam2": "lambda2",
    "la2": "lambda2",
    "rho": "rho1",
    "ro1": "rho1",
    "sig1": "sigma1",
    "sgm": "sigma1",
    "th1": "theta1",
    "the1": "theta1",
    "lda2": "lambda2",
    "ph1": "phi1",
    "ps1": "psi1",
    "ep2": "eps2",
    "epsilon2": "eps2",
    "m(ks)2": "mks2",
    "alp1": "alpha1",
    "bet1": "beta1",
}
"""Other names that agencies and data sets give to constituents."""


@dataclass(frozen=True, slots=True)
class Harmonics:
    """A sum of tidal constituents.

    names: as agencies write them (``M2``, ``2MK3``, ``LAM2``), in any case.
    amplitude, mean: metres, or metres a second; `mean` is added to the sum.
    phase_deg: Greenwich phase lag (kappa prime, G), degrees.
    nodal: whether nodal corrections are followed, or held for a year but for the hours about its
        beginning.
    """

    names: tuple[str, ...]
    amplitude: Floats
    phase_deg: Floats
    mean: float = 0.0
    nodal: Nodal = "daily"

    def value(self, times: Any) -> Floats:
        """Sum at UTC times, of any shape; NaN at NaT.

        Daily factors and phases are found at each midnight (UTC) and are straight lines between.
        """
        moments = as_utc(times)
        flat = moments.ravel()
        value = np.full(flat.shape, np.nan)
        known = ~np.isnat(flat)
        if known.any():
            value[known] = self.mean + self._smooth_sum(flat[known])
        return value.reshape(moments.shape)

    def _smooth_sum(self, moments: Times) -> Floats:
        """Sum, passing from one year's nodal corrections into the next one's."""
        total = self._sum(moments)
        if self.nodal == "daily":
            return total
        days = (moments - _nearest_new_year(moments)) / DAY
        near = np.abs(days) < PASSING_DAYS
        for side, step in ((days < 0, 1), (days >= 0, -1)):
            part = near & side
            if part.any():
                beyond = self._sum(moments[part], years_on=step)
                share = _smooth_step((1.0 - np.abs(days[part]) / PASSING_DAYS) / 2.0)
                total[part] += share * (beyond - total[part])
        return total

    def _sum(self, moments: Times, *, years_on: int = 0) -> Floats:
        """Sum; with yearly corrections of `years_on` later."""
        day = ((moments - EPOCH) // DAY).astype(np.int64)
        passed = (moments - EPOCH - day * DAY) / DAY
        days, row = np.unique(day, return_inverse=True)
        hours, column = np.unique(passed, return_inverse=True)
        speed = _speeds(self.names)
        start, change = self._nodes(days, speed, years_on)
        if days.size * hours.size <= 4 * moments.size + CHUNK:
            phases = np.exp(1j * np.outer(speed, hours))
            table = (start @ phases + change @ (phases * hours)).real
            return np.asarray(table[row, column], np.float64)
        total = np.empty(moments.shape)
        for first in range(0, moments.size, CHUNK):
            part = slice(first, first + CHUNK)
            share = passed[part, None]
            now = start[row[part]] + share * change[row[part]]
            total[part] = (now * np.exp(1j * share * speed)).real.sum(axis=1)
        return total

    def _nodes(self, days: Ints, speed: Floats, years_on: int) -> tuple[Complexes, Complexes]:
        """Complex amplitude at the start of each day, and its change by the end of it."""
        lagged = self.amplitude * np.exp(-1j * np.radians(self.phase_deg))
        if self.nodal == "yearly":
            start = lagged * _yearly(days, self.names, years_on)
            return start, np.zeros_like(start)
        every = np.unique(np.concatenate([days, days + 1]))
        vector = lagged * _daily(every, self.names)
        start = vector[np.searchsorted(every, days)]
        end = vector[np.searchsorted(every, days + 1)] * np.exp(-1j * speed)
        return start, end - start


def canonical_name(name: str) -> str:
    """Give the name that the astronomical library has for a constituent."""
    word = name.strip().lower().replace("_kv", "")
    return SPELLINGS.get(word, word)


@cache
def known_constituent(name: str) -> bool:
    """Say whether a constituent can be predicted."""
    try:
        coefficients_table([canonical_name(name)], corrections="FES")
        frequency([canonical_name(name)], corrections="FES")
    except ValueError:
        return False
    return True


def check_names(names: Sequence[str], *, file: Any = None) -> None:
    """Refuse constituents that can't be predicted, and those given twice."""
    unknown = [name for name in names if not known_constituent(name)]
    if unknown:
        raise WaterError(
            f"unknown tidal constituent {', '.join(unknown)}",
            file=file,
            do="Use the agency's names, like M2, K1 or 2MK3, or leave small ones out.",
        )
    plain = [canonical_name(name) for name in names]
    twice = sorted({name.upper() for name in plain if plain.count(name) > 1})
    if twice:
        raise WaterError(
            f"constituent {', '.join(twice)} is given twice", file=file, do="Keep one of them."
        )


def _daily(days: Ints, names: Sequence[str]) -> Complexes:
    """F exp(i (V + u)) at midnights (rows) for constituents (columns)."""
    u, f, v = _arguments(days.astype(float), names)
    return np.asarray(f * np.exp(1j * (np.radians(v) + u)), np.complex128)


def _yearly(days: Ints, names: Sequence[str], years_on: int) -> Complexes:
    """As `_daily`, with f and u of the middle of the year that each day is in, or of one beside."""
    years = (EPOCH + days * DAY).astype("datetime64[Y]") + np.timedelta64(years_on, "Y")
    starts, row = np.unique(years, return_inverse=True)
    middle = (starts.astype("datetime64[ns]") - EPOCH) / DAY + HALF_YEAR_DAYS
    u, f, _ = _arguments(middle, names)
    for i, name in enumerate(names):
        if canonical_name(name) == "m1":
            u[:, i] += HALF_YEAR_DAYS * PERIGEE_RATE
    _, _, v = _arguments(days.astype(float), names)
    return np.asarray((f * np.exp(1j * u))[row] * np.exp(1j * np.radians(v)), np.complex128)


def _nearest_new_year(moments: Times) -> Times:
    """Give the beginning of a year (UTC) that is nearest to each moment."""
    half = np.timedelta64(HALF_YEAR_HOURS, "h")
    years: Times = (moments + half).astype("datetime64[Y]").astype("datetime64[ns]")
    return years


def _smooth_step(share: Floats) -> Floats:
    """Rise from 0 to 1 with level and even ends: Perlin's fifth-degree step (2002)."""
    return np.asarray(share**3 * (10.0 - share * (15.0 - 6.0 * share)), np.float64)


def _arguments(mjd: Floats, names: Sequence[str]) -> tuple[Floats, Floats, Floats]:
    """U (radians), f and V (degrees) of Schureman."""
    plain = ["m1a" if canonical_name(name) == "m1" else canonical_name(name) for name in names]
    u, f, v = arguments(mjd, plain, corrections="FES", M1="Schureman", climate_solar_perigee=True)
    if "m1a" in plain:
        u[:, plain.index("m1a")] += _quadrant_of_m1(mjd)
    if with_k2 := [at for at, name in enumerate(plain) if name in WITH_K2]:
        u[:, with_k2] += 2 * arguments(mjd, ["k2"], corrections="FES")[0]
    return u, f, v


def _quadrant_of_m1(mjd: Floats) -> Floats:
    """Half a turn where Q must be in the second or third quadrant, as P does (Schureman p. 42)."""
    _, _, perigee, node, _ = (np.radians(angle) for angle in mean_longitudes(mjd, method="ASTRO5"))
    xi = schureman_arguments(perigee, node)[1]
    return np.where(np.cos(perigee - xi) < 0, np.pi, 0.0)


def _speeds(names: Sequence[str]) -> Floats:
    """Radians a day."""
    plain = ["m1a" if canonical_name(name) == "m1" else canonical_name(name) for name in names]
    return np.asarray(
        frequency(plain, corrections="FES", climate_solar_perigee=True) * 86400.0, np.float64
    )
