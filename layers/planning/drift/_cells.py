"""Where boats are on a grid."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import xarray as xr
from numpy.polynomial.chebyshev import chebpts1

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled
from seabed.grid.extent import degree_bounds
from seabed.grid.places import CellFinder

DEGREE: Final = 5
NEAR_CELLS: Final = 1e-3
"""The polynomials are off by this share of a cell at most."""

BEYOND: Final = 1.5
"""Places farther from a grid's middle than this many times its half width are not known."""


class CellPolynomials(NamedTuple):
    """Rows and columns of a grid as polynomials of longitude and latitude, for machine code.

    middle, half, shape (2,): of the grid's box, degrees; the polynomials are of degrees from the
        middle over half the box.
    row, column, shape (6, 6): coefficient of each power of longitude, then of latitude.
    """

    middle: Floats
    half: Floats
    row: Floats
    column: Floats

    @classmethod
    def of(cls, grid: xr.DataArray) -> CellPolynomials | None:
        """Fit one to a grid; None where it is off by more than `NEAR_CELLS`."""
        box = degree_bounds(grid)
        middle = np.array([(box.west + box.east) / 2, (box.south + box.north) / 2])
        half = np.array([(box.east - box.west) / 2, (box.north - box.south) / 2])
        finder = CellFinder.of(grid)
        fit, check = (_nodes(count) for count in (DEGREE + 3, 2 * DEGREE + 5))
        terms = np.polynomial.polynomial.polyvander2d(fit[0], fit[1], [DEGREE, DEGREE])
        cells = np.stack(finder.row_column(*(middle[:, None] + half[:, None] * fit)), axis=1)
        if not np.isfinite(cells).all():
            return None
        powers = np.asarray(np.linalg.lstsq(terms, cells, rcond=None)[0], np.float64)
        polynomials = cls(middle, half, *powers.T.reshape(2, DEGREE + 1, -1))
        places = middle[:, None] + half[:, None] * check
        off = [polynomials.row_column(*place) for place in places.T] - np.stack(
            finder.row_column(*places), axis=1
        )
        return polynomials if np.abs(off).max() <= NEAR_CELLS else None

    def row_column(self, longitude: float, latitude: float) -> tuple[float, float]:
        """Row and column of a place, as `seabed.grid.places.row_column`; NaN far off the grid."""
        return cell_at(longitude, latitude, self)

    def cells(self, shape: tuple[int, ...], longitude: Floats, latitude: Floats) -> Ints:
        """Flat index of the cell of a grid that each place, shape (n, m), is in; -1 off it."""
        return _cells_at(shape[0], shape[1], longitude, latitude, self)


def _nodes(count: int) -> Floats:
    """Places spread over the square from -1 to 1, its edges included, shape (2, count squared)."""
    along = chebpts1(count) / chebpts1(count)[-1]
    return np.stack([one.ravel() for one in np.meshgrid(along, along)])


@compiled
def cell_at(longitude: float, latitude: float, polynomials: CellPolynomials) -> tuple[float, float]:
    """Row and column of a place; NaN far off the grid."""
    middle, half, row, column = (
        polynomials.middle,
        polynomials.half,
        polynomials.row,
        polynomials.column,
    )
    around = longitude - 360.0 * np.rint((longitude - middle[0]) / 360.0)
    x, y = (around - middle[0]) / half[0], (latitude - middle[1]) / half[1]
    if not (abs(x) <= BEYOND and abs(y) <= BEYOND):
        return np.nan, np.nan
    down = across = 0.0
    for power in range(row.shape[0] - 1, -1, -1):
        own_down = own_across = 0.0
        for other in range(row.shape[1] - 1, -1, -1):
            own_down = own_down * y + row[power, other]
            own_across = own_across * y + column[power, other]
        down, across = down * x + own_down, across * x + own_across
    return down, across


@compiled
def _cells_at(
    rows: int, columns: int, longitude: Floats, latitude: Floats, polynomials: CellPolynomials
) -> Ints:
    cells = np.full(longitude.shape, -1, np.int64)
    for boat in range(longitude.shape[0]):
        for at in range(longitude.shape[1]):
            place = cell_at(longitude[boat, at], latitude[boat, at], polynomials)
            cells[boat, at] = flat_cell(rows, columns, place)
    return cells


@compiled
def flat_cell(rows: int, columns: int, place: tuple[float, float]) -> int:
    """Flat index of the cell that a row and column are in; -1 off the grid and at NaN."""
    down, across = place
    inside = 0 <= down < rows and 0 <= across < columns
    return int(down) * columns + int(across) if inside else -1


def cell_index(shape: tuple[int, int], row: Floats, column: Floats) -> Ints:
    """Flat index of the cell that a place is in; -1 off the grid and at NaN."""
    inside = (row >= 0) & (row < shape[0]) & (column >= 0) & (column < shape[1])
    cells = np.full(row.shape, -1, np.int64)
    cells[inside] = row[inside].astype(np.int64) * shape[1] + column[inside].astype(np.int64)
    return cells
