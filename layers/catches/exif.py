"""What a photo's EXIF says: when, where, by which camera, in what words.

Exif 2.32 (CIPA DC-008-2019).  Pictures are never decoded: only their headers are read.  Those of
HEIC are boxes as in ISO/IEC 14496-12, clauses 8.11.1 to 8.11.6; its EXIF block is as in ISO/IEC
23008-12, annex A.
"""

from __future__ import annotations

import math
import re
import struct
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, BinaryIO, Final

from seabed.errors import CatchError

EXIF_IFD, GPS_IFD = 0x8769, 0x8825
MAKE, MODEL, DESCRIPTION = 0x010F, 0x0110, 0x010E
CLOCK, CLOCK_OFFSET, COMMENT = 0x9003, 0x9011, 0x9286
LATITUDE_REF, LATITUDE, LONGITUDE_REF, LONGITUDE, GPS_TIME, GPS_DATE = 1, 2, 3, 4, 7, 29
TITLES: Final = (0x9C9B, 0x9C9C, 0x9C9E, 0x9C9F)
"""Title, comment, keywords and subject as one maker of systems writes them, in UTF-16."""
_FAULTS: Final = (
    OSError, ValueError, SyntaxError, KeyError, IndexError, TypeError, AttributeError,
    OverflowError, ZeroDivisionError, EOFError, struct.error,
)  # fmt: skip
"""What a reader raises for damaged EXIF."""
_CLOCK = re.compile(r"(\d{4})[:\-/.](\d\d)[:\-/.](\d\d)[ T](\d\d):(\d\d):(\d\d)")
_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)")
FIRST_YEAR: Final = 1990
"""Earlier is a clock that was never set; Exif is of 1995."""
LAST_YEAR: Final = 2261
"""The last whole year that tables hold, in nanoseconds of 64 bits."""


@dataclass(frozen=True, slots=True)
class Exif:
    """What a photo records; None and NaN where it records nothing.

    clock, offset: DateTimeOriginal, without a zone, and the offset of its zone from UTC.
    gps_time: of the satellites, UTC.
    longitude, latitude: both NaN if either is missing or can't be.
    words: description, comment, title and keywords.
    """

    clock: datetime | None
    offset: timedelta | None
    gps_time: datetime | None
    longitude: float
    latitude: float
    camera: str
    words: tuple[str, ...]


def read_exif(path: str | Path) -> Exif:
    """Read the EXIF of a JPEG or HEIC photo; CatchError if it is damaged or has none."""
    try:
        with Path(path).open("rb") as file:
            head = file.read(16)
    except FileNotFoundError as error:
        raise CatchError("there is no such photo", file=path, do="Check the name.") from error
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise CatchError(f"can't read it: {reason}", file=path) from error
    if not head.startswith(b"\xff\xd8\xff") and not is_heif(head):
        raise CatchError("no photo (JPEG or HEIC)", file=path, do="Give the camera's own file.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # else damage would be passed over with a warning
            warnings.simplefilter("ignore", ResourceWarning)  # of whatever is collected meanwhile
            tags = _heif_tags(Path(path)) if is_heif(head) else _jpeg_tags(path)
            exif = _exif_of(tags, tags.get_ifd(EXIF_IFD), tags.get_ifd(GPS_IFD)) if tags else None
    except (*_FAULTS, Warning) as error:
        why = "" if isinstance(error, Warning) else f": {_reason(error)}"
        raise CatchError(f"its EXIF is damaged{why}", file=path) from error
    if exif is None:
        raise CatchError(
            "has no EXIF, and so neither a time nor a place",
            file=path,
            do="Give the camera's own file: programs that send photos remove it.",
        )
    return exif


def _reason(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return text[:80] or type(error).__name__


def _jpeg_tags(path: str | Path) -> Any:
    from PIL import Image  # noqa: PLC0415 (costs a quarter second, and few trips have photos)

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(path, formats=("JPEG", "MPO"))
    except Image.DecompressionBombError as error:
        raise ValueError("it says that it is too large for a photo") from error
    with picture:
        return picture.getexif()


def _heif_tags(path: Path) -> Any:
    from PIL import Image  # noqa: PLC0415

    block = exif_of_heif(path)
    tags = Image.Exif()
    if block:
        tags.load(b"Exif\0\0" + block)
    return tags


def _exif_of(tags: Mapping[int, Any], shot: Mapping[int, Any], gps: Mapping[int, Any]) -> Exif:
    longitude = _degrees(gps.get(LONGITUDE), gps.get(LONGITUDE_REF), ("E", "W"), 180.0)
    latitude = _degrees(gps.get(LATITUDE), gps.get(LATITUDE_REF), ("N", "S"), 90.0)
    placed = not math.isnan(longitude + latitude) and (longitude, latitude) != (0.0, 0.0)
    words = [_text(tags.get(DESCRIPTION)), _comment(shot.get(COMMENT))]
    words += [_wide(tags.get(tag)) for tag in TITLES]
    maker, model = _text(tags.get(MAKE)), _text(tags.get(MODEL))
    return Exif(
        clock=_clock(shot.get(CLOCK)),
        offset=_offset(shot.get(CLOCK_OFFSET)),
        gps_time=_gps_time(gps.get(GPS_DATE), gps.get(GPS_TIME)),
        longitude=longitude if placed else math.nan,
        latitude=latitude if placed else math.nan,
        camera=model if model.startswith(maker) else f"{maker} {model}".strip(),
        words=tuple(dict.fromkeys(filter(None, words))),
    )


def _clock(value: Any) -> datetime | None:
    match = _CLOCK.match(_text(value))
    if match is None:  # blanks and zeros say that it is not known (Exif 2.32, 4.6.5)
        return None
    try:
        moment = datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]
    except ValueError:
        return None
    return moment if FIRST_YEAR <= moment.year <= LAST_YEAR else None


def _offset(value: Any) -> timedelta | None:
    match = _OFFSET.match(_text(value))
    if match is None:
        return None
    sign, hours, minutes = match.groups()
    away = timedelta(hours=int(hours), minutes=int(minutes))
    return -away if sign == "-" else away


def _gps_time(date: Any, time: Any) -> datetime | None:
    match = re.match(r"(\d{4})[:\-](\d\d)[:\-](\d\d)", _text(date))
    parts = _numbers(time)
    if match is None or parts is None:
        return None
    hours, minutes, seconds = parts
    if not (0 <= hours < 24 and 0 <= minutes < 60 and 0 <= seconds < 61):
        return None
    try:
        day = datetime(*(int(part) for part in match.groups()), tzinfo=UTC)  # type: ignore[misc, arg-type]
    except ValueError:
        return None
    moment = day + timedelta(hours=hours, minutes=minutes, seconds=seconds)
    return moment if FIRST_YEAR <= moment.year <= LAST_YEAR else None


def _degrees(value: Any, side: Any, sides: tuple[str, str], most: float) -> float:
    """Degrees, minutes and seconds and a side as signed degrees; NaN if they can't be right."""
    parts, name = _numbers(value), _text(side).upper()[:1]
    if parts is None or name not in sides:
        return math.nan
    degrees, minutes, seconds = parts
    signed = (degrees + minutes / 60 + seconds / 3600) * (1 if name == sides[0] else -1)
    return signed if min(parts) >= 0 and abs(signed) <= most else math.nan


def _numbers(value: Any) -> tuple[float, float, float] | None:
    """Three rationals as numbers; None unless there are three, all finite."""
    if not isinstance(value, tuple) or len(value) != 3:
        return None
    first, second, third = (float(part) for part in value)
    return (first, second, third) if math.isfinite(first + second + third) else None


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return " ".join(value.replace("\0", " ").split()) if isinstance(value, str) else ""


def _comment(value: Any) -> str:
    """Read UserComment: eight bytes name its code (Exif 2.32, table 9)."""
    if not isinstance(value, bytes) or len(value) < 8:
        return _text(value)
    code, rest = value[:8].rstrip(b"\0 ").upper(), value[8:]
    if code == b"UNICODE":
        low = rest[1:2] == b"\0"
        return _text(rest.decode("utf-16-le" if low else "utf-16-be", "replace"))
    return _text(rest) if code in (b"ASCII", b"") else ""


def _wide(value: Any) -> str:
    if isinstance(value, tuple):
        value = bytes(part & 255 for part in value)
    return _text(value.decode("utf-16-le", "replace")) if isinstance(value, bytes) else ""


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
