"""Which reader a file needs, told by its first bytes."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Final

import h5py

from seabed.errors import GridError
from seabed.files import plain_file
from seabed.loaders.formats._bag import open_bag
from seabed.loaders.formats._hdf5 import refuse_outward_links
from seabed.loaders.formats._netcdf import open_netcdf
from seabed.loaders.formats._points import open_points
from seabed.loaders.formats._raster import driver_of, is_url, open_raster, unreadable
from seabed.loaders.formats._s102 import is_s102, open_s102
from seabed.loaders.formats._tiles import is_virtual_mosaic, open_tiles
from seabed.loaders.layer import Layer, damaged, reading
from seabed.tables.spreadsheets import ENDINGS, split_sheet

__all__ = ["open_layer"]

MOST_SENSIBLE: Final = 10**11
"""More cells than any one file has; a header that says so is damaged."""

_HDF5: Final = b"\x89HDF\r\n\x1a\n"
_TEXT_ENDINGS: Final = {".xyz", ".csv", ".txt", ".dat", ".tsv", ".pts"}
_OTHER: Final = {
    b"<?xml": "an XML file",
    b"<gpx": "a GPX file",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"PK\x03\x04": "a zip archive, or a spreadsheet's workbook",
    b"\x1f\x8b": "a gzip archive",
}
_UNPACKED: Final = {
    b"PK\x03\x04": "Unpack it, or name the workbook .xlsx or .ods.",
    b"\x1f\x8b": "Unpack it first.",
}


def open_layer(source: str | Path, *, variable: str | None = None) -> Layer:
    """Read the header of a grid file of any kind.

    Parameters
    ----------
    source : str or Path
        A file, or the http(s) address of a (cloud-optimised) GeoTIFF.
    variable : str, optional
        Band, variable or column to take.

    Raises
    ------
    GridError
        If the file is missing, empty, or not a grid.
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
    for start, what in _OTHER.items():
        if head.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(start) and not is_virtual_mosaic(head):
            do = _UNPACKED.get(start, "Give the depth grid.")
            raise GridError(f"this is {what}, not a grid of depths", file=path, do=do)
    if len(path.suffix) == 4 and path.suffix[1:].isdigit():
        raise GridError(
            "this is named like a vector chart, which is no grid of depths",
            file=path,
            do="Give it as a chart, for its hazards and contours.",
        )
    layer = _reader_for(head, path)(name, variable=variable)
    if layer.shape[0] * layer.shape[1] > MOST_SENSIBLE:
        raise damaged(path)
    return layer


def _reader_for(head: bytes, path: Path) -> Callable[..., Layer]:
    if head.startswith(b"CDF"):
        return open_netcdf
    if head.startswith(_HDF5):
        return _reader_of_hdf5(path)
    if is_virtual_mosaic(head):
        return open_tiles
    driver = driver_of(head, path.suffix)
    if driver is not None:
        return partial(open_raster, driver=driver)
    if path.suffix.lower() in _TEXT_ENDINGS:
        return open_points
    raise unreadable(path)


def _reader_of_hdf5(path: Path) -> Callable[..., Layer]:
    with reading(path), h5py.File(path) as data:
        refuse_outward_links(data, path)
        if "BAG_root" in data:
            return open_bag
        if is_s102(data):
            return open_s102
    return open_netcdf
