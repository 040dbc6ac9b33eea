"""What a chunk sees: its cells, those it shares, and those around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.coasts.ends import Borders, crossings_of
from seabed.coasts.linking import settled
from seabed.coasts.plan import Blocks, Chunk, Plan, frame_of
from seabed.grid import CellSize, cell_size
from seabed.structure.marching import Lines

__all__ = ["Block", "read_block"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Block:
    """A chunk with what lies around it.

    Attributes
    ----------
    plan : Plan
    chunk : Chunk
    frame : depth grid
        The whole, all NaN; for places and sizes.
    size : CellSize
        Of the whole.
    depth : ndarray of float32, shape (rows, columns)
        The chunk and its halo, as far as the grid goes.
    row, column : int
        Of the first cell of `depth` in the grid.
    """

    plan: Plan
    chunk: Chunk
    frame: xr.DataArray
    size: CellSize
    depth: NDArray[np.float32]
    row: int
    column: int

    @property
    def own(self) -> tuple[slice, slice]:
        """The chunk's own cells in `depth`."""
        top, left = self.chunk.row - self.row, self.chunk.column - self.column
        return slice(top, top + self.chunk.rows), slice(left, left + self.chunk.columns)

    @property
    def shared(self) -> tuple[slice, slice]:
        """Own cells and those of the next row and column, which its squares reach."""
        rows, columns = self.plan.shape
        down, across = self.own
        below = self.chunk.row + self.chunk.rows < rows
        beyond = self.chunk.column + self.chunk.columns < columns
        return slice(down.start, down.stop + below), slice(across.start, across.stop + beyond)

    @property
    def borders(self) -> Borders:
        """First and last row, first and last column shared with a neighbour; NaN for none."""
        rows, columns = self.plan.shape
        chunk = self.chunk
        return (
            (
                chunk.row if chunk.row else np.nan,
                chunk.row + chunk.rows if chunk.row + chunk.rows < rows else np.nan,
            ),
            (
                chunk.column if chunk.column else np.nan,
                chunk.column + chunk.columns if chunk.column + chunk.columns < columns else np.nan,
            ),
        )

    @property
    def rows(self) -> slice:
        """Rows of the grid that `depth` covers."""
        return slice(self.row, self.row + len(self.depth))

    def settled(
        self, points: Floats, values: NDArray[np.generic], levels: tuple[float, ...]
    ) -> Floats:
        """Points traced on `values` of the shared cells, in columns and rows of the grid."""
        corner = np.array([self.chunk.column, self.chunk.row])
        placed: Floats = settled(points, values, levels) + corner
        return placed

    def crossings(
        self, lines: Lines, values: NDArray[np.generic], level: float
    ) -> tuple[Floats, Floats]:
        """Where lines, in columns and rows of the grid, start and end on a shared border."""
        origin = (self.chunk.row, self.chunk.column)
        return crossings_of(lines, values, level, origin=origin, borders=self.borders)


def read_block(blocks: Blocks, plan: Plan, chunk: Chunk) -> Block:
    """Read a chunk and what lies around it."""
    rows, columns = plan.shape
    top, left = max(chunk.row - plan.halo, 0), max(chunk.column - plan.halo, 0)
    bottom = min(chunk.row + chunk.rows + plan.halo, rows)
    right = min(chunk.column + chunk.columns + plan.halo, columns)
    depth = blocks.depths(top, left, bottom - top, right - left)
    frame = frame_of(blocks)
    return Block(plan, chunk, frame, cell_size(frame), depth, top, left)
