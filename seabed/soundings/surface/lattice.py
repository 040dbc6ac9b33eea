"""The cells that soundings are gridded onto: chosen from their density, or those of a grid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from scipy.ndimage import distance_transform_edt, map_coordinates

from seabed.array_types import Floats, Mask, Pair
from seabed.errors import GridError
from seabed.geodesy import from_degrees, is_metric, utm_zone
from seabed.grid import Bounds, cell_size, crs_of, make_grid, transform_of
from seabed.grid.arrays import as_grid
from seabed.grid.places import turned_onto
from seabed.loaders.layer import moved

STEPS_M: Final = (1, 2, 4, 5, 8, 10, 16, 20, 25, 40, 50, 80, 100, 160, 200, 250, 400, 500, 1000)

ENOUGH: Final = 3
"""Soundings that the middle one of the cells sounded holds: fewer leave a spike unseen."""

LEAST_SHARE: Final = 0.05
"""Share of the cells between soundings that hold one: finer cells would only draw the guess."""

MOST_CELLS: Final = 16_000_000
PROJECT_AT_ONCE: Final = 1_000_000
COARSE: Final = 10
NEAR_BLOCKS: Final = 3


@dataclass(frozen=True, slots=True)
class CellLattice:
    """Evenly spaced cells of a CRS, north-up, with their size in metres over the ground.

    transform: from (column, row) of a cell's corner to CRS coordinates.
    width_m, height_m: of a cell of the middle row.  Distances over a geographic grid use these: in
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

    def places(self, longitude: Floats, latitude: Floats) -> Pair:
        """Column and row of points, with fractions; not finite where a point has no place."""
        x, y = projected(self.crs, longitude, latitude)
        west, north = self.transform.c, self.transform.f
        if self.crs.is_geographic:
            x = turned_onto(x, Bounds(west, north, west, north))
        return (x - west) / self.transform.a, (y - north) / self.transform.e

    def coordinates(self, east_m: float, south_m: float) -> tuple[float, float]:
        """Coordinates of a place by its metres from the north-west corner."""
        affine = self.transform
        return (
            affine.c + affine.a * east_m / self.width_m,
            affine.f + affine.e * south_m / self.height_m,
        )

    def part(self, row: int, column: int, rows: int, columns: int) -> CellLattice:
        """Cut out a block of the cells."""
        corner = moved(self.transform, row, column)
        return replace(self, transform=corner, shape=(rows, columns))


def lattice_of(grid: xr.DataArray) -> CellLattice:
    """Take the cells of a depth grid."""
    size = cell_size(grid)
    middle = grid.shape[0] // 2
    rows, columns = grid.shape
    width, height = float(size.easting[middle]), float(size.northing[middle])
    return CellLattice(transform_of(grid), (rows, columns), crs_of(grid), width, height)


def finer(grid: xr.DataArray, factor: int) -> xr.DataArray:
    """Split each cell of a grid into `factor` x `factor`, bilinear between the old centres.

    New cells are NaN where the old one was; next to NaN, and at the rim, the values there are
    count.
    """
    grid = as_grid(grid)
    if factor == 1:
        return grid
    values = grid.values
    rows, columns = values.shape
    at = np.meshgrid(*(_inner(count, factor) for count in (rows, columns)), indexing="ij")
    good = np.isfinite(values)
    weight = map_coordinates(good.astype(np.float64), at, order=1, mode="nearest")
    total = map_coordinates(
        np.where(good, values, 0.0).astype(np.float64), at, order=1, mode="nearest"
    )
    inside = np.repeat(np.repeat(good, factor, axis=0), factor, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        new = np.where(inside, total / weight, np.nan)
    affine = transform_of(grid)
    split = make_grid(
        new.astype(np.float32),
        transform=Affine(affine.a / factor, 0.0, affine.c, 0.0, affine.e / factor, affine.f),
        crs=crs_of(grid),
    )
    split.attrs = dict(grid.attrs)
    return split.rename(grid.name)


def choose_lattice(
    longitude: Floats, latitude: Floats, *, crs: Any = None, cell_m: float | None = None
) -> tuple[CellLattice, str]:
    """Choose square cells, on round coordinates, that cover the soundings; say why in a sentence.

    The smallest round size for which the middle one of the cells sounded holds 3 soundings and 1 of
    20 cells between the lines holds one, and all cells together are no more than 16 million.

    crs: projected, in metres.  The UTM zone of the soundings' middle without it.
    cell_m: size of a cell that overrules the choice.

    Raises GridError if there is no sounding, the CRS isn't projected in metres, or the cells would
    be too many.
    """
    if not longitude.size:
        raise GridError("there is no good sounding to grid", do="Look at the flags of the log.")
    placed = _metric(crs, longitude, latitude)
    x, y = projected(placed, longitude, latitude)
    size, why = (cell_m, f"Cells of {cell_m:g} m, as asked for.") if cell_m else _size(x, y)
    west, south = (np.floor(value.min() / size) * size for value in (x, y))
    east, north = (np.ceil(value.max() / size) * size for value in (x, y))
    rows, columns = max(1, round((north - south) / size)), max(1, round((east - west) / size))
    if rows * columns > 4 * MOST_CELLS:
        raise GridError(
            f"cells of {size:g} m make a grid of {rows} x {columns}, too large to hold",
            do="Give a larger cell, or grid the soundings of one place at a time.",
        )
    corner = Affine(size, 0.0, float(west), 0.0, -size, float(north))
    return CellLattice(corner, (rows, columns), placed, float(size), float(size)), why


def projected(crs: CRS, longitude: Floats, latitude: Floats) -> Pair:
    """Coordinates of points in a CRS; a million at a time, so that memory stays small."""
    if crs.to_epsg() == 4326:
        return np.array(longitude, float), np.array(latitude, float)
    turn = from_degrees(crs)
    x, y = np.empty(longitude.shape), np.empty(longitude.shape)
    for first in range(0, longitude.size, PROJECT_AT_ONCE):
        part = slice(first, first + PROJECT_AT_ONCE)
        x[part], y[part] = turn.transform(longitude[part], latitude[part])
    return x, y


def in_squares(values: NDArray[Any], steps: tuple[int, int]) -> NDArray[Any]:
    """Divide values into blocks ``[i, :, j, :]`` of some rows and columns, padded with 0."""
    (rows, columns), (down, across) = values.shape, steps
    padded = np.pad(values, ((0, -rows % down), (0, -columns % across)))
    return padded.reshape(-1, down, padded.shape[1] // across, across)


def _inner(count: int, factor: int) -> Floats:
    at = (np.arange(count * factor) + 0.5) / factor - 0.5
    inner: Floats = np.clip(at, 0, count - 1)
    return inner


def _metric(crs: Any, longitude: Floats, latitude: Floats) -> CRS:
    if crs is None:
        return utm_zone(float(np.median(longitude)), float(np.median(latitude)))
    system = CRS.from_user_input(crs)
    if not is_metric(system):
        raise GridError(
            f"{system.name} isn't projected in metres",
            do="Name a CRS in metres, such as a UTM zone, or grid onto the cells of a grid.",
        )
    return system


def _size(x: Floats, y: Floats) -> tuple[float, str]:
    for size in STEPS_M:
        column = ((x - x.min()) / size).astype(np.int64)
        row = ((y - y.min()) / size).astype(np.int64)
        columns, rows = int(column.max()) + 1, int(row.max()) + 1
        if rows * columns > MOST_CELLS:
            continue
        counts = np.bincount(row * columns + column, minlength=rows * columns)
        counts = counts.reshape(rows, columns)
        middle = float(np.median(counts[counts > 0]))
        if size == STEPS_M[-1] or (middle >= ENOUGH and _share_between(counts > 0) >= LEAST_SHARE):
            return float(size), (
                f"Cells of {size} m: the middle one of those sounded holds {middle:.0f} soundings."
            )
    return float(STEPS_M[-1]), f"Cells of {STEPS_M[-1]} m, the largest there are."


def _share_between(sounded: Mask) -> float:
    """Share of sounded cells on the ground between lines no more than 60 cells apart.

    That ground is the closing of the sounded cells, taken on blocks of 10 x 10 of them.
    """
    touched = in_squares(sounded, (COARSE, COARSE)).any(axis=(1, 3))
    pad = 2 * NEAR_BLOCKS
    near = distance_transform_edt(np.pad(~touched, pad, constant_values=True)) <= NEAR_BLOCKS
    between = distance_transform_edt(near) > NEAR_BLOCKS
    return float(sounded.sum() / (between.sum() * COARSE**2))
