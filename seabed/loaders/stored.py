"""A depth grid left in its file: read a block at a time, for grids larger than memory."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from seabed.errors import GridError
from seabed.grid import Bounds, make_grid
from seabed.grid.attributes import Sign
from seabed.loaders.formats import open_layer
from seabed.loaders.layer import Cells, Layer, moved
from seabed.loaders.meaning import Meaning, Tally, blank_usual_voids, look, settle, to_depth
from seabed.loaders.placing import cells_in, place


@dataclass(frozen=True, slots=True)
class StoredGrid:
    """A depth grid in a file.  It holds no open file, and can be sent to another process.

    Attributes
    ----------
    layer : Layer
    cells : Cells
        The part of the file that counts as the grid.
    meaning : Meaning
    offset_m, land_above_m : float
    """

    layer: Layer
    cells: Cells
    meaning: Meaning
    offset_m: float = 0.0
    land_above_m: float = 0.0

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.cells.rows, self.cells.columns

    @property
    def crs(self) -> CRS | None:
        """Horizontal CRS."""
        return self.layer.crs

    @property
    def transform(self) -> Affine:
        """From (column, row) of a cell's corner to CRS coordinates, north-up."""
        return self.layer.placed(self.cells)

    def depths(self, row: int, column: int, rows: int, columns: int) -> NDArray[np.float32]:
        """Read a block: metres positive down, land and void NaN; row 0 in the north.

        Raises
        ------
        GridError
            If the block reaches beyond the grid, or the file is damaged there.
        """
        whole_rows, whole_columns = self.shape
        inside = 0 <= row < row + rows <= whole_rows
        if not (inside and 0 <= column < column + columns <= whole_columns):
            raise GridError(
                f"no block of {rows} x {columns} cells at row {row}, column {column}",
                file=self.layer.source,
                do=f"The grid has {whole_rows} x {whole_columns}.",
            )
        array = self.layer.read(self._cells(row, column, rows, columns))
        if not self.layer.declared_void:
            blank_usual_voids(array)
        to_depth(array, self.meaning, offset_m=self.offset_m, land_above_m=self.land_above_m)
        return self.layer.north_up(array)

    @property
    def has_uncertainty(self) -> bool:
        """Whether the file says how sure its depths are."""
        return self.layer.uncertainty is not None

    def uncertainties(self, row: int, column: int, rows: int, columns: int) -> NDArray[np.float32]:
        """Read the vertical uncertainty of a block, metres; NaN where it or the depth is void."""
        if self.layer.uncertainty is None:
            return np.full((rows, columns), np.nan, np.float32)
        spread = self.layer.uncertainty(self._cells(row, column, rows, columns))
        spread = self.layer.north_up(np.where(spread >= 0, spread, np.float32(np.nan)))
        spread *= np.float32(self.meaning.factor)
        spread[np.isnan(self.depths(row, column, rows, columns))] = np.nan
        return spread

    def _cells(self, row: int, column: int, rows: int, columns: int) -> Cells:
        """Cells of the file of a block that is counted from the north-west."""
        whole_rows, whole_columns = self.shape
        affine = self.layer.transform
        first = row if affine.e < 0 else whole_rows - row - rows
        left = column if affine.a > 0 else whole_columns - column - columns
        return Cells(self.cells.row + first, self.cells.column + left, rows, columns)

    def read(self, row: int, column: int, rows: int, columns: int) -> xr.DataArray:
        """Read a block as a depth grid; as `depths`."""
        block = self.depths(row, column, rows, columns)
        return self._grid(block, moved(self.transform, row, column))

    def chunked(self, chunk: int = 2048) -> xr.DataArray:
        """Give the whole as a depth grid of dask blocks that are read when they are needed.

        Parameters
        ----------
        chunk : int
            Rows and columns of a block; a multiple of the file's own blocks reads each once.
        """
        import dask.array as da  # noqa: PLC0415 (optional: only chunked work needs it)

        rows, columns = self.shape

        def block(block_info: Any = None) -> NDArray[np.float32]:
            (top, bottom), (left, right) = block_info[None]["array-location"]
            return self.depths(top, left, bottom - top, right - left)

        chunks = (_sizes(rows, chunk), _sizes(columns, chunk))
        map_blocks: Any = da.map_blocks
        array = map_blocks(block, chunks=chunks, dtype=np.float32, meta=np.empty((0, 0), "f4"))
        return self._grid(array, self.transform)

    def _grid(self, depth: Any, transform: Affine) -> xr.DataArray:
        return make_grid(
            depth,
            transform=transform,
            crs=self.crs,
            vertical_datum=self.meaning.vertical_datum,
            source=self.layer.source,
            attributes={"guesses": list(self.meaning.guesses)},
        )


def open_stored(
    source: str | Path,
    *,
    box: Bounds | Sequence[float] | None = None,
    crs: Any = None,
    sign: Literal["auto"] | Sign = "auto",
    unit: str = "auto",
    vertical_datum: str | None = None,
    offset_m: float = 0.0,
    variable: str | None = None,
    land_above_m: float = 0.0,
) -> StoredGrid:
    """Open a depth grid without reading it.

    Parameters and errors as for ``open_grid``, of one file.  Where the file doesn't say the sign
    outright, 4 x 4 blocks of 512 x 512 cells spread over the grid decide.  Whether there is
    any water in it shows only when it is read.

    Returns
    -------
    StoredGrid
        ``read(row, column, rows, columns)`` gives a depth grid of a block, ``chunked()`` the whole
        as a lazy one.

    Examples
    --------
    >>> stored = open_stored("sound.tif")
    >>> stored.read(100, 200, 50, 60).shape
    (50, 60)
    """
    layer = place(open_layer(source, variable=variable), crs)
    cells = cells_in(layer, Bounds.of(box))
    known = sign != "auto" or layer.firm_sign is not None
    counts = Tally() if known else look(layer, cells)
    meaning = settle(layer, counts, sign=sign, unit=unit, vertical_datum=vertical_datum)
    return StoredGrid(layer, cells, meaning, offset_m, land_above_m)


def _sizes(count: int, chunk: int) -> tuple[int, ...]:
    whole, rest = divmod(count, chunk)
    return (chunk,) * whole + ((rest,) if rest else ())
