"""The EXIF block of a HEIF photo (HEIC), found without decoding the picture.

Boxes as in ISO/IEC 14496-12, clauses 8.11.1 to 8.11.6; the block as in ISO/IEC 23008-12, annex A.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Final

BRANDS: Final = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1", b"avif"}
MOST_BYTES: Final = 4_000_000
"""Most that a list of items, or the EXIF of one photo, may take."""


def is_heif(head: bytes) -> bool:
    """Say whether a file that begins with `head` (16 bytes or more) is HEIF."""
    return head[4:8] == b"ftyp" and head[8:12] in BRANDS


def exif_of_heif(path: Path) -> bytes | None:
    """Give the EXIF block, from its TIFF header on; None if the photo has none.

    Raises ValueError, struct.error if the file is cut off or its boxes contradict each other.
    """
    with path.open("rb") as file:
        whole = path.stat().st_size
        meta = next((span for kind, span in _boxes_of(file, 0, whole) if kind == b"meta"), None)
        if meta is None:
            raise ValueError("no list of items")
        start, end = meta
        content = _read(file, start, end)
        boxes = dict(_boxes_in(content, 4))
        item = _exif_item(boxes[b"iinf"]) if b"iinf" in boxes else None
        if item is None:
            return None
        if b"iloc" not in boxes:
            raise ValueError("no places of items")
        method, extents = _extents(boxes[b"iloc"], item)
        if method == 0:
            block = b"".join(_read(file, at, at + size) for at, size in extents)
        elif method == 1 and b"idat" in boxes:
            data = boxes[b"idat"]
            block = b"".join(data[at : at + size] for at, size in extents)
        else:
            raise ValueError("EXIF stored in a way that is not known")
    (skip,) = struct.unpack_from(">I", block)
    return block[4 + skip :]


def _boxes_of(file: BinaryIO, at: int, end: int) -> Iterator[tuple[bytes, tuple[int, int]]]:
    """Kinds and insides of the boxes of a file, one after another."""
    while at + 8 <= end:
        file.seek(at)
        size, kind = struct.unpack(">I4s", file.read(8))
        inside = at + 8
        if size == 1:
            (size,) = struct.unpack(">Q", file.read(8))
            inside += 8
        size = size or end - at
        if at + size < inside or at + size > end:
            raise ValueError("a box that does not fit into its file")
        yield kind, (inside, at + size)
        at += size


def _boxes_in(content: bytes, at: int) -> Iterator[tuple[bytes, bytes]]:
    while at + 8 <= len(content):
        size, kind = struct.unpack_from(">I4s", content, at)
        size = size or len(content) - at
        if size < 8 or at + size > len(content):
            raise ValueError("a box that does not fit into another")
        yield kind, content[at + 8 : at + size]
        at += size


def _read(file: BinaryIO, start: int, end: int) -> bytes:
    if not 0 <= end - start <= MOST_BYTES:
        raise ValueError("a block of a size that can't be right")
    file.seek(start)
    content = file.read(end - start)
    if len(content) < end - start:
        raise ValueError("cut off")
    return content


def _exif_item(content: bytes) -> int | None:
    """Find the number of the item of type Exif in an ``iinf`` box."""
    for kind, entry in _boxes_in(content, 6 if content[0] == 0 else 8):
        version = entry[0]
        if kind != b"infe" or version < 2:
            continue
        item, _, what = struct.unpack_from(">HH4s" if version == 2 else ">IH4s", entry, 4)
        if what == b"Exif":
            return int(item)
    return None


def _extents(content: bytes, wanted: int) -> tuple[int, list[tuple[int, int]]]:
    """How and where an item is stored, by an ``iloc`` box: offsets and lengths."""
    version, sizes, more = content[0], content[4], content[5]
    wide = {"offset": sizes >> 4, "length": sizes & 15, "base": more >> 4, "index": more & 15}
    reader = _BoxReader(content, 6)
    for _ in range(reader.number(2 if version < 2 else 4)):
        item = reader.number(2 if version < 2 else 4)
        method = reader.number(2) & 15 if version else 0
        reader.number(2)  # data reference
        base = reader.number(wide["base"])
        extents = []
        for _ in range(reader.number(2)):
            if version:
                reader.number(wide["index"])
            offset = reader.number(wide["offset"])
            extents.append((base + offset, reader.number(wide["length"])))
        if item == wanted:
            return method, extents
    raise ValueError("the EXIF has no place")


class _BoxReader:
    """Reads big-endian numbers one after another."""

    def __init__(self, content: bytes, at: int) -> None:
        self._content, self._at = content, at

    def number(self, size: int) -> int:
        """Give the next number of `size` bytes; 0 for none."""
        part = self._content[self._at : self._at + size]
        if len(part) < size:
            raise ValueError("cut off")
        self._at += size
        return int.from_bytes(part, "big")
