"""Voids filled, only as far from measured depths as asked, and marked as filled."""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from seabed.array_types import Mask
from seabed.errors import GridError
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid

EXACT_TO: Final = 1e-8


def fill_voids(grid: xr.DataArray, *, within_m: float, land: Mask | None = None) -> xr.DataArray:
    """Fill the voids that measured depths surround closely.

    A void is filled where it is at most twice `within_m` wide: every filled cell has a measured one
    within `within_m`, and the outline of the measured ground isn't pushed outward (morphological
    closing with a disc, Serra 1982).  The depths put in solve Laplace's equation between the
    measured ones, so that no edge or hump is made up: none is deeper or shallower than those around
    it, and a plane is filled exactly.

    Parameters
    ----------
    grid : depth grid, held in memory
    within_m : float
        Metres; 0 or less fills nothing.
    land : ndarray of bool, shape of the grid, optional
        Cells that are land, which are never filled.  A grid doesn't tell land from void; without
        this, narrow land between depths is filled.

    Returns
    -------
    xarray.DataArray
        A new grid with a coordinate ``filled`` (bool, ``(y, x)``), True where a depth was put in.

    Raises
    ------
    GridError
        If `within_m` is not a number.

    Examples
    --------
    >>> from seabed import example_grid
    >>> grid = example_grid()
    >>> holed = grid.where(grid != grid[30, 20])
    >>> filled = fill_voids(holed, within_m=20)
    >>> int(holed.isnull().sum()), int(filled.isnull().sum())
    (45, 0)
    """
    grid = as_grid(grid)
    if not np.isfinite(within_m):
        raise GridError(f"voids can't be filled within {within_m} m", do="Give metres, like 10.")
    depth = np.array(grid.values, np.float32)
    known = np.isfinite(depth)
    size = cell_size(grid)
    middle = len(size.northing) // 2
    steps = (float(size.northing[middle]), float(size.easting[middle]))
    filled = np.zeros(depth.shape, bool)
    if within_m >= min(steps) and known.any() and not known.all():
        filled = _closed(known, steps, within_m) & ~known
        if land is not None:
            filled &= ~land
        if filled.any():
            _solve(depth, known, filled, steps)
            filled &= np.isfinite(depth)
    out: xr.DataArray = grid.copy(data=depth).assign_coords(filled=(("y", "x"), filled))
    return out


def _closed(known: Mask, steps: tuple[float, float], reach: float) -> Mask:
    """Morphological closing with a disc of radius `reach` metres; the rim goes on outward."""
    rim = [int(reach / step) + 1 for step in steps]
    padded = np.pad(known, [(rim[0],) * 2, (rim[1],) * 2], mode="edge")
    near = distance_transform_edt(~padded, sampling=steps) <= reach
    closed = distance_transform_edt(near, sampling=steps) > reach
    rows, columns = known.shape
    inner: Mask = closed[rim[0] : rim[0] + rows, rim[1] : rim[1] + columns]
    return inner


def _solve(
    depth: NDArray[np.float32],
    known: Mask,
    wanted: Mask,
    steps: tuple[float, float],
) -> None:
    """Solve Laplace's equation on the wanted cells, the known ones given, in place."""
    number = np.full(depth.shape, -1, np.int64)
    count = int(np.count_nonzero(wanted))
    number[wanted] = np.arange(count)
    middle = np.zeros(count)
    right = np.zeros(count)
    rows, columns, weights = [], [], []
    for axis in (0, 1):
        weight = steps[1 - axis] / steps[axis]
        for first, second in (_pairs(axis, depth.shape), _pairs(axis, depth.shape)[::-1]):
            own, other = number[first], number[second]
            beside = (own >= 0) & (other >= 0)
            rows.append(own[beside])
            columns.append(other[beside])
            weights.append(np.full(len(rows[-1]), -weight))
            np.add.at(middle, own[beside], weight)
            shore = (own >= 0) & known[second]
            np.add.at(middle, own[shore], weight)
            np.add.at(right, own[shore], weight * depth[second][shore])
    every = np.arange(count)
    from scipy.sparse import coo_array  # noqa: PLC0415 (slow to load, and few grids have voids)
    from scipy.sparse.linalg import cg  # noqa: PLC0415

    matrix = coo_array(
        (
            np.concatenate([*weights, np.where(middle > 0, middle, 1.0)]),
            (np.concatenate([*rows, every]), np.concatenate([*columns, every])),
        ),
        shape=(count, count),
    ).tocsr()
    start = _nearest(depth, known, wanted)
    solution, _ = cg(matrix, right, x0=start, rtol=EXACT_TO, maxiter=10_000)
    depth[wanted] = solution


def _pairs(axis: int, shape: tuple[int, ...]) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Index the cells that have a next one along an axis, and those next ones."""
    low, high, whole = slice(0, -1), slice(1, None), slice(None)
    return ((low, whole), (high, whole)) if axis == 0 else ((whole, low), (whole, high))


def _nearest(depth: NDArray[np.float32], known: Mask, wanted: Mask) -> NDArray[np.float32]:
    at = distance_transform_edt(~known, return_distances=False, return_indices=True)
    nearest: NDArray[np.float32] = depth[at[0][wanted], at[1][wanted]]
    return nearest
