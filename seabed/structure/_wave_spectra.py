"""Spectra of windows of a depth grid: trend off, tapered, and the level around a peak."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from seabed.array_types import Floats, Mask, Pair

Indices = NDArray[np.intp]

_RING: Final = 1.25
"""A ring reaches from a peak's wavenumber divided by this to it times this."""
_LOBE: Final = 2.5
"""Bins around a peak that the taper smears it over."""
_WIDER: Final = 1.2
"""Bins are searched this far beyond the wavelengths sought: a wave is between bins."""


@dataclass(frozen=True, slots=True)
class Bins:
    """Bins of the spectrum of windows of one shape.

    north, east: wavenumbers of rows and columns, cycles a metre.
    sought: bins of one half of the plane with the wavelengths sought, in the order of memory.
    outward, number: all bins of that half by rising wavenumber, and the wavenumbers.
    """

    north: Floats
    east: Floats
    sought: Indices
    outward: Indices
    number: Floats

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.north), len(self.east)


@lru_cache(maxsize=8)
def bins_of(
    shape: tuple[int, int], width: float, height: float, least_m: float, most_m: float
) -> Bins:
    north = np.asarray(-np.fft.fftfreq(shape[0], height), float)
    east = np.asarray(np.fft.fftfreq(shape[1], width), float)
    number = np.hypot(north[:, None], east).ravel()
    # both halves of the spectrum are alike: one is searched
    half = ((east > 0) | ((east == 0) & (north[:, None] > 0))).ravel()
    outward = np.flatnonzero(half)
    outward = outward[np.argsort(number[outward], kind="stable")]
    sought = half & (number >= 1 / (_WIDER * most_m)) & (number <= _WIDER / least_m)
    sought = np.flatnonzero(sought)
    return Bins(north, east, sought, outward, number[outward])


def spectra(flat: Floats) -> Floats:
    """Power of tapered windows, shape (windows, rows, columns), at twice that of both halves."""
    _, high, wide = flat.shape
    taper = np.outer(np.hanning(high), np.hanning(wide))
    spectrum = fft.fft2(flat * taper)
    power: Floats = (spectrum.real**2 + spectrum.imag**2) * (2 / (taper**2).sum() / (high * wide))
    return power


def level_about(power: Floats, peak: int, bins: Bins) -> tuple[float, float]:
    """Mean power in the ring of a peak without its lobe, and how many bins it has; NaN if few.

    Every other bin counts: the taper has neighbours share.  A level of so few makes great ratios
    less rare than an exact one would (F distribution).
    """
    number = np.hypot(bins.north[peak // bins.shape[1]], bins.east[peak % bins.shape[1]])
    first = np.searchsorted(bins.number, number / _RING, side="right")
    ring = bins.outward[first : np.searchsorted(bins.number, number * _RING, side="left")]
    away = np.hypot(*_apart(ring, peak, bins.shape))
    ring = ring[away > _LOBE]
    if len(ring) < 6:
        return np.nan, 1.0
    # mean of an exponential by its median
    return float(np.median(power[ring]) / np.log(2)), len(ring) / 2


def _apart(bins: Indices, peak: int, shape: tuple[int, int]) -> tuple[Indices, Indices]:
    """Rows and columns from a peak to bins, none across the highest wavenumber."""
    (row, column), (at_row, at_column) = np.divmod(bins, shape[1]), divmod(int(peak), shape[1])
    return (
        _signed(row, shape[0]) - _signed(at_row, shape[0]),
        _signed(column, shape[1]) - _signed(at_column, shape[1]),
    )


def _signed(index: Any, count: int) -> Any:
    """Whole number of the frequency of a bin, as `numpy.fft.fftfreq` orders them."""
    return (index + count // 2) % count - count // 2


def around(
    power: Floats, peak: Indices, bins: Bins, radius: float
) -> tuple[Floats, Floats, Floats]:
    """Power, and wavenumber north and east, of the bins about each peak, shape (peaks, bins)."""
    reach = np.arange(-int(radius), int(radius) + 1)
    down, right = (one.ravel() for one in np.meshgrid(reach, reach))
    inside = np.hypot(down, right) <= radius
    high, wide = bins.shape
    row = _signed(peak // wide, high)[:, None] + down[inside]
    column = _signed(peak % wide, wide)[:, None] + right[inside]
    there = (_signed(row, high) == row) & (_signed(column, wide) == column)
    row, column = row % high, column % wide
    near = np.take_along_axis(power, row * wide + column, axis=1)
    return np.where(there, near, 0.0), bins.north[row], bins.east[column]


def detrended(depth: Floats, known: Mask) -> Floats:
    """Take the best quadric off each window; voids become 0."""
    terms, inverse = _quadric(depth.shape[1:])
    flat = depth.reshape(len(depth), -1)
    whole = known.all(axis=(1, 2))
    # not by a matrix library, whose threads cost more than they save; NaN of windows with voids
    fitted = np.einsum("wc,tc->wt", flat, inverse)
    for k in np.flatnonzero(~whole):
        there = known[k].ravel()
        own = terms[there]
        square = np.einsum("ct,cs->ts", own, own)
        fitted[k] = np.linalg.pinv(square) @ np.einsum("ct,c->t", own, flat[k, there])
    return np.where(known, depth - np.einsum("wt,ct->wc", fitted, terms).reshape(depth.shape), 0.0)


@lru_cache(maxsize=8)
def _quadric(shape: tuple[int, int]) -> Pair:
    """Terms of a quadric at each cell, shape (cells, 6), and their pseudo-inverse."""
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).reshape(-1, 6)
    return terms, np.linalg.pinv(terms)
