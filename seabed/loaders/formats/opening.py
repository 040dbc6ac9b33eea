"""Which reader a file needs, by its first bytes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.files import plain_file
from seabed.guarded import reading
from seabed.loaders.formats._bag import open_bag
from seabed.loaders.formats._netcdf import open_netcdf
from seabed.loaders.formats._points import open_points
from seabed.loaders.formats._raster import driver_of, is_url, open_raster, unreadable
from seabed.loaders.formats._s102 import is_s102, open_s102
from seabed.loaders.formats._tiles import is_virtual_mosaic, open_tiles
from seabed.loaders.hdf5 import open_hdf5
from seabed.loaders.layer import Cells, Layer, Reader
from seabed.tables.spreadsheets import ENDINGS, split_sheet
from seabed.tables.text_layout import other_file

PLAIN_CELLS: Final = 10_000_000
CELLS_A_BYTE: Final = 1000
"""A file may claim so many cells, and so many more for each of its bytes: what packs zeros best
(deflate) makes about a thousand bytes of one."""

_HDF5: Final = b"\x89HDF\r\n\x1a\n"
_TEXT_ENDINGS: Final = {".xyz", ".csv", ".txt", ".dat", ".tsv", ".pts"}


def open_layer(source: str | Path, *, variable: str | None = None) -> Layer:
    """Read the header of a grid file of any kind, or of a GeoTIFF at an address.

    variable: band, variable or column to take.
    """
    name = str(source)
    if is_url(name):
        return open_raster(name, variable=variable)
    path = split_sheet(source)[0]
    plain_file(path)
    if not path.exists():
        raise GridError("there is no such file", file=path, do="Check the name and the folder.")
    if path.is_dir():
        raise GridError("this is a folder", file=path, do="Name the files in it.")
    try:
        with path.open("rb") as stream:
            head = stream.read(512)
    except OSError as error:
        raise GridError(f"the file can't be read ({error.strerror})", file=path) from error
    if not head:
        raise GridError("the file is empty", file=path, do="Fetch or export it again.")
    if path.suffix.lower() in ENDINGS:
        return open_points(name, variable=variable)
    other = other_file(head)
    if other is not None and not is_virtual_mosaic(head):
        what, do = other
        do = do or "Give the depth grid."
        raise GridError(f"this is {what}, not a grid of depths", file=path, do=do)
    if len(path.suffix) == 4 and path.suffix[1:].isdigit():
        raise GridError(
            "this is named like a vector chart, which is not a grid of depths",
            file=path,
            do="Give it as a chart, for its hazards and contours.",
        )
    with reading(path):
        layer = _reader_for(head, path)(name, variable=variable)
        _check_size(layer, path)
    return replace(
        layer,
        read=partial(_guarded, read=layer.read, source=path),
        uncertainty=layer.uncertainty and partial(_guarded, read=layer.uncertainty, source=path),
    )


def _guarded(cells: Cells, *, read: Reader, source: Path) -> NDArray[np.float32]:
    with reading(source):
        return read(cells)


def _check_size(layer: Layer, path: Path) -> None:
    """Refuse a grid of more cells than its file can hold."""
    rows, columns = layer.shape
    bytes_held = max(layer.bytes_held, path.stat().st_size)
    if rows < 1 or columns < 1 or rows * columns > PLAIN_CELLS + CELLS_A_BYTE * bytes_held:
        raise GridError(
            f"it claims {rows:,} x {columns:,} cells, more than {bytes_held:,} bytes can hold",
            file=path,
            do="Fetch or export it again.",
        )


def _reader_for(head: bytes, path: Path) -> Callable[..., Layer]:
    if head.startswith(b"CDF"):
        return open_netcdf
    if head.startswith(_HDF5):
        data = open_hdf5(path)
        if "BAG_root" in data.parts:
            return partial(open_bag, data=data)
        return partial(open_s102, data=data) if is_s102(data) else open_netcdf
    if is_virtual_mosaic(head):
        return open_tiles
    driver = driver_of(head, path.suffix)
    if driver is not None:
        return partial(open_raster, driver=driver)
    if path.suffix.lower() in _TEXT_ENDINGS:
        return open_points
    raise unreadable(path)
