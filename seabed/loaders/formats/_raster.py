"""GeoTIFF, cloud-optimised GeoTIFF, ASCII grid and a few others: each by its one driver."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from rasterio.errors import RasterioError

from seabed.errors import GridError
from seabed.grid.attributes import (
    Sign,
    attribute_text,
    crs_in,
    horizontal,
    sign_by_name,
    vertical_name,
)
from seabed.guarded import ask
from seabed.guarded.errors import DAMAGED, ReadingError
from seabed.guarded.works import raster
from seabed.loaders.layer import OFFLINE, Cells, Layer, Reader, band_named, blank, rescale

NAMES: Final = {
    "GTiff": "GeoTIFF",
    "AAIGrid": "ASCII grid",
    "BAG": "BAG",
    "HFA": "raster with pyramids (.img)",
    "GSAG": "surface grid, text",
    "GSBG": "surface grid",
    "GS7BG": "surface grid",
    "EHdr": "raw raster with a header",
    "SRTMHGT": "height tile",
}
_BY_HEAD: Final = {
    b"II*\0": "GTiff",
    b"MM\0*": "GTiff",
    b"II+\0": "GTiff",
    b"MM\0+": "GTiff",
    b"EHFA_HEADER_TAG": "HFA",
    b"DSAA": "GSAG",
    b"DSBB": "GSBG",
    b"DSRB": "GS7BG",
}
_BY_ENDING: Final = {".flt": "EHdr", ".bil": "EHdr", ".hgt": "SRTMHGT"}
"""Files that begin with their numbers."""
_ASCII_GRID: Final = (b"ncols", b"nrows", b"xll", b"yll", b"dx", b"dy")

REMOTE: Final = {
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_HTTP_TIMEOUT": "30",
    "GDAL_HTTP_CONNECTTIMEOUT": "15",
    "VSI_CACHE": "TRUE",
}
"""Settings for reading over the network: no listing of folders, no endless waits."""

Options = dict[str, str]


def driver_of(head: bytes, suffix: str) -> str | None:
    """Name the one driver that may read a file, by its first bytes, else by how its name ends.

    None for kinds that name other files, or addresses.
    """
    if head.lstrip()[:5].lower().startswith(_ASCII_GRID):
        return "AAIGrid"
    by_head = (name for start, name in _BY_HEAD.items() if head.startswith(start))
    return next(by_head, _BY_ENDING.get(suffix.lower()))


def is_url(source: str | Path) -> bool:
    """Whether a source is an address on the network rather than a path."""
    return str(source).startswith(("http://", "https://"))


def open_raster(source: str, *, driver: str = "GTiff", variable: str | None = None) -> Layer:
    """Read a raster's header, from a path or address, as a layer; no driver but the one is tried.

    variable: band by number (from 1) or description.  By default the first band named as depth or
        elevation, else the first.
    """
    options: Options = {"driver": driver}
    if driver == "AAIGrid":
        options["DATATYPE"] = "Float32"
    elif driver == "GTiff":
        options["NUM_THREADS"] = "ALL_CPUS"
    data = _done("header", source, options)
    return _layer(data, source, _band(data, source, variable), options)


def _done(work: str, source: str, options: Options, *rest: Any, cells: int = 0) -> Any:
    """Have a raster read: TIFF, whose library holds, here; other kinds in the guarded process."""
    if options["driver"] != "GTiff":
        try:
            return ask(f"raster.{work}", source, OFFLINE, options, *rest, cells=cells)
        except ReadingError as error:
            if work == "header" and error.what == DAMAGED:
                raise unreadable(source) from error
            raise
    name = source if is_url(source) else os.path.abspath(source)  # noqa: PTH100  (never an address)
    reader: Callable[..., Any] = getattr(raster, work)
    try:
        return reader(name, REMOTE if is_url(source) else OFFLINE, options, *rest)
    except RasterioError as error:
        if is_url(source):
            with suppress(RasterioError):  # so that GDAL forgets the answer, and asks again next
                reader(
                    name, REMOTE | {"CPL_VSIL_CURL_NON_CACHED": f"/vsicurl/{name}"}, options, *rest
                )
        if work == "header" or is_url(source):
            raise unreadable(source, error) from error
        raise


def _layer(data: Any, source: str, band: int, options: Options) -> Layer:
    index = band - 1
    crs = crs_in(data.wkt)
    description, tags = data.descriptions[index], data.tags[index]
    datum, axis_sign, axis_unit = vertical_name(crs)
    sign, name = _sign(data, description, tags)
    likely, likely_from = (
        (None, "")
        if sign
        else sign_by_name(
            description, attribute_text(tags, "long_name", "standard_name", "variable_name")
        )
    )
    weak = False
    if likely is None and axis_sign is not None:
        likely, likely_from, weak = axis_sign, f"vertical datum {datum}", True
    unit = data.units[index] or attribute_text(tags, "units", "unit", "unittype")
    if not unit and axis_unit:
        unit = axis_unit
    companion = _uncertainty_band(data)
    return Layer(
        source=source,
        format=NAMES.get(data.driver, data.driver),
        variable=description or f"band {band}",
        shape=data.shape,
        transform=data.transform,
        crs=horizontal(crs),
        read=_reader(data, source, band, options),
        firm_sign=sign,
        firm_from=name,
        likely_sign=likely,
        likely_from=likely_from,
        likely_weak=weak,
        unit="m" if data.driver == "BAG" else unit or None,
        vertical_datum=datum or attribute_text(tags, "vertical_datum", "verticaldatum"),
        declared_void=data.voids[0] is not None or data.masked[index],
        uncertainty=_reader(data, source, companion, options) if companion else None,
        others=tuple(text or f"band {i}" for i, text in enumerate(data.descriptions, 1)),
    )


def _sign(data: Any, description: str, tags: dict[str, Any]) -> tuple[Sign | None, str]:
    if data.driver == "BAG":
        return "elevation", "the BAG format"
    positive = attribute_text(tags, "positive").lower()
    if positive in ("up", "down"):
        return ("elevation" if positive == "up" else "depth"), f"positive: {positive}"
    return None, description


def _band(data: Any, source: str, variable: str | None) -> int:
    names = data.descriptions
    if variable is not None:
        return band_named(names, variable, source) + 1
    if data.count in (3, 4) and data.dtypes == {"uint8"}:
        raise GridError(
            "this is a picture (red, green, blue), not a grid of depths",
            file=source,
            do="Get the depth grid itself, e.g. as a one-band GeoTIFF.",
        )
    for index, name in enumerate(names):
        if sign_by_name(name)[0] is not None and "uncertain" not in name.lower():
            return index + 1
    return 1


def _uncertainty_band(data: Any) -> int | None:
    for index, name in enumerate(data.descriptions):
        if "uncertain" in name.lower():
            return index + 1
    return None


def _reader(data: Any, source: str, band: int, options: Options) -> Reader:
    index = band - 1
    return partial(
        _read,
        source=source,
        band=band,
        void=data.voids[index],
        scale=data.scales[index],
        shift=data.offsets[index],
        masked=data.masked[index],
        options=options,
    )


def _read(
    cells: Cells,
    *,
    source: str,
    band: int,
    void: float | None,
    scale: float,
    shift: float,
    masked: bool,
    options: Options,
) -> NDArray[np.float32]:
    part = (band, cells.row, cells.column, cells.rows, cells.columns)
    count = cells.rows * cells.columns
    array: NDArray[np.float32] = _done("read", source, options, part, masked, cells=count)
    blank(array, void)
    rescale(array, scale, shift)
    return array


_REFUSED: Final = {
    "resolve host": "no server of that name is known, or this machine is offline",
    "connect": "its server does not answer",
    "timed out": "its server does not answer",
    "certificate": "its server can't prove that it is the right one",
    "code: 404": "its server has no such file",
    "code: 40": "its server asks for leave to read it",
    "code: 5": "its server is out of order",
    "No host part": "it names no server",
}
"""What GDAL's own message of an address means, by a part of it."""


def unreadable(source: str | Path, error: Exception | None = None) -> GridError:
    """Error for a file or address that no reader takes."""
    if is_url(source):
        why = next((words for sign, words in _REFUSED.items() if sign in str(error)), "")
        return GridError(
            f"nothing could be read from this address{why and f': {why}'}",
            file=source,
            do="Check the address and the connection; it must be a (cloud-optimised) GeoTIFF "
            "on a server that serves parts of files.",
        )
    return GridError(
        "this is not a grid of a kind that can be read, or its header is damaged",
        file=source,
        do="Give a GeoTIFF, netCDF, BAG, S-102, ASCII grid, or a table of x, y, depth.",
    )
