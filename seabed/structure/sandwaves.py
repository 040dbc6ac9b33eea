"""Sand waves: wavelength, height and crest bearing by the spectrum of windows.

In each window the trend (a quadric) is taken off, a Hann taper applied, and the greatest peak of
the 2-D power spectrum sought.  It must be higher than all bins about it, which the end of a lone
step's falling spectrum is not, and stand out of its own ring of equal wavelength, where a
bottom without waves has powers that scatter exponentially about a level: the chance of so great a
peak among all that were looked at is the window's p-value (Fisher 1929, Proc. R. Soc. A 125, 54-59,
for one dimension and a flat level).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.grid import CellSize, cell_size, crs_of, transform_of
from seabed.terrain.chunks import contiguous
from seabed.terrain.north import convergence_at

__all__ = ["sand_waves"]

Floats = NDArray[np.float64]

COLUMNS: Final = (
    "window_id", "wavelength_m", "height_m", "crest_bearing_deg", "p_value", "depth_m",
)  # fmt: skip
_MOST_VOID: Final = 0.1
_RING: Final = 1.25
"""A ring reaches from a peak's wavenumber divided by this to it times this."""
_LOBE: Final = 2.5
"""Bins around a peak that the taper smears it over."""
_ABOUT: Final = 1.5
_FEWEST_WAVES: Final = 4.0


def sand_waves(
    grid: xr.DataArray,
    *,
    window_m: float = 400.0,
    wavelengths_m: tuple[float, float] | None = None,
    min_height_m: float = 0.3,
    max_p_value: float = 1e-3,
) -> gpd.GeoDataFrame:
    """Find where the bottom is waved, and how.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    window_m : float
        Side of the square windows, which overlap by half.
    wavelengths_m : (float, float), optional
        Least and greatest wavelength looked for; 4 cells to a quarter of the window by default.
    min_height_m : float
        Least height of the waves from trough to crest.
    max_p_value : float
        Greatest chance that a bottom without waves shows such a peak in a window.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, a row for each window with waves, from north-west to south-east:

        - ``window_id``: 0, 1, ...
        - ``wavelength_m``: over the ground, from crest to crest
        - ``height_m``: from trough to crest, of the sine that carries the peak's variance
        - ``crest_bearing_deg``: along the crests, 0 <= bearing < 180, degrees true
        - ``p_value``; ``depth_m``: mean depth of the window
        - ``geometry``: Polygon, the window

        Empty, with these columns, where there is none.

    Raises
    ------
    GridError
        If the window holds fewer than 16 cells a side, or the wavelengths don't fit it.

    Notes
    -----
    Windows with more than a tenth of void are passed over.  Wavelength and direction are the
    centre of power of the peak, good to a few per cent of a bin of 1 / `window_m`.
    """
    size = cell_size(grid)
    least, most = _wavelengths(size, window_m, wavelengths_m)
    depth = contiguous(grid.values)
    found = []
    for rows, columns in _windows(depth.shape, size, window_m):
        part = depth[rows, columns].astype(float)
        middle = (rows.start + rows.stop) // 2
        wave = _wave(part, size.easting[middle], size.northing[middle], least, most)
        if wave is not None:
            found.append((*wave, rows.start, rows.stop, columns.start, columns.stop))
    table = pd.DataFrame(
        found,
        columns=["wavelength_m", "height_m", "towards", "p_value", "depth_m", "n", "s", "w", "e"],
        dtype=float,
    )
    table = table[
        (table["height_m"] >= min_height_m)
        & (table["p_value"] <= max_p_value)
        & table["wavelength_m"].between(least, most)
    ]
    return _described(grid, table.reset_index(drop=True))


def _wavelengths(
    size: CellSize, window_m: float, wanted: tuple[float, float] | None
) -> tuple[float, float]:
    if window_m < 16 * size.typical:
        raise GridError(
            f"a window of {window_m:g} m holds fewer than 16 cells of {size.typical:.3g} m",
            do=f"Choose {16 * size.typical:.3g} m or more.",
        )
    finest, widest = 4 * size.typical, window_m / _FEWEST_WAVES
    least, most = (finest, widest) if wanted is None else (min(wanted), max(wanted))
    if least < 2 * size.typical or most > window_m / 2 or least >= most:
        raise GridError(
            f"waves of {least:g} to {most:g} m can't be told in windows of {window_m:g} m",
            do=f"Keep between {2 * size.typical:.3g} m (two cells) and half the window.",
        )
    return least, most


def _windows(
    shape: tuple[int, ...], size: CellSize, window_m: float
) -> Iterator[tuple[slice, slice]]:
    """Squares over the ground that overlap by half; the last ones are pushed back inside."""
    high = min(round(window_m / size.northing[len(size.northing) // 2]), shape[0])
    for top in _starts(shape[0], high):
        wide = min(round(window_m / size.easting[top + high // 2]), shape[1])
        for left in _starts(shape[1], wide):
            yield slice(top, top + high), slice(left, left + wide)


def _starts(length: int, side: int) -> list[int]:
    return sorted({*range(0, length - side + 1, max(side // 2, 1)), length - side})


def _wave(
    depth: Floats, width: float, height: float, least_m: float, most_m: float
) -> tuple[float, float, float, float, float] | None:
    """Wavelength, height, direction of the wave vector from grid north, p-value and mean depth."""
    known = ~np.isnan(depth)
    if known.mean() < 1 - _MOST_VOID or min(depth.shape) < 8:
        return None
    rough = _detrended(depth, known)
    taper = np.outer(np.hanning(depth.shape[0]), np.hanning(depth.shape[1]))
    # both halves of the spectrum are alike: one is searched, at twice its power
    power = 2 * np.abs(np.fft.fft2(rough * taper)) ** 2 / (taper**2).sum() / depth.size
    north = -np.fft.fftfreq(depth.shape[0], height)[:, None]
    east = np.fft.fftfreq(depth.shape[1], width)[None, :]
    half = (east > 0) | ((east == 0) & (north > 0))
    number = np.hypot(north, east)
    sought = half & (number >= 1 / most_m) & (number <= 1 / least_m)
    if not sought.any() or not power[sought].any():
        return None
    peak = np.unravel_index(np.argmax(np.where(sought, power, 0)), power.shape)
    away = np.hypot(
        (north - north[peak[0], 0]) * depth.shape[0] * height,
        (east - east[0, peak[1]]) * depth.shape[1] * width,
    )
    if power[away < _ABOUT].max() > power[peak]:
        return None  # the slope of a higher peak that was not sought
    ring = (number > number[peak] / _RING) & (number < number[peak] * _RING) & (away > _LOBE)
    ring &= half
    if ring.sum() < 6:
        return None
    level = np.median(power[ring]) / np.log(2)  # mean of an exponential by its median
    p_value = -np.expm1(sought.sum() * np.log1p(-np.exp(-power[peak] / max(level, 1e-30))))
    lobe = np.where(away <= _LOBE, power, 0)
    near = np.where(away < _ABOUT, power, 0)
    towards_north, towards_east = (
        (near * north).sum() / near.sum(),
        (near * east).sum() / near.sum(),
    )
    return (
        1 / float(np.hypot(towards_north, towards_east)),
        float(2 * np.sqrt(2 * lobe.sum())),
        float(np.degrees(np.arctan2(towards_east, towards_north))),
        float(p_value),
        float(depth[known].mean()),
    )


def _detrended(depth: Floats, known: NDArray[np.bool_]) -> Floats:
    """Take the best quadric off; voids become 0."""
    terms, inverse = _quadric(depth.shape)
    if known.all():
        return depth - (terms @ (inverse @ depth.ravel())).reshape(depth.shape)
    fitted, *_ = np.linalg.lstsq(terms[known.ravel()], depth[known], rcond=None)
    return np.where(known, depth - (terms @ fitted).reshape(depth.shape), 0.0)


@lru_cache(maxsize=8)
def _quadric(shape: tuple[int, int]) -> tuple[Floats, Floats]:
    """Terms of a quadric at each cell, shape (cells, 6), and their pseudo-inverse."""
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).reshape(-1, 6)
    return terms, np.linalg.pinv(terms)


def _described(grid: xr.DataArray, table: pd.DataFrame) -> gpd.GeoDataFrame:
    affine = transform_of(grid)
    west, east = affine.c + table["w"] * affine.a, affine.c + table["e"] * affine.a
    north, south = affine.f + table["n"] * affine.e, affine.f + table["s"] * affine.e
    turn = convergence_at(grid, ((west + east) / 2).to_numpy(), ((north + south) / 2).to_numpy())
    table = table.assign(
        window_id=np.arange(len(table)),
        crest_bearing_deg=np.mod(table["towards"] + 90 + turn, 180),
    )
    return gpd.GeoDataFrame(
        table[list(COLUMNS)], geometry=shapely.box(west, south, east, north), crs=crs_of(grid)
    )
