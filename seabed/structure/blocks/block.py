"""What a chunk sees: its cells, those it shares, and those around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats, Pair
from seabed.grid import CellSize
from seabed.structure.blocks.whole import Chunk, Whole
from seabed.structure.calm.lone import REACH, doubtful_by_zone
from seabed.structure.tracing.linking import settled
from seabed.structure.tracing.marching import Lines
from seabed.terrain.chunks import contiguous

Borders = tuple[tuple[float, float], tuple[float, float]]
"""First and last row, first and last column shared with a neighbour; NaN for none."""

_NUDGE: Final = 0.25


@dataclass(frozen=True, slots=True)
class Block:
    """A chunk with a margin of cells around it, as far as the grid goes.

    depth: not to be written to.
    ground: the same with the median of the cells around in place of doubtful soundings.
    row, column: of the first cell of `depth` in the grid.
    """

    whole: Whole
    chunk: Chunk
    depth: NDArray[np.float32]
    ground: NDArray[np.float32]
    row: int
    column: int

    def within(self, margin: int) -> Block:
        """Give the chunk with a margin of cells around it, as far as there are any."""
        top, left = (
            max(self.chunk.row - margin, self.row),
            max(self.chunk.column - margin, self.column),
        )
        bottom = self.chunk.row + self.chunk.rows + margin - self.row
        right = self.chunk.column + self.chunk.columns + margin - self.column
        part = slice(top - self.row, bottom), slice(left - self.column, right)
        depth = np.ascontiguousarray(self.depth[part])
        same = self.ground is self.depth
        ground = depth if same else np.ascontiguousarray(self.ground[part])
        return Block(self.whole, self.chunk, depth, ground, top, left)

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

    def crossings(self, lines: Lines, values: NDArray[np.generic], level: float) -> Pair:
        """Where lines, in columns and rows of the grid, start and end on a shared border."""
        origin = (self.chunk.row, self.chunk.column)
        return crossings_of(lines, values, level, origin=origin, borders=self.borders)


def read_block(whole: Whole, chunk: Chunk, margin: int) -> Block:
    """Read a chunk and a margin around it."""
    depth, row, column = _read(whole, chunk, margin + REACH)
    return Block(
        whole, chunk, depth, without_doubtful(depth, whole, row, column), row, column
    ).within(margin)


def without_doubtful(
    depth: NDArray[np.float32], whole: Whole, row: int, column: int
) -> NDArray[np.float32]:
    """Put medians in place of doubtful soundings; the same array if there is none.

    Cells within `REACH` of where more of the grid was left off may differ from those of the whole.
    """
    if not whole.noise.significance:
        return depth
    zones = whole.field.zones(row, column, depth.shape)
    cells, medians = doubtful_by_zone(contiguous(depth), zones)
    if not len(cells):
        return depth
    ground = depth.copy()
    ground[cells[:, 0], cells[:, 1]] = medians
    return ground


def _read(whole: Whole, chunk: Chunk, margin: int) -> tuple[NDArray[np.float32], int, int]:
    rows, columns = whole.shape
    top, left = max(chunk.row - margin, 0), max(chunk.column - margin, 0)
    bottom = min(chunk.row + chunk.rows + margin, rows)
    right = min(chunk.column + chunk.columns + margin, columns)
    return whole.blocks.depths(top, left, bottom - top, right - left), top, left


def crossings_of(
    lines: Lines, values: NDArray[Any], level: float, *, origin: tuple[int, int], borders: Borders
) -> Pair:
    """Find where lines cross shared borders: column and row; NaN for a free end and rings.

    A line that runs through the very centre of a cell may leave and come back there: these
    crossings are moved a quarter of a cell toward the neighbour they are beside.

    lines: in columns and rows of the grid; traced with the greater values on their left hand
        (columns to the right, rows up).
    origin: (row, column) of the first cell of `values`.
    """
    points, offsets = lines
    starts, ends = points[offsets[:-1]].copy(), points[offsets[1:] - 1].copy()
    closed = (starts == ends).all(axis=1)
    for at, leaving in ((starts, False), (ends, True)):
        on = np.isin(at[:, 0], borders[1]) | np.isin(at[:, 1], borders[0])
        at[~on] = np.nan
        exact = np.flatnonzero(on & (at == np.rint(at)).all(axis=1))
        for line in exact:  # few, but for depths in whole steps
            at[line] = _moved(at[line], bool(closed[line]), leaving, values, level, origin, borders)
        ring = closed & ~np.isin(np.arange(len(closed)), exact)
        at[ring] = np.nan
    return starts, ends


def _moved(  # noqa: PLR0917
    at: Floats,
    closed: bool,
    leaving: bool,
    values: NDArray[Any],
    level: float,
    origin: tuple[int, int],
    borders: Borders,
) -> Floats:
    """Move a crossing at a centre toward the neighbour on its border that it is beside."""
    row, column = int(at[1]) - origin[0], int(at[0]) - origin[1]
    sides = []
    for axis, place in ((0, at[1]), (1, at[0])):  # a border along a row, along a column
        for side, border in enumerate(borders[axis]):
            if place != border:
                continue
            outward = 2 * side - 1
            for step in (-1, 1):
                r, c = (row, column + step) if axis == 0 else (row + step, column)
                if not (0 <= r < values.shape[0] and 0 <= c < values.shape[1]):
                    continue
                if (values[r, c] > level) == (values[row, column] > level):
                    continue
                toward_greater = step if values[r, c] > level else -step
                # going out, the greater values must be to the left
                left = -toward_greater * outward if axis == 0 else toward_greater * outward
                sides.append((axis, step, left > 0))
    mine = [side for side in sides if side[2] == leaving]
    if closed and len({side[2] for side in sides}) < 2:
        return np.full(2, np.nan)
    if not mine:
        return at
    axis, step, _ = mine[0]
    return at + ([step * _NUDGE, 0.0] if axis == 0 else [0.0, step * _NUDGE])
