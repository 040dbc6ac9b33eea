"""Depths of a grid as a picture needs them: in any box of web Mercator, at any size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.transform import array_bounds, from_bounds
from rasterio.warp import transform_bounds

from layers.maps.depths import WEB, block_means, onto_web
from seabed.errors import GridError
from seabed.loaders import StoredGrid
from seabed.structure.blocks.whole import Blocks, Held

Floats = NDArray[np.float32]
Box = tuple[float, float, float, float]
"""West, south, east, north, metres of web Mercator."""

MARGIN: Final = 2
"""Cells read around a box, for what is between the centres of cells."""

STRIP: Final = 512
"""About so many rows are read at a time."""

FURTHEST: Final = 85.05
"""Web Mercator ends there, degrees of latitude."""


@dataclass(frozen=True, slots=True)
class BottomDepths:
    """A depth grid that is read window by window: of a large one never the whole.

    `read` takes row, column, rows and columns and gives depths in metres, land and void NaN.
    """

    shape: tuple[int, int]
    transform: Affine
    crs: CRS
    read: Callable[[int, int, int, int], Floats]
    datum: str = "unknown"

    @classmethod
    def of(cls, grid: xr.DataArray | StoredGrid) -> BottomDepths:
        """Take a grid in memory, or in a file."""
        blocks: Blocks
        if isinstance(grid, StoredGrid):
            blocks, datum = grid, grid.meaning.vertical_datum
        else:
            blocks, datum = Held(grid), str(grid.attrs.get("vertical_datum", "unknown"))
        if blocks.crs is None:
            raise GridError("the grid has no CRS", do="Give {crs}.")
        return cls(blocks.shape, blocks.transform, blocks.crs, blocks.depths, datum)

    @property
    def box(self) -> Box:
        """The box that it fills; GridError if it reaches beyond web Mercator."""
        edges = array_bounds(*self.shape, self.transform)
        _, south, _, north = transform_bounds(self.crs, "EPSG:4326", *edges)
        if max(-south, north) > FURTHEST:
            raise GridError(
                f"the grid reaches beyond {FURTHEST} degrees of latitude, where web Mercator ends",
                do="Take a part of it with {box}.",
            )
        box: Box = transform_bounds(self.crs, WEB, *edges)
        return box

    def over(self, box: Box, shape: tuple[int, int]) -> tuple[Floats, Affine] | None:
        """Give depths in a box as so many rows and columns, with their place; None off the grid.

        Where cells are smaller than pixels, a pixel has the mean of squares of them.  The squares
        are on one lattice, so that neighbouring boxes meet.
        """
        west, south, east, north = transform_bounds(WEB, self.crs, *box)
        to_cell = ~self.transform
        left, top = to_cell @ (west, north)
        right, bottom = to_cell @ (east, south)
        side = max(1, int(min((bottom - top) / shape[0], (right - left) / shape[1])))
        rows = _lattice(top, bottom, side, self.shape[0])
        columns = _lattice(left, right, side, self.shape[1])
        if len(rows) < 2 or len(columns) < 2:
            return None
        coarse = self._means(rows, columns, side)
        corner = self.transform @ Affine.translation(columns.start, rows.start) @ Affine.scale(side)
        place = from_bounds(*box, shape[1], shape[0])
        return onto_web(coarse, corner, self.crs, place, shape), place

    def _means(self, rows: range, columns: range, side: int) -> Floats:
        step = side * max(1, STRIP // side)
        return np.concatenate(
            [
                block_means(
                    self.read(top, columns.start, min(step, rows.stop - top), len(columns)), side
                )
                for top in range(rows.start, rows.stop, step)
            ]
        )

    def overview(self, most_cells: int) -> tuple[Floats, Affine]:
        """Give all of it, as at most about so many cells."""
        west, south, east, north = self.box
        step = max(
            np.sqrt((east - west) * (north - south) / most_cells),
            (east - west) / self.shape[1],
        )
        shape = max(2, round((north - south) / step)), max(2, round((east - west) / step))
        return self.over(self.box, shape) or (np.full(shape, np.nan, np.float32), self.transform)


def _lattice(low: float, high: float, side: int, count: int) -> range:
    """Give the cells from `low` to `high` and some around, in whole squares, within the grid."""
    first = (int(np.floor(low)) // side - MARGIN) * side
    last = (int(np.ceil(high)) // side + 1 + MARGIN) * side
    return range(max(0, first), max(0, min(last, count)))
