"""Where boats are on a grid."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.grid.places import CellFinder

Floats = NDArray[np.float64]


class Places:
    """Rows and columns of boats that drift over one grid, step by step.

    A step begins where the one before ended, and a boat that has stopped stays: only places that
    are not those asked for last are worked out, since a map projection costs more than the rest.
    """

    def __init__(self, grid: xr.DataArray) -> None:
        self._lattice = CellFinder.of(grid)
        self._degrees: Floats = np.empty((2, 0))
        self._cells: Floats = np.empty((2, 0))

    def of(self, degrees: Floats) -> Floats:
        """Give rows and columns of degrees, as `seabed.grid.places.row_column`.

        Returned: shape (2, n).
        """
        if degrees.shape != self._degrees.shape:
            self._degrees = np.full(degrees.shape, np.nan)
            self._cells = np.empty(degrees.shape)
        new, cells = (degrees != self._degrees).any(axis=0), self._cells.copy()
        if new.any():
            cells[:, new] = self._lattice.row_column(*degrees[:, new])
        self._degrees, self._cells = degrees.copy(), cells
        return cells


def cell_index(shape: tuple[int, int], row: Floats, column: Floats) -> NDArray[np.int64]:
    """Flat index of the cell that a place lies in; -1 off the grid and at NaN."""
    inside = (row >= 0) & (row < shape[0]) & (column >= 0) & (column < shape[1])
    cells = np.full(row.shape, -1, np.int64)
    cells[inside] = row[inside].astype(np.int64) * shape[1] + column[inside].astype(np.int64)
    return cells
