"""The tide's once-a-day and twice-a-day parts at a moment, taken from any source of heights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from layers.water.heights._heights import Heights
from layers.water.times import HOUR, as_utc, hours_between
from seabed.array_types import Times

Complexes = NDArray[np.complex128]

HALF_DAY_SPEED: Final = 2 * np.pi / 12.4206012
"""Radians an hour of the lunar tide M2."""

REACH_HOURS: Final = 30.0
STEP_MINUTES: Final = 30
LEAST_KNOWN: Final = 0.6
"""Share of the window's weight that must be known."""


@dataclass(frozen=True, slots=True)
class TideParts:
    """Parts of the tide as complex amplitudes, metres: real part now, imaginary a quarter earlier.

    once, twice, shape (n,): the daily and the half-daily part; NaN if unknown.  The angle of
        `twice` is 0 at its high water and grows with time.
    """

    once: Complexes
    twice: Complexes


def tide_parts(heights: Heights, times: Any) -> TideParts:
    """Split the tide into its parts at UTC times, shape (n,).

    At each whole half hour a daily, a half-daily and a quarter-daily wave and a mean level are
    fitted to the heights 30 hours to either side, tapered (complex demodulation by least squares,
    so that the ends of a table do); between them the parts are interpolated.
    """
    moments = np.atleast_1d(as_utc(times))
    unknown = np.full(moments.shape, np.nan + 0j)
    known = ~np.isnat(moments)
    if not known.any():
        return TideParts(unknown, unknown.copy())
    step = np.timedelta64(STEP_MINUTES * 60 * 10**9, "ns")
    cell = ((moments[known] - EPOCH) // step).astype(np.int64)
    nodes = np.unique(np.concatenate([cell, cell + 1]))
    at = EPOCH + nodes * step
    parts = _fit(heights, at)
    hours = hours_between(EPOCH, moments[known])
    amplitudes = []
    for part, speed in zip(parts, (HALF_DAY_SPEED / 2, HALF_DAY_SPEED), strict=True):
        slow = part * np.exp(-1j * speed * hours_between(EPOCH, at))
        first, second = (slow[np.searchsorted(nodes, index)] for index in (cell, cell + 1))
        share = hours / (STEP_MINUTES / 60) - cell
        whole = unknown.copy()
        whole[known] = (first + share * (second - first)) * np.exp(1j * speed * hours)
        amplitudes.append(whole)
    return TideParts(*amplitudes)


EPOCH: Final = np.datetime64("2000-01-01", "ns")


def _fit(heights: Heights, at: Times) -> tuple[Complexes, Complexes]:
    offsets = np.arange(-REACH_HOURS, REACH_HOURS + 0.1, 1.0)
    taper = np.cos(np.pi / 2 * offsets / (REACH_HOURS + 1.0)) ** 2
    columns = [np.ones(offsets.shape)]
    for multiple in (0.5, 1.0, 2.0):
        angle = multiple * HALF_DAY_SPEED * offsets
        columns += [np.cos(angle), np.sin(angle)]
    design = np.stack(columns, axis=1)
    every = at[:, None] + (offsets * float(HOUR / np.timedelta64(1, "ns"))).astype(
        "timedelta64[ns]"
    )
    distinct, where = np.unique(every, return_inverse=True)
    level = heights.height_m(distinct)[where].reshape(every.shape)
    weight = np.where(np.isfinite(level), taper, 0.0)
    enough = weight.sum(axis=1) >= LEAST_KNOWN * taper.sum()
    once, twice = (np.full(len(at), np.nan + 0j) for _ in range(2))
    if enough.any():
        some = weight[enough]
        normal = np.einsum("nt,ti,tj->nij", some, design, design)
        right = np.einsum("nt,ti,nt->ni", some, design, np.nan_to_num(level[enough]))
        solved = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
        once[enough] = solved[:, 1] - 1j * solved[:, 2]
        twice[enough] = solved[:, 3] - 1j * solved[:, 4]
    return once, twice
