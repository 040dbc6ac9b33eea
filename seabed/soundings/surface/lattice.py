"""The cells that soundings are gridded onto: chosen from their density, or those of a grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from scipy.ndimage import distance_transform_edt

from seabed.errors import GridError
from seabed.geodesy import from_degrees, is_metric, utm_zone
from seabed.grid import Bounds, cell_size, crs_of, transform_of
from seabed.grid.places import turned_onto
from seabed.soundings.surface._polynomial import quick_transform

__all__ = ["CellLattice", "choose_lattice", "in_squares", "lattice_of"]

STEPS_M: Final = (1, 2, 4, 5, 8, 10, 16, 20, 25, 40, 50, 80, 100, 160, 200, 250, 400, 500, 1000)

ENOUGH: Final = 3
"""Soundings that the middle one of the cells sounded holds: fewer leave a spike unseen."""

LEAST_SHARE: Final = 0.05
"""Share of the cells between soundings that hold one: finer cells would only draw the guess."""

MOST_CELLS: Final = 16_000_000
PROJECT_AT_ONCE: Final = 1_000_000
MANY: Final = 200_000
COARSE: Final = 10
NEAR_BLOCKS: Final = 3


@dataclass(frozen=True, slots=True)
class CellLattice:
    """Evenly spaced cells of a CRS, north-up, with their size in metres over the ground.

    Attributes
    ----------
    transform : affine.Affine
        From (column, row) of a cell's corner to CRS coordinates.
    shape : (rows, columns)
    crs : pyproj.CRS
    width_m, height_m : float
        Of a cell of the middle row.  Distances over a geographic grid are reckoned with these: in
        20 km from north to south at 60 degrees they are wrong by 0.3 %.
    """

    transform: Affine
    shape: tuple[int, int]
    crs: CRS
    width_m: float
    height_m: float

    @property
    def cell_m(self) -> float:
        """Geometric mean of width and height, metres."""
        return float(np.sqrt(self.width_m * self.height_m))

    @property
    def cells(self) -> int:
        """How many cells there are."""
        return self.shape[0] * self.shape[1]

    def places(
        self, longitude: NDArray[np.float64], latitude: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Column and row of points, counted from the outer corner and not whole numbers.

        Parameters
        ----------
        longitude, latitude : ndarray, shape (n,)
            Degrees, WGS 84.

        Returns
        -------
        column, row : ndarray of float64, shape (n,)
            Beyond the cells too; not finite where a point can't be placed.
        """
        x, y = projected(self.crs, longitude, latitude)
        if self.crs.is_geographic:
            x = _turned(x, self)
        return (
            (x - self.transform.c) / self.transform.a,
            (y - self.transform.f) / self.transform.e,
        )

    def coordinates(self, east_m: float, south_m: float) -> tuple[float, float]:
        """Coordinates of a place so far from the north-west corner."""
        affine = self.transform
        return (
            affine.c + affine.a * east_m / self.width_m,
            affine.f + affine.e * south_m / self.height_m,
        )

    def part(self, row: int, column: int, rows: int, columns: int) -> CellLattice:
        """Cut out a block of the cells."""
        a, e = self.transform.a, self.transform.e
        corner = Affine(a, 0.0, self.transform.c + a * column, 0.0, e, self.transform.f + e * row)
        return CellLattice(corner, (rows, columns), self.crs, self.width_m, self.height_m)


def lattice_of(grid: xr.DataArray) -> CellLattice:
    """Take the cells of a depth grid."""
    size = cell_size(grid)
    middle = grid.shape[0] // 2
    rows, columns = grid.shape
    return CellLattice(
        transform_of(grid),
        (rows, columns),
        crs_of(grid),
        float(size.easting[middle]),
        float(size.northing[middle]),
    )


def choose_lattice(
    longitude: NDArray[np.float64],
    latitude: NDArray[np.float64],
    *,
    crs: Any = None,
    cell_m: float | None = None,
    margin_m: float = 0.0,
) -> tuple[CellLattice, str]:
    """Choose square cells, on round coordinates, that cover the soundings.

    The smallest round size for which the middle one of the cells sounded holds 3 soundings and 1 of
    20 cells between the lines holds one, and all cells together are no more than 16 million.

    Parameters
    ----------
    longitude, latitude : ndarray, shape (n,)
        Degrees, WGS 84, finite.
    crs : optional
        Projected, in metres.  The UTM zone of the soundings' middle without it.
    cell_m : float, optional
        Size of a cell that overrules the choice.
    margin_m : float
        SurveyGround beyond the outermost soundings.

    Returns
    -------
    CellLattice
    str
        The reason for the size, in a sentence.

    Raises
    ------
    GridError
        If there is no sounding, the CRS isn't projected in metres, or the cells would be too many.
    """
    if not longitude.size:
        raise GridError("there is no good sounding to grid", do="Look at the flags of the log.")
    placed = _metric(crs, longitude, latitude)
    x, y = projected(placed, longitude, latitude)
    size, why = (cell_m, f"Cells of {cell_m:g} m, as asked for.") if cell_m else _size(x, y)
    west, south = (np.floor((value.min() - margin_m) / size) * size for value in (x, y))
    east, north = (np.ceil((value.max() + margin_m) / size) * size for value in (x, y))
    rows, columns = max(1, round((north - south) / size)), max(1, round((east - west) / size))
    if rows * columns > 4 * MOST_CELLS:
        raise GridError(
            f"cells of {size:g} m make a grid of {rows} x {columns}, too large to hold",
            do="Give a larger cell, or grid the soundings of one place at a time.",
        )
    corner = Affine(size, 0.0, float(west), 0.0, -size, float(north))
    return CellLattice(corner, (rows, columns), placed, float(size), float(size)), why


def projected(
    crs: CRS, longitude: NDArray[np.float64], latitude: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Coordinates of points in a CRS; a million at a time, so that memory stays small.

    Many that lie within a degree are placed by a polynomial, if it is right to a millimetre.
    """
    if crs.to_epsg() == 4326:
        return np.array(longitude, float), np.array(latitude, float)
    turn = from_degrees(crs)
    if longitude.size >= MANY and is_metric(crs):
        quick = quick_transform(turn.transform, longitude, latitude)
        if quick is not None:
            return quick
    x, y = np.empty(longitude.shape), np.empty(longitude.shape)
    for first in range(0, longitude.size, PROJECT_AT_ONCE):
        part = slice(first, first + PROJECT_AT_ONCE)
        x[part], y[part] = turn.transform(longitude[part], latitude[part])
    return x, y


def in_squares(values: NDArray[Any], steps: tuple[int, int]) -> NDArray[Any]:
    """Part values into squares of so many rows and columns, the last ones padded with 0.

    Returns
    -------
    ndarray, shape (down, rows, across, columns)
        ``[i, :, j, :]`` is a square.
    """
    (rows, columns), (down, across) = values.shape, steps
    padded = np.pad(values, ((0, -rows % down), (0, -columns % across)))
    return padded.reshape(-1, down, padded.shape[1] // across, across)


def _metric(crs: Any, longitude: NDArray[np.float64], latitude: NDArray[np.float64]) -> CRS:
    if crs is None:
        return utm_zone(float(np.median(longitude)), float(np.median(latitude)))
    found = CRS.from_user_input(crs)
    if not is_metric(found):
        raise GridError(
            f"{found.name} isn't projected in metres",
            do="Name a CRS in metres, such as a UTM zone, or grid onto the cells of a grid.",
        )
    return found


def _size(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, str]:
    for size in STEPS_M:
        column = ((x - x.min()) / size).astype(np.int64)
        row = ((y - y.min()) / size).astype(np.int64)
        columns, rows = int(column.max()) + 1, int(row.max()) + 1
        if rows * columns > MOST_CELLS:
            continue
        held = np.bincount(row * columns + column, minlength=rows * columns)
        held = held.reshape(rows, columns)
        middle = float(np.median(held[held > 0]))
        if size == STEPS_M[-1] or (middle >= ENOUGH and _share_between(held > 0) >= LEAST_SHARE):
            return float(size), (
                f"Cells of {size} m: the middle one of those sounded holds {middle:.0f} soundings."
            )
    return float(STEPS_M[-1]), f"Cells of {STEPS_M[-1]} m, the largest there are."


def _share_between(sounded: NDArray[np.bool_]) -> float:
    """Share of sounded cells on the ground between lines no more than 60 cells apart.

    That ground is the closing of the sounded cells, taken on blocks of 10 x 10 of them.
    """
    touched = in_squares(sounded, (COARSE, COARSE)).any(axis=(1, 3))
    pad = 2 * NEAR_BLOCKS
    near = distance_transform_edt(np.pad(~touched, pad, constant_values=True)) <= NEAR_BLOCKS
    between = distance_transform_edt(near) > NEAR_BLOCKS
    return float(sounded.sum() / (between.sum() * COARSE**2))


def _turned(x: NDArray[np.float64], lattice: CellLattice) -> NDArray[np.float64]:
    west, north = lattice.transform.c, lattice.transform.f
    return turned_onto(x, Bounds(west, north, west, north))
