"""Spectra of windows of a depth grid: trend off, tapered, and the level around a peak."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from seabed.array_types import Floats, Mask

Indices = NDArray[np.intp]

_RING: Final = 1.25
"""A ring reaches from a peak's wavenumber divided by this to it times this."""
_LOBE: Final = 2.5
"""Bins around a peak that the taper smears it over."""
_WIDER: Final = 1.2
"""Bins are searched this far beyond the wavelengths sought: a wave is between bins."""


@dataclass(frozen=True, slots=True)
class Bins:
    """Bins of the spectrum of windows of one shape, of which a half is kept: the other is alike.

    north, east: wavenumbers of rows and columns, cycles a metre.
    sought: bins of the half with the wavelengths sought, in the order of memory.
    outward, number: all bins of the half by rising wavenumber, and the wavenumbers.
    """

    north: Floats
    east: Floats
    sought: Indices
    outward: Indices
    number: Floats

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the windows."""
        return len(self.north), len(self.east)

    @property
    def kept(self) -> int:
        """Columns of the half."""
        return len(self.east) // 2 + 1


@lru_cache(maxsize=8)
def bins_of(
    shape: tuple[int, int], width: float, height: float, least_m: float, most_m: float
) -> Bins:
    north = np.asarray(-np.fft.fftfreq(shape[0], height), float)
    east = np.asarray(np.fft.fftfreq(shape[1], width), float)
    right = east[: shape[1] // 2 + 1]
    number = np.hypot(north[:, None], right).ravel()
    # of column 0 the rows below are alike those above; the last is at the highest wavenumber
    half = ((right > 0) | ((right == 0) & (north[:, None] > 0))).ravel()
    outward = np.flatnonzero(half)
    outward = outward[np.argsort(number[outward], kind="stable")]
    sought = half & (number >= 1 / (_WIDER * most_m)) & (number <= _WIDER / least_m)
    sought = np.flatnonzero(sought)
    return Bins(north, east, sought, outward, number[outward])


@lru_cache(maxsize=8)
def taper_of(shape: tuple[int, int]) -> Floats:
    """Weights of a window's cells, which fall to 0 at its sides."""
    return np.outer(np.hanning(shape[0]), np.hanning(shape[1]))


def spectra(flat: Floats) -> Floats:
    """Power of tapered windows, shape (windows, rows, kept), at twice that of both halves."""
    taper = taper_of(flat.shape[1:])
    spectrum = fft.rfft2(flat * taper)
    power: Floats = (spectrum.real**2 + spectrum.imag**2) * (2 / (taper**2).sum() / taper.size)
    return power


def level_about(power: Floats, peak: int, bins: Bins) -> tuple[float, float]:
    """Mean power in the ring of a peak without its lobe, and how many bins it has; NaN if few.

    Every other bin counts: the taper has neighbours share.  A level of so few makes great ratios
    less rare than an exact one would (F distribution).
    """
    number = np.hypot(bins.north[peak // bins.kept], bins.east[peak % bins.kept])
    first = np.searchsorted(bins.number, number / _RING, side="right")
    ring = bins.outward[first : np.searchsorted(bins.number, number * _RING, side="left")]
    away = np.hypot(*_apart(ring, peak, bins))
    ring = ring[away > _LOBE]
    if len(ring) < 6:
        return np.nan, 1.0
    # mean of an exponential by its median
    return float(np.median(power[ring]) / np.log(2)), len(ring) / 2


def _apart(there: Indices, peak: int, bins: Bins) -> tuple[Indices, Indices]:
    """Rows and columns from a peak to bins, none across the highest wavenumber."""
    (row, column), (at_row, at_column) = np.divmod(there, bins.kept), divmod(int(peak), bins.kept)
    high, wide = bins.shape
    return (
        _signed(row, high) - _signed(at_row, high),
        _signed(column, wide) - _signed(at_column, wide),
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
    row = _signed(peak // bins.kept, high)[:, None] + down[inside]
    column = (peak % bins.kept)[:, None] + right[inside]
    there = (_signed(row, high) == row) & (_signed(column, wide) == column)
    # left of column 0 is the half that is not kept
    at = np.where(column < 0, -row, row) % high * bins.kept + np.abs(column)
    near = np.take_along_axis(power, at, axis=1)
    return np.where(there, near, 0.0), bins.north[row % high], bins.east[column % wide]


def detrended(depth: Floats, known: Mask) -> Floats:
    """Take the best quadric off each window; voids become 0."""
    y, x = (np.linspace(-1, 1, count)[:, None] ** np.arange(5) for count in depth.shape[1:])
    # sums of y^b x^a over known cells, and of that times the depth, at [:, b, a]
    cells = y.T @ known.astype(float) @ x
    sums = y.T[:3] @ np.where(known, depth, 0.0) @ x[:, :3]
    b, a = np.array([[0, 0, 1, 0, 1, 2], [0, 1, 0, 2, 1, 0]])
    square = cells[:, b[:, None] + b, a[:, None] + a]
    fitted = np.zeros_like(sums)
    fitted[:, b, a] = (np.linalg.pinv(square, hermitian=True) @ sums[:, b, a, None])[..., 0]
    return np.where(known, depth - y[:, :3] @ fitted @ x.T[:3], 0.0)
