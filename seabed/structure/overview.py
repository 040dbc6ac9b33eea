"""The whole of a large grid on fewer cells: means of its known depths."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray

from seabed.grid import crs_of, make_grid, transform_of
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.kind import Kind, found
from seabed.structure.blocks.whole import Blocks, Results, Whole
from seabed.structure.calm.noise import NoiseSettings

OVERVIEW_CELLS: Final = 4_000_000


@dataclass(frozen=True, slots=True)
class Overview(Kind[tuple[xr.DataArray, tuple[float, float]]]):
    """Means over squares of cells, about `most_cells` of them, and the range of the depths."""

    most_cells: int = OVERVIEW_CELLS

    def margin(self, whole: Whole) -> int:
        """None: the chunk's own cells."""
        return 0

    def step(self, whole: Whole) -> int:
        """Cells along a side that one of the overview replaces."""
        rows, columns = whole.shape
        return math.ceil(math.sqrt(max(1.0, rows * columns / self.most_cells)))

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Sum up the known depths of a chunk by cells of the overview.

        Returned: ``total`` and ``count`` of the overview cells the chunk reaches into; ``corner``,
            row and column of the first; ``range``, least and greatest depth, NaN for none.
        """
        step, chunk = self.step(block.whole), block.chunk
        depth = block.depth[block.own]
        known = np.isfinite(depth)
        total, count = np.where(known, depth, 0).astype(np.float64), known.astype(np.int64)
        for axis, first, size in ((0, chunk.row, chunk.rows), (1, chunk.column, chunk.columns)):
            inner = np.arange((first // step + 1) * step, first + size, step) - first
            starts = np.concatenate([[0], inner])
            total = np.add.reduceat(total, starts, axis=axis)
            count = np.add.reduceat(count, starts, axis=axis)
        ends = (depth[known].min(), depth[known].max()) if known.any() else (np.nan, np.nan)
        corner = np.array([chunk.row // step, chunk.column // step])
        return {"total": total, "count": count, "corner": corner, "range": np.array(ends, float)}

    def join(self, results: Results, whole: Whole) -> tuple[xr.DataArray, tuple[float, float]]:
        """Join the overviews of all chunks.

        Returned: the mean of the known depths in each square, whose attribute ``reduced`` says how
            many cells a side a square has; least and greatest depth of the grid, NaN without.
        """
        step = self.step(whole)
        shape = tuple(-(-size // step) for size in whole.shape)
        total, count = np.zeros(shape), np.zeros(shape, np.int64)
        least, greatest = [np.nan], [np.nan]
        for result in results:
            (row, column), (rows, columns) = result["corner"], result["total"].shape
            total[row : row + rows, column : column + columns] += result["total"]
            count[row : row + rows, column : column + columns] += result["count"]
            least.append(result["range"][0])
            greatest.append(result["range"][1])
        mean = np.full(shape, np.nan, np.float32)
        np.divide(total, count, out=mean, where=count > 0, casting="same_kind")
        base = transform_of(whole.frame)
        grid = make_grid(
            mean,
            transform=Affine(base.a * step, 0.0, base.c, 0.0, base.e * step, base.f),
            crs=crs_of(whole.frame),
            attributes={"reduced": step},
        )
        return grid, (float(np.fmin.reduce(least)), float(np.fmax.reduce(greatest)))


def overview_of(blocks: Blocks) -> xr.DataArray:
    """Read a large grid chunk by chunk as means over squares of its cells."""
    return found(Overview(), Whole(blocks, noise=NoiseSettings(0.0)))[0]
