"""What a chunk sees: its cells, those it shares, and those around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seabed.grid import CellSize
from seabed.structure.blocks.whole import Chunk, Whole
from seabed.structure.tracing.ends import Borders, crossings_of
from seabed.structure.tracing.linking import settled
from seabed.structure.tracing.marching import Lines

__all__ = ["Block", "read_block"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Block:
    """A chunk with what lies around it.

    Attributes
    ----------
    whole : Whole
    chunk : Chunk
    depth : ndarray of float32, shape (rows, columns)
        The chunk and a margin of cells, as far as the grid goes.  Not to be written to.
    row, column : int
        Of the first cell of `depth` in the grid.
    """

    whole: Whole
    chunk: Chunk
    depth: NDArray[np.float32]
    row: int
    column: int

    def within(self, margin: int) -> Block:
        """Give the chunk with so many cells around it, no more than there are."""
        top, left = (
            max(self.chunk.row - margin, self.row),
            max(self.chunk.column - margin, self.column),
        )
        bottom = self.chunk.row + self.chunk.rows + margin - self.row
        right = self.chunk.column + self.chunk.columns + margin - self.column
        depth = self.depth[top - self.row : bottom, left - self.column : right]
        return Block(self.whole, self.chunk, np.ascontiguousarray(depth), top, left)

    @property
    def own(self) -> tuple[slice, slice]:
        """The chunk's own cells in `depth`."""
        top, left = self.chunk.row - self.row, self.chunk.column - self.column
        return slice(top, top + self.chunk.rows), slice(left, left + self.chunk.columns)

    @property
    def shared(self) -> tuple[slice, slice]:
        """Own cells and those of the next row and column, which its squares reach."""
        rows, columns = self.whole.shape
        down, across = self.own
        below = self.chunk.row + self.chunk.rows < rows
        beyond = self.chunk.column + self.chunk.columns < columns
        return slice(down.start, down.stop + below), slice(across.start, across.stop + beyond)

    @property
    def borders(self) -> Borders:
        """First and last row, first and last column shared with a neighbour; NaN for none."""
        rows, columns = self.whole.shape
        chunk = self.chunk
        below, beyond = chunk.row + chunk.rows, chunk.column + chunk.columns
        return (
            (chunk.row or np.nan, below if below < rows else np.nan),
            (chunk.column or np.nan, beyond if beyond < columns else np.nan),
        )

    @property
    def corner(self) -> tuple[int, int]:
        """Column and row of the first cell of `depth` in the grid."""
        return self.column, self.row

    @property
    def rows(self) -> slice:
        """Rows of the grid that `depth` covers."""
        return slice(self.row, self.row + len(self.depth))

    @property
    def size(self) -> CellSize:
        """Of the cells of each row of `depth`."""
        size = self.whole.size
        return CellSize(size.easting[self.rows], size.northing[self.rows])

    def settled(
        self, points: Floats, values: NDArray[np.generic], levels: tuple[float, ...]
    ) -> Floats:
        """Points traced on `values` of the shared cells, in columns and rows of the grid."""
        return settled(points, values, levels, (self.chunk.column, self.chunk.row))

    def crossings(
        self, lines: Lines, values: NDArray[np.generic], level: float
    ) -> tuple[Floats, Floats]:
        """Where lines, in columns and rows of the grid, start and end on a shared border."""
        origin = (self.chunk.row, self.chunk.column)
        return crossings_of(lines, values, level, origin=origin, borders=self.borders)


def read_block(whole: Whole, chunk: Chunk, margin: int) -> Block:
    """Read a chunk and a margin around it."""
    rows, columns = whole.shape
    top, left = max(chunk.row - margin, 0), max(chunk.column - margin, 0)
    bottom = min(chunk.row + chunk.rows + margin, rows)
    right = min(chunk.column + chunk.columns + margin, columns)
    depth = whole.blocks.depths(top, left, bottom - top, right - left)
    return Block(whole, chunk, depth, top, left)
