"""Tiles laid side by side as a virtual mosaic (``.vrt``) lists them, read one by one by us.

The raster library would follow whatever such a list names, other lists and addresses too.  Here a
list is only a list: each tile is a GeoTIFF in a file of this machine.

The elements are those of GDAL's documentation, "VRT -- GDAL Virtual Format".
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final
from xml.etree.ElementTree import Element, fromstring

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from rasterio.windows import Window

from seabed.errors import GridError
from seabed.grid.attributes import crs_in, horizontal, sign_by_name, vertical_name
from seabed.guarded import damaged, reading
from seabed.guarded.works import raster
from seabed.loaders.layer import OFFLINE, Cells, Layer, band_named, blank, rescale

Floats = NDArray[np.float32]

MOST_BYTES: Final = 10_000_000
_OUTWARD: Final = ("/vsi", "://")
_SOURCES: Final = {"SimpleSource", "ComplexSource"}
_PLAIN: Final = {
    "SourceFilename", "OpenOptions", "SourceBand", "SourceProperties", "SrcRect", "DstRect",
    "NODATA",
}  # fmt: skip
"""What a source may hold whose tile is laid unchanged."""
_OTHER_SOURCES: Final = {
    "AveragedSource", "NoDataFromMaskSource", "KernelFilteredSource", "ArraySource", "MaskBand",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Tile:
    """A block of a file, and where it is in the mosaic."""

    file: str
    band: int
    row: int
    column: int
    to: Cells
    void: float | None


def is_virtual_mosaic(head: bytes) -> bool:
    """Say whether a file that begins so is a list of tiles."""
    return b"<vrtdataset" in head.lower()


def open_tiles(source: str, *, variable: str | None = None) -> Layer:
    """Read a virtual mosaic as a layer.

    variable: band by number (from 1) or description; else the first.

    Raises GridError if it does more than lay GeoTIFF tiles side by side, one is not there, or it
    names addresses.
    """
    path = Path(source)
    if path.stat().st_size > MOST_BYTES:
        raise damaged(path, what=f"a list of tiles of more than {MOST_BYTES:,} bytes is not read")
    text = path.read_bytes()
    if any(word.encode() in text.lower() for word in _OUTWARD):
        raise _leads_out(path)
    root = fromstring(text)  # noqa: S314  (expat expands no entities of other files)
    bands = root.findall("VRTRasterBand")
    names = [_text(one, "Description") for one in bands]
    index = 0 if variable is None else band_named(names, variable, path)
    band, name = bands[index], names[index]
    shape = int(root.attrib["rasterYSize"]), int(root.attrib["rasterXSize"])
    transform = Affine.from_gdal(*map(float, _text(root, "GeoTransform").split(",")))
    void = _number(band, "NoDataValue")
    tiles = _tiles(root, band, path)
    crs = crs_in(_text(root, "SRS"))
    datum, _, axis_unit = vertical_name(crs)
    likely, likely_from = sign_by_name(name)
    return Layer(
        source=source,
        format="virtual mosaic",
        variable=name or f"band {index + 1}",
        shape=shape,
        transform=transform,
        crs=horizontal(crs),
        read=partial(
            _read,
            tiles=tiles,
            void=void,
            scale=_number(band, "Scale") or 1.0,
            shift=_number(band, "Offset") or 0.0,
        ),
        likely_sign=likely,
        likely_from=likely_from,
        unit=_text(band, "UnitType") or axis_unit or None,
        vertical_datum=datum,
        declared_void=void is not None or all(tile.void is not None for tile in tiles),
        bytes_held=sum(Path(name).stat().st_size for name in {tile.file for tile in tiles}),
        others=tuple(text or f"band {i}" for i, text in enumerate(names, 1)),
    )


def _tiles(root: Element, band: Element, path: Path) -> tuple[_Tile, ...]:
    odd = [one.tag for one in (*root, *band) if one.tag in _OTHER_SOURCES]
    odd += [one.attrib["subClass"] for one in (root, band) if "subClass" in one.attrib]
    sources = [one for one in band if one.tag in _SOURCES]
    odd += [part.tag for one in sources for part in one if part.tag not in _PLAIN]
    if odd or not sources:
        raise GridError(
            "this virtual mosaic does more than lay tiles side by side"
            + (f" ({odd[0]})" if odd else ""),
            file=path,
            do="Make one GeoTIFF of it, or name its tiles.",
        )
    void = _number(band, "NoDataValue")
    return tuple(_tile(one, path, void) for one in sources)


def _tile(source: Element, path: Path, void: float | None) -> _Tile:
    name = source.find("SourceFilename")
    if name is None:
        raise damaged(path)
    words = (name.text or "").strip()
    if any(word in words.lower() for word in _OUTWARD):
        raise _leads_out(path)
    file = path.parent / words if name.attrib.get("relativeToVRT") == "1" else Path(words)
    if not _is_tiff(file):
        raise GridError(
            f"this virtual mosaic names {words}, which is not a GeoTIFF or is missing",
            file=path,
            do="Put its tiles where it looks for them; each must be a GeoTIFF.",
        )
    column, row, wide, high = _rectangle(source, "SrcRect")
    left, top, to_wide, to_high = _rectangle(source, "DstRect")
    if (wide, high) != (to_wide, to_high):
        raise GridError(
            f"this virtual mosaic lays {words} on other cells than its own",
            file=path,
            do="Name the tiles themselves, or make one GeoTIFF of them.",
        )
    own = _number(source, "NODATA")
    return _Tile(
        os.path.abspath(file),  # noqa: PTH100  (no name of a file is an address)
        int(_text(source, "SourceBand") or 1),
        row,
        column,
        Cells(top, left, high, wide),
        void if own is None else own,
    )


def _is_tiff(file: Path) -> bool:
    try:
        if not file.is_file():
            return False
        with file.open("rb") as stream:
            return stream.read(4) in {b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"}
    except (OSError, ValueError):
        return False


def _rectangle(source: Element, name: str) -> tuple[int, int, int, int]:
    about = source.find(name)
    if about is None:
        raise ValueError(f"no {name}")
    numbers = [float(about.attrib[key]) for key in ("xOff", "yOff", "xSize", "ySize")]
    whole = [round(number) for number in numbers]
    if min(whole) < 0 or max(abs(a - b) for a, b in zip(numbers, whole, strict=True)) > 1e-3:
        raise ValueError(f"{name} is between cells")
    return whole[0], whole[1], whole[2], whole[3]


def _read(
    cells: Cells, *, tiles: tuple[_Tile, ...], void: float | None, scale: float, shift: float
) -> Floats:
    array = np.full((cells.rows, cells.columns), np.nan, np.float32)
    for tile in tiles:  # a later one is on top
        top, left = max(cells.row, tile.to.row), max(cells.column, tile.to.column)
        bottom = min(cells.row + cells.rows, tile.to.row + tile.to.rows)
        right = min(cells.column + cells.columns, tile.to.column + tile.to.columns)
        if top >= bottom or left >= right:
            continue
        part = _part(tile, Cells(top, left, bottom - top, right - left))
        into = array[
            top - cells.row : bottom - cells.row, left - cells.column : right - cells.column
        ]
        np.copyto(into, part, where=~np.isnan(part))
    blank(array, void)
    rescale(array, scale, shift)
    return array


def _part(tile: _Tile, cells: Cells) -> Floats:
    window: Any = Window(
        tile.column + cells.column - tile.to.column,
        tile.row + cells.row - tile.to.row,
        cells.columns,
        cells.rows,
    )
    part = np.empty((cells.rows, cells.columns), np.float32)
    with reading(tile.file), raster.opened(tile.file, OFFLINE, {"driver": "GTiff"}) as data:
        data.read(tile.band, window=window, out=part)
        own = data.nodatavals[tile.band - 1]
    for number in (tile.void, own):
        blank(part, number)
    return part


def _leads_out(path: Path) -> GridError:
    return GridError(
        "this virtual mosaic points to addresses on the network",
        file=path,
        do="Fetch its tiles and name them, or name one address yourself.",
    )


def _text(element: Element, name: str) -> str:
    return (element.findtext(name) or "").strip()


def _number(element: Element, name: str) -> float | None:
    words = _text(element, name)
    return float(words) if words else None
