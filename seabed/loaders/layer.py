"""One layer of numbers in a file: its place, what it says of itself, and how to read a part."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from seabed.errors import GridError
from seabed.grid.attributes import Sign

STRIP_CELLS: Final = 1 << 16
"""Cells worked on at a time in passes over a whole array: they stay in the processor's cache."""

OFFLINE: Final = {
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "-",
    "GDAL_HTTP_PROXY": "127.0.0.1:9",
    "GDAL_HTTP_MAX_RETRY": "0",
}
"""Settings of the raster and the vector library under which they reach nothing, a second bolt
behind their one driver: no file of the network has this name, and what asks anyway is sent
to this machine's discard port (RFC 863)."""


@dataclass(frozen=True, slots=True)
class Cells:
    """A block of cells: first row and column, and how many of each."""

    row: int
    column: int
    rows: int
    columns: int

    @property
    def slices(self) -> tuple[slice, slice]:
        """As indices of an array."""
        return (
            slice(self.row, self.row + self.rows),
            slice(self.column, self.column + self.columns),
        )


Reader = Callable[[Cells], NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of depths or elevations as a file holds it; nothing is read yet.

    source, format, variable: path or address, name of the format, name of the band or variable.
    transform: from (column, row) of a cell's corner to CRS coordinates; rows may run north or
        south.
    crs: horizontal part only.
    read: gives the cells asked for, NaN for voids, in the file's sign and unit.
    firm_sign, firm_from: what the file says outright, and in which words.
    likely_sign, likely_from, likely_weak: what a name suggests; whether the numbers are the better
        witness.
    unit, vertical_datum: as the file writes it; ``""`` where the file names no datum.
    declared_void: whether the file says which number means "no depth".
    uncertainty: as `read`, for the vertical uncertainty in the same unit, positive.
    guesses: what had to be guessed to get so far.
    others: names of the file's other layers.
    bytes_held: size of the files it names, where it holds no numbers itself.
    """

    source: str
    format: str
    variable: str
    shape: tuple[int, int]
    transform: Affine
    crs: CRS | None
    read: Reader
    firm_sign: Sign | None = None
    firm_from: str = ""
    likely_sign: Sign | None = None
    likely_from: str = ""
    likely_weak: bool = False
    unit: str | None = None
    vertical_datum: str = ""
    declared_void: bool = True
    uncertainty: Reader | None = None
    guesses: tuple[str, ...] = ()
    others: tuple[str, ...] = field(default=())
    bytes_held: int = 0

    @property
    def whole(self) -> Cells:
        """All cells."""
        return Cells(0, 0, *self.shape)

    def placed(self, cells: Cells) -> Affine:
        """North-up transform of a block of cells."""
        base = moved(self.transform, cells.row, cells.column)
        west = base.c if base.a > 0 else base.c + base.a * cells.columns
        north = base.f if base.e < 0 else base.f + base.e * cells.rows
        return Affine(abs(base.a), 0.0, west, 0.0, -abs(base.e), north)

    def north_up(self, array: NDArray[np.float32]) -> NDArray[np.float32]:
        """Flip what was read, so that the first cell is the most north-western."""
        down, across = (1 if self.transform.e < 0 else -1), (1 if self.transform.a > 0 else -1)
        return np.ascontiguousarray(array[::down, ::across])


def band_named(names: Sequence[str], variable: str, file: str | Path) -> int:
    """Index of the band of a number, from 1, or a name.  GridError if there is none."""
    if variable.isdigit() and 1 <= int(variable) <= len(names):
        return int(variable) - 1
    if variable in names:
        return names.index(variable)
    known = ", ".join(f"{i} {name}".strip() for i, name in enumerate(names, 1))
    raise GridError(f"no band {variable!r}", file=file, do=f"Its bands: {known}.")


def moved(transform: Affine, row: int, column: int) -> Affine:
    """Transform of a block that begins at a row and column of another (which isn't rotated)."""
    a, e = transform.a, transform.e
    return Affine(a, 0.0, transform.c + a * column, 0.0, e, transform.f + e * row)


def strips(array: NDArray[Any]) -> Iterator[NDArray[Any]]:
    """Give views of a few rows each, small enough for the cache."""
    rows = max(1, STRIP_CELLS // max(1, array.shape[1]))
    for first in range(0, array.shape[0], rows):
        yield array[first : first + rows]


def blank(array: NDArray[np.float32], void: float | None) -> None:
    """Put NaN where `array` equals `void` or isn't finite, in place."""
    limit = float(np.finfo(np.float32).max)
    marker = None
    if void is not None and not np.isnan(void):
        marker = np.float32(np.clip(void, -limit, limit))
    for strip in strips(array):
        if marker is not None:
            np.copyto(strip, np.nan, where=strip == marker)
        np.copyto(strip, np.nan, where=np.isinf(strip))


def rescale(array: NDArray[np.float32], scale: float, offset: float) -> None:
    """Turn stored numbers into values, in place."""
    if scale == 1.0 and offset == 0.0:
        return
    for strip in strips(array):
        if scale != 1.0:
            np.multiply(strip, np.float32(scale), out=strip)
        if offset != 0.0:
            np.add(strip, np.float32(offset), out=strip)
