"""How a large grid is cut: chunks that share a row and a column, and what each may look at."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from seabed.errors import GridError
from seabed.grid import CellSize, cell_size, make_grid
from seabed.structure.basins import PINHOLE_CELLS
from seabed.structure.scale import check_scale
from seabed.terrain.smoothing import reach_cells

__all__ = ["CHUNK", "Blocks", "Chunk", "Plan", "Wanted", "frame_of", "planned"]

CHUNK: Final = 2048
"""Rows and columns of a chunk: a few hundred megabytes of work at a time."""

LEAST_CHUNK: Final = 16

OVERVIEW_CELLS: Final = 4_000_000

_STEPS_BEYOND: Final = 4
"""Cells the walk across an edge looks at beyond its reach, and the slope beside those."""


class Blocks(Protocol):
    """A depth grid that is read a block at a time, such as `seabed.loaders.StoredGrid`."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        ...

    @property
    def crs(self) -> CRS | None:
        """Horizontal CRS."""
        ...

    @property
    def transform(self) -> Affine:
        """From (column, row) of a cell's corner to CRS coordinates, north-up."""
        ...

    def depths(self, row: int, column: int, rows: int, columns: int) -> NDArray[np.float32]:
        """Read a block: metres positive down, NaN for land and void."""
        ...


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for; names and meanings as in `seabed.structure`.

    Attributes
    ----------
    contours_m : tuple of float
    band_m : (float, float)
    edge_scale_m, edge_min_length_m, edge_min_drop_m, edge_min_slope_deg : float
    hump_min_height_m : float
    """

    contours_m: tuple[float, ...] = ()
    band_m: tuple[float, float] = (5.0, 8.0)
    edge_scale_m: float = 20.0
    edge_min_length_m: float = 60.0
    edge_min_drop_m: float = 1.0
    edge_min_slope_deg: float = 1.0
    hump_min_height_m: float = 1.0


@dataclass(frozen=True, slots=True)
class Chunk:
    """A part of a grid: the cells that are its own."""

    number: int
    row: int
    column: int
    rows: int
    columns: int


@dataclass(frozen=True, slots=True)
class Plan:
    """How a grid is worked through.

    Attributes
    ----------
    shape : (rows, columns)
    chunk : int
        Rows and columns of a chunk; the last ones may be smaller.
    halo : int
        Cells around a chunk that are read too, so that what is found in it is as on the whole.
    level_m : float
        Depth about which numbers are kept small while smoothing: the same in every chunk.
    overview : int
        Cells along a side that one of the overview stands for.
    wanted : Wanted
    """

    shape: tuple[int, int]
    chunk: int
    halo: int
    level_m: float
    overview: int
    wanted: Wanted = field(default_factory=Wanted)

    @property
    def columns(self) -> int:
        """Chunks from west to east."""
        return math.ceil(self.shape[1] / self.chunk)

    @property
    def chunks(self) -> list[Chunk]:
        """Every chunk, row by row."""
        rows, columns = self.shape
        return [
            Chunk(
                number, row, column, min(self.chunk, rows - row), min(self.chunk, columns - column)
            )
            for number, (row, column) in enumerate(
                (row, column)
                for row in range(0, rows, self.chunk)
                for column in range(0, columns, self.chunk)
            )
        ]


def planned(
    blocks: Blocks, wanted: Wanted, *, chunk: int = CHUNK, level_m: float | None = None
) -> Plan:
    """Plan the work on a grid.

    Parameters
    ----------
    blocks : Blocks
    wanted : Wanted
    chunk : int
    level_m : float, optional
        Typical depth; by default the mean of a few blocks spread over the grid.

    Raises
    ------
    GridError
        If the scale does not fit the cells, or the chunk is too small to be of use.
    """
    if chunk < LEAST_CHUNK:
        raise GridError(
            f"chunks of {chunk} cells are too small",
            do=f"Give {LEAST_CHUNK} or more; {CHUNK} is usual.",
        )
    if not wanted.band_m[0] < wanted.band_m[1]:
        raise GridError(
            f"a band from {wanted.band_m[0]:g} m to {wanted.band_m[1]:g} m has no width",
            do="Give the lesser depth first.",
        )
    if not wanted.hump_min_height_m > 0:
        raise GridError(
            f"a least height of {wanted.hump_min_height_m:g} m would keep every ripple",
            do="Give a height above 0 m.",
        )
    size = cell_size(frame_of(blocks))
    check_scale(wanted.edge_scale_m, size)
    rows, columns = blocks.shape
    return Plan(
        shape=(rows, columns),
        chunk=chunk,
        halo=_halo(size, wanted),
        level_m=_level(blocks) if level_m is None else level_m,
        overview=math.ceil(math.sqrt(max(1.0, rows * columns / OVERVIEW_CELLS))),
        wanted=wanted,
    )


def frame_of(blocks: Blocks) -> xr.DataArray:
    """Give the whole as a depth grid that takes no memory: places and sizes, all depths NaN."""
    empty = np.broadcast_to(np.float32(np.nan), blocks.shape)
    return make_grid(empty, transform=blocks.transform, crs=blocks.crs)


def _halo(size: CellSize, wanted: Wanted) -> int:
    """Reach of the smoothing and, on that, of the walk across an edge; at least a pinhole's."""
    smallest = min(float(size.easting.min()), float(size.northing.min()))
    steps = max(3, math.ceil(8 * wanted.edge_scale_m / size.typical)) + _STEPS_BEYOND
    walk = math.ceil(steps * size.typical / smallest)
    return max(PINHOLE_CELLS + 1, walk + reach_cells(wanted.edge_scale_m / 2, smallest))


def _level(blocks: Blocks) -> float:
    """Mean depth of 4 x 4 small blocks spread over the grid; 0 where they hold no water."""
    total, count = 0.0, 0
    rows, columns = blocks.shape
    height, width = min(rows, 256), min(columns, 256)
    for row in np.linspace(0, rows - height, 4).astype(int):
        for column in np.linspace(0, columns - width, 4).astype(int):
            depth = blocks.depths(int(row), int(column), height, width)
            total += float(np.nansum(depth, dtype=np.float64))
            count += int(np.isfinite(depth).sum())
    return total / count if count else 0.0
