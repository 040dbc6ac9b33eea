"""Position index: how much higher or lower a cell is than the ground around it."""

from __future__ import annotations

import os
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy import fft

from seabed.array_types import Floats, Mask
from seabed.errors import GridError
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.terrain.chunks import like, over_windows, row_classes

_TILE: Final = 512
_TILE_IN_RADII: Final = 5
_WORKERS: Final = min(4, os.cpu_count() or 1)


def position_index(
    grid: xr.DataArray, *, inner_m: float, outer_m: float, standardised: bool = False
) -> xr.DataArray:
    """Height of each cell over the mean of a ring around it.

    The bathymetric position index (Weiss 2001; Lundblad et al. 2006, Mar. Geod. 29, 89-111).

    Parameters
    ----------
    grid : depth grid
    inner_m, outer_m : float
        Radii of the ring over the ground, both edges included, measured between cell centres.  An
        inner radius of 0 takes the whole disc.
    standardised : bool
        Subtract the mean of the whole grid's index and divide by its standard deviation, so that
        fine and broad rings can be compared.

    Returns
    -------
    xarray.DataArray of float32
        Metres (standard deviations, if standardised): positive on highs, negative in lows; lazy if
        the grid is.  Void cells and cells beyond the grid's border are left out of the mean; NaN at
        void cells and where the whole ring is void.

    Raises
    ------
    GridError
        If the radii don't make a ring, or no cell centre is in it.

    Notes
    -----
    Rings are summed by fast Fourier transform in tiles, so the cost of a cell hardly depends on the
    radius.  On a geographic grid the ring's width in cells follows the row's width within 0.5 %.

    Examples
    --------
    >>> from seabed import example_grid
    >>> round(float(position_index(example_grid(), inner_m=20, outer_m=60).values[20, 15]), 1)
    1.7
    """
    grid = as_grid(grid)
    if not 0 <= inner_m < outer_m:
        raise GridError(
            f"a ring from {inner_m:g} m to {outer_m:g} m is empty",
            do="Give radii with 0 <= inner < outer.",
        )
    size = cell_size(grid)
    width, height = row_classes(size.easting), float(size.northing[len(size.northing) // 2])
    half_rows, half_columns = int(outer_m / height), int(outer_m / width.min())
    if max(half_rows, half_columns) < 1:
        raise GridError(
            f"no cell centre is within {outer_m:g} m of another; cells are {size.typical:.3g} m",
            do="Choose a wider ring.",
        )

    def kernel(depth: NDArray[np.float32], widths: Floats) -> NDArray[np.float32]:
        return _index(depth, widths, height, inner_m, outer_m)

    index = over_windows(
        grid,
        kernel,
        (width,),
        margin=(half_rows, half_columns),
        name="position_index",
        attributes={
            "units": "1" if standardised else "m",
            "long_name": "height over the mean of a ring",
            "inner_m": inner_m,
            "outer_m": outer_m,
        },
    )
    return _standardised(index) if standardised else index


def _standardised(index: xr.DataArray) -> xr.DataArray:
    wide = index.astype(np.float64)
    values = ((wide - wide.mean()) / wide.std()).astype(np.float32)
    return like(index, values.data, name="position_index", attributes=index.attrs)


def _index(
    depth: NDArray[np.float32],
    widths: Floats,
    height: float,
    inner_m: float,
    outer_m: float,
) -> NDArray[np.float32]:
    """Index of a block whose outside is void, band of equal cell width by band."""
    out = np.empty_like(depth)
    edges = np.flatnonzero(np.diff(widths)) + 1
    for first, last in zip([0, *edges], [*edges, len(widths)], strict=True):
        ring = _Ring(_ring(widths[first], height, inner_m, outer_m))
        side = max(_TILE, _TILE_IN_RADII * max(ring.half))
        for top in range(first, last, side):
            rows = slice(top, min(top + side, last))
            for left in range(0, depth.shape[1], side):
                columns = slice(left, min(left + side, depth.shape[1]))
                out[rows, columns] = _tile(depth, ring, rows, columns)
    return out


def _ring(width: float, height: float, inner_m: float, outer_m: float) -> NDArray[np.float32]:
    """1 where a cell centre is in the ring, on (2 r + 1, 2 c + 1) cells; symmetric."""
    half_rows, half_columns = int(outer_m / height), int(outer_m / width)
    down = np.arange(-half_rows, half_rows + 1)[:, None] * height
    across = np.arange(-half_columns, half_columns + 1)[None, :] * width
    away = np.hypot(down, across)
    within = 1 + 1e-9  # a centre on the edge counts, whatever the rounding
    ring: Mask = (away * within >= inner_m) & (away <= outer_m * within)
    return ring.astype(np.float32)


class _Ring:
    """A ring of ones, and its transforms at the sizes asked for so far."""

    def __init__(self, ones: NDArray[np.float32]) -> None:
        self.ones = ones
        self.half = (ones.shape[0] // 2, ones.shape[1] // 2)
        self._spectra: dict[tuple[int, ...], NDArray[np.complex64]] = {}

    def spectrum(self, shape: tuple[int, ...]) -> NDArray[np.complex64]:
        """Conjugate transform, so that sums come out at the north-west corner of their ring."""
        if shape not in self._spectra:
            padded = np.zeros(shape, np.float32)
            padded[: self.ones.shape[0], : self.ones.shape[1]] = self.ones
            self._spectra[shape] = np.conj(fft.fft2(padded, workers=_WORKERS))
        return self._spectra[shape]


def _tile(
    depth: NDArray[np.float32], ring: _Ring, rows: slice, columns: slice
) -> NDArray[np.float32]:
    """Index of one tile: overlap-save convolution, sums and counts as one complex signal."""
    half_rows, half_columns = ring.half
    above, before = min(half_rows, rows.start), min(half_columns, columns.start)
    part = depth[
        rows.start - above : rows.stop + half_rows,
        columns.start - before : columns.stop + half_columns,
    ]
    own = depth[rows, columns]
    known = ~np.isnan(part)
    if not known.any():
        return np.full_like(own, np.nan)
    level = np.float32(part[known].mean(dtype=np.float64))
    shape = tuple(
        fft.next_fast_len(n + 2 * half) for n, half in zip(own.shape, ring.half, strict=True)
    )
    signal = np.zeros(shape, np.complex64)
    into = signal[
        half_rows - above : half_rows - above + part.shape[0],
        half_columns - before : half_columns - before + part.shape[1],
    ]
    np.subtract(part, level, out=into.real, where=known)
    into.imag = known
    spectrum = fft.fft2(signal, overwrite_x=True, workers=_WORKERS)
    spectrum *= ring.spectrum(shape)
    summed = fft.ifft2(spectrum, overwrite_x=True, workers=_WORKERS)
    summed = summed[: own.shape[0], : own.shape[1]]
    count = np.rint(summed.imag)
    count[count < 1] = np.nan
    index: NDArray[np.float32] = (summed.real / count - (own - level)).astype(np.float32)
    return index
