"""Sand waves: wavelength, height and crest bearing by the spectrum of windows.

In each window the trend (a quadric) is taken off, a Hann taper applied, and the greatest peak of
the 2-D power spectrum sought.  It must be higher than all bins about it, which the end of a lone
step's falling spectrum is not, and stand out of its own ring of equal wavelength, where a
bottom without waves has powers that scatter exponentially about a level: the chance of so great a
peak among all that were looked at is the window's p-value (Fisher 1929, Proc. R. Soc. A 125, 54-59,
for one dimension and a flat level).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft

from seabed.errors import GridError
from seabed.grid import CellSize, crs_of, transform_of
from seabed.schema import Table, documented
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.kind import in_memory
from seabed.structure.blocks.whole import Results, Whole
from seabed.terrain.north import convergence_at

__all__ = ["SandWaves", "sand_waves"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

SAND_WAVES: Final = Table.of(
    "sand_waves",
    "seabed.structure.sand_waves",
    """
    window_id [int] 0, 1, ...
    wavelength_m [depth] over the ground, from crest to crest
    height_m [depth] from trough to crest, of the sine that carries the peak's variance
    crest_bearing_deg along the crests, 0 <= bearing < 180, degrees true
    p_value chance of such a peak without waves
    depth_m mean depth of the window
    geometry [Polygon] the window
    """,
)
_FOUND: Final = (
    "wavelength_m", "height_m", "towards", "p_value", "depth_m", "n", "s", "w", "e",
)  # fmt: skip
_MOST_VOID: Final = 0.1
_RING: Final = 1.25
"""A ring reaches from a peak's wavenumber divided by this to it times this."""
_LOBE: Final = 2.5
"""Bins around a peak that the taper smears it over."""
_ABOUT: Final = 1.5
_FEWEST_WAVES: Final = 4.0


@documented(SAND_WAVES)
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
        In the grid's CRS, a row for each window with waves, from north-west to south-east; without
        rows where there is none.

        {sand_waves}

    Raises
    ------
    GridError
        If the window holds fewer than 16 cells a side, or the wavelengths don't fit it.

    Notes
    -----
    Windows with more than a tenth of void are passed over.  Wavelength and direction are the
    centre of power of the peak, good to a few per cent of a bin of 1 / `window_m`.

    Examples
    --------
    >>> import numpy as np
    >>> from affine import Affine
    >>> from seabed import make_grid
    >>> waved = np.fromfunction(lambda _, x: 10 + 0.5 * np.sin(2 * np.pi * x / 10), (120, 120))
    >>> grid = make_grid(waved, transform=Affine(5, 0, 0, 0, -5, 0), crs="EPSG:32631")
    >>> waves = sand_waves(grid)
    >>> waves[["wavelength_m", "height_m"]].round(1).iloc[0].tolist()
    [50.0, 1.0]
    """
    return in_memory(SandWaves(window_m, wavelengths_m, min_height_m, max_p_value), grid)


@dataclass(frozen=True, slots=True)
class SandWaves:
    """Sand waves of a grid in blocks: a window counts where its north-western cell lies."""

    window_m: float = 400.0
    wavelengths_m: tuple[float, float] | None = None
    min_height_m: float = 0.3
    max_p_value: float = 1e-3

    def check(self, whole: Whole) -> None:
        """Refuse windows of too few cells, and waves that don't fit them."""
        _wavelengths(whole.size, self.window_m, self.wavelengths_m)

    def margin(self, whole: Whole) -> int:
        """Cells of a window."""
        return math.ceil(self.window_m / whole.smallest_m) + 1

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Find the waves in the windows of a chunk: ``waves``, a column for each of `_FOUND`."""
        whole, chunk = block.whole, block.chunk
        least, most = _wavelengths(whole.size, self.window_m, self.wavelengths_m)
        found = [np.empty((0, len(_FOUND)))]
        for rows, columns, wide, cell in _window_rows(whole.shape, whole.size, self.window_m):
            if not chunk.row <= rows.start < chunk.row + chunk.rows:
                continue
            own = [at for at in columns if chunk.column <= at < chunk.column + chunk.columns]
            if own:
                here = slice(rows.start - block.row, rows.stop - block.row)
                bins = _bins((rows.stop - rows.start, wide), *cell, least, most)
                found.append(_waves(block.ground, here, [at - block.column for at in own], bins))
        table = np.concatenate(found)
        table[:, 5:7] += block.row
        table[:, 7:9] += block.column
        return {"waves": table}

    def join(self, results: Results, whole: Whole) -> gpd.GeoDataFrame:
        """Put the windows of all chunks together; as `sand_waves`."""
        least, most = _wavelengths(whole.size, self.window_m, self.wavelengths_m)
        waves = np.concatenate([result["waves"] for result in results])
        table = pd.DataFrame(waves, columns=list(_FOUND)).sort_values(["n", "w"])
        table = table[
            (table["height_m"] >= self.min_height_m)
            & (table["p_value"] <= self.max_p_value)
            & table["wavelength_m"].between(least, most)
        ]
        return _described(whole.frame, table.reset_index(drop=True))


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


def _window_rows(
    shape: tuple[int, ...], size: CellSize, window_m: float
) -> Iterator[tuple[slice, list[int], int, tuple[float, float]]]:
    """Squares over the ground that overlap by half, row by row; the last are pushed back inside.

    Gives the rows of cells, where each square starts in them, how many cells wide it is, and the
    width and height of its middle cells.
    """
    high = min(round(window_m / size.northing[len(size.northing) // 2]), shape[0])
    for top in _starts(shape[0], high):
        middle = top + high // 2
        width, height = float(size.easting[middle]), float(size.northing[middle])
        wide = min(round(window_m / width), shape[1])
        yield slice(top, top + high), _starts(shape[1], wide), wide, (width, height)


def _starts(length: int, side: int) -> list[int]:
    return sorted({*range(0, length - side + 1, max(side // 2, 1)), length - side})


@dataclass(frozen=True, slots=True)
class _Bins:
    """Bins of the spectrum of windows of one shape.

    Attributes
    ----------
    north, east : ndarray, shape (rows,) and (columns,)
        Wavenumbers, cycles a metre.
    sought : ndarray of int, shape (n,)
        Bins of one half of the plane with the wavelengths looked for, as they lie in memory.
    outward, number : ndarray, shape (m,)
        All bins of that half by rising wavenumber, and the wavenumbers.
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
def _bins(
    shape: tuple[int, int], width: float, height: float, least_m: float, most_m: float
) -> _Bins:
    north = np.asarray(-np.fft.fftfreq(shape[0], height), float)
    east = np.asarray(np.fft.fftfreq(shape[1], width), float)
    number = np.hypot(north[:, None], east).ravel()
    # both halves of the spectrum are alike: one is searched
    half = ((east > 0) | ((east == 0) & (north[:, None] > 0))).ravel()
    outward = np.flatnonzero(half)
    outward = outward[np.argsort(number[outward], kind="stable")]
    sought = np.flatnonzero(half & (number >= 1 / most_m) & (number <= 1 / least_m))
    return _Bins(north, east, sought, outward, number[outward])


def _waves(depth: NDArray[np.float32], rows: slice, starts: list[int], bins: _Bins) -> Floats:
    """Waves in a row of windows, shape (waved, 9): a column for each of `_FOUND`."""
    high, wide = bins.shape
    if min(high, wide) < 8 or not len(bins.sought):
        return np.empty((0, len(_FOUND)))
    windows = sliding_window_view(depth[rows], wide, axis=1)[:, starts].transpose(1, 0, 2)
    known = ~np.isnan(windows)
    enough = known.mean(axis=(1, 2)) >= 1 - _MOST_VOID
    if not enough.any():
        return np.empty((0, len(_FOUND)))
    known, windows = known[enough], windows[enough].astype(float)
    power = _spectra(windows, known).reshape(len(windows), -1)
    peak = bins.sought[power[:, bins.sought].argmax(axis=1)]
    highest = power[np.arange(len(peak)), peak]
    level = np.array([_level(*one, bins) for one in zip(power, peak, strict=True)])
    near, towards_north, towards_east = _about(power, peak, bins, _ABOUT)
    lobe, _, _ = _about(power, peak, bins, _LOBE)
    # not the slope of a higher peak that was not sought
    waved = (highest > 0) & (near.max(axis=1) <= highest) & np.isfinite(level)
    with np.errstate(invalid="ignore", divide="ignore"):
        total = near.sum(axis=1)
        towards_north = (near * towards_north).sum(axis=1) / total
        towards_east = (near * towards_east).sum(axis=1) / total
        chance = np.log1p(-np.exp(-highest / np.maximum(level, 1e-30)))
        left = np.array(starts, float)[enough]
        told: Floats = np.column_stack([
            1 / np.hypot(towards_north, towards_east),
            2 * np.sqrt(2 * lobe.sum(axis=1)),
            np.degrees(np.arctan2(towards_east, towards_north)),
            -np.expm1(len(bins.sought) * chance),
            np.nanmean(windows, axis=(1, 2)),
            np.full(len(left), rows.start), np.full(len(left), rows.stop),
            left, left + wide,
        ])  # fmt: skip
    found: Floats = told[waved]
    return found


def _spectra(depth: Floats, known: NDArray[np.bool_]) -> Floats:
    """Power of tapered windows, shape (windows, rows, columns), at twice that of both halves."""
    _, high, wide = depth.shape
    taper = np.outer(np.hanning(high), np.hanning(wide))
    spectrum = fft.fft2(_detrended(depth, known) * taper)
    power: Floats = (spectrum.real**2 + spectrum.imag**2) * (2 / (taper**2).sum() / (high * wide))
    return power


def _level(power: Floats, peak: int, bins: _Bins) -> float:
    """Mean power in the ring of a peak, but for its lobe; NaN if too few bins tell it."""
    number = np.hypot(bins.north[peak // bins.shape[1]], bins.east[peak % bins.shape[1]])
    first = np.searchsorted(bins.number, number / _RING, side="right")
    ring = bins.outward[first : np.searchsorted(bins.number, number * _RING, side="left")]
    away = np.hypot(*_apart(ring, peak, bins.shape))
    ring = ring[away > _LOBE]
    if len(ring) < 6:
        return np.nan
    return float(np.median(power[ring]) / np.log(2))  # mean of an exponential by its median


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


def _about(
    power: Floats, peak: Indices, bins: _Bins, radius: float
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
    found = np.take_along_axis(power, row * wide + column, axis=1)
    return np.where(there, found, 0.0), bins.north[row], bins.east[column]


def _detrended(depth: Floats, known: NDArray[np.bool_]) -> Floats:
    """Take the best quadric off each window; voids become 0."""
    terms, inverse = _quadric(depth.shape[1:])
    flat = depth.reshape(len(depth), -1)
    whole = known.all(axis=(1, 2))
    fitted = flat @ inverse.T  # NaN of windows with voids
    for k in np.flatnonzero(~whole):
        there = known[k].ravel()
        fitted[k] = np.linalg.lstsq(terms[there], flat[k, there], rcond=None)[0]
    return np.where(known, depth - (fitted @ terms.T).reshape(depth.shape), 0.0)


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
        geometry=shapely.box(west, south, east, north),
    )
    return SAND_WAVES.frame(table, crs=crs_of(grid))
