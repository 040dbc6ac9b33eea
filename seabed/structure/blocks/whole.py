"""The whole of a grid, read in blocks: where its chunks are, and how large its cells are."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, Protocol

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from seabed.errors import GridError
from seabed.grid import CellSize, cell_size, crs_of, make_grid, transform_of
from seabed.structure.calm.noise import AUTO, NoiseField, NoiseSettings
from seabed.terrain.chunks import contiguous

CHUNK: Final = 2048
"""Rows and columns of a chunk: a few hundred megabytes of work at a time."""

LEAST_CHUNK: Final = 16

SAMPLE: Final = 256
"""Cells a side of the blocks that show level and range of the whole."""

Arrays = Mapping[str, NDArray[Any]]
"""What is found in a chunk, by name."""
Results = Sequence[Arrays]
"""What is found in each chunk, in their order."""


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
class Held:
    """A depth grid in memory, read as one in a file is."""

    grid: xr.DataArray

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.grid.shape
        return rows, columns

    @property
    def crs(self) -> CRS:
        """Horizontal CRS."""
        return crs_of(self.grid)

    @property
    def transform(self) -> Affine:
        """From (column, row) of a cell's corner to CRS coordinates."""
        return transform_of(self.grid)

    def depths(self, row: int, column: int, rows: int, columns: int) -> NDArray[np.float32]:
        """Give a block: a view of the grid's own cells where it can."""
        return contiguous(self.grid[row : row + rows, column : column + columns].values)


@dataclass(frozen=True, slots=True)
class Chunk:
    """A part of a grid: the cells that are its own."""

    number: int
    row: int
    column: int
    rows: int
    columns: int


@dataclass(frozen=True)
class Whole:
    """A grid and the chunks it is worked through in.

    chunk: rows and columns of a chunk; the last ones may be smaller.  With as many as the grid has,
        all is one chunk.
    known_field: the noise as it is measured already, for other processes.
    """

    blocks: Blocks
    chunk: int = CHUNK
    noise: NoiseSettings = AUTO
    known_field: NoiseField | None = field(default=None, compare=False, repr=False)

    @classmethod
    def of(cls, grid: xr.DataArray, noise: NoiseSettings = AUTO) -> Whole:
        """Take a grid in memory as one chunk."""
        return cls(Held(grid), max(grid.shape), noise)

    def __reduce__(self) -> tuple[Any, ...]:
        """Send what it is made of to other processes: the frame would be sent cell by cell."""
        return type(self), (self.blocks, self.chunk, self.noise, self.field)

    def check(self) -> None:
        """Refuse chunks that are too small to be of use."""
        if self.chunk < LEAST_CHUNK:
            raise GridError(
                f"chunks of {self.chunk} cells are too small",
                do=f"Give {LEAST_CHUNK} or more; {CHUNK} is usual.",
            )

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of cells."""
        return self.blocks.shape

    @cached_property
    def frame(self) -> xr.DataArray:
        """The whole for places and sizes: the grid in memory, or one of NaN that takes none."""
        if isinstance(self.blocks, Held):
            return self.blocks.grid
        empty = np.broadcast_to(np.float32(np.nan), self.blocks.shape)
        return make_grid(empty, transform=self.blocks.transform, crs=self.blocks.crs)

    @cached_property
    def size(self) -> CellSize:
        """Of the cells of each row."""
        return cell_size(self.frame)

    @property
    def smallest_m(self) -> float:
        """The least side of any cell."""
        return min(float(self.size.easting.min()), float(self.size.northing.min()))

    @property
    def level_m(self) -> float:
        """Typical depth, about which numbers are kept small while smoothing.

        The mean of 4 x 4 small blocks spread over the grid; 0 where they hold no water.  It is the
        same however the grid is read, so that all chunks round alike.
        """
        return self._sampled[0]

    @cached_property
    def field(self) -> NoiseField:
        """Standard deviations of the depths' noise, in levels; 0 where no significance is asked.

        As given, or measured on tiles over the whole grid, so that all chunks have the same.
        """
        if self.known_field is not None:
            return self.known_field
        if not self.noise.significance:
            return NoiseField.even(self.shape, 0.0)
        if self.noise.sigma_m is not None:
            return NoiseField.even(self.shape, self.noise.sigma_m)
        threads = 2 if isinstance(self.blocks, Held) else 1
        return NoiseField.measured(self.shape, self.blocks.depths, threads=threads).levelled

    @property
    def sampled_range_m(self) -> tuple[float, float]:
        """Least and greatest depth of the same blocks; NaN where they hold no water."""
        return self._sampled[1:]

    @cached_property
    def _sampled(self) -> tuple[float, float, float]:
        """Mean, least and greatest depth of small blocks."""
        total, count, least, greatest = 0.0, 0, math.inf, -math.inf
        rows, columns = self.shape
        height, width = min(rows, SAMPLE), min(columns, SAMPLE)
        for row in np.unique(np.linspace(0, rows - height, 4).astype(int)):
            for column in np.unique(np.linspace(0, columns - width, 4).astype(int)):
                depth = self.blocks.depths(int(row), int(column), height, width)
                known = int(np.isfinite(depth).sum())
                if known:
                    total += float(np.nansum(depth, dtype=np.float64))
                    count += known
                    least = min(least, float(np.nanmin(depth)))
                    greatest = max(greatest, float(np.nanmax(depth)))
        return (total / count, least, greatest) if count else (0.0, math.nan, math.nan)

    @property
    def across(self) -> int:
        """Chunks from west to east."""
        return math.ceil(self.shape[1] / self.chunk)

    @property
    def chunks(self) -> list[Chunk]:
        """Every chunk, row by row."""
        rows, columns = self.shape
        corners = [
            (row, column)
            for row in range(0, rows, self.chunk)
            for column in range(0, columns, self.chunk)
        ]
        return [
            Chunk(
                number, row, column, min(self.chunk, rows - row), min(self.chunk, columns - column)
            )
            for number, (row, column) in enumerate(corners)
        ]


def named_after(results: Iterable[Arrays], part: str) -> list[Arrays]:
    """Give one part of results whose names begin with it and a slash."""
    start = f"{part}/"
    return [
        {name.removeprefix(start): result[name] for name in result if name.startswith(start)}
        for result in results
    ]
