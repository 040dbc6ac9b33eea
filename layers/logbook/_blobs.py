"""Geometry as GeoPackage stores it: a header before well-known binary.

OGC 12-128r19, GeoPackage Encoding Standard 1.4, clause 2.1.3.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

SRS_ID: Final = 4326
_LITTLE: Final = 0b00000001
_EMPTY: Final = 0b00010000
_ENVELOPE: Final = 0b00000010  # min x, max x, min y, max y
_ENVELOPE_BYTES: Final = (0, 32, 48, 48, 64)
_CORNERS: Final = {"ST_MinX": 0, "ST_MinY": 1, "ST_MaxX": 2, "ST_MaxY": 3}


def to_blobs(geometry: Sequence[Any] | NDArray[Any]) -> list[bytes | None]:
    """Encode geometries in degrees, WGS 84; None stays None."""
    shapes = np.asarray(geometry, dtype=object)
    if not len(shapes):
        return []
    binary = shapely.to_wkb(shapes, byte_order=1, output_dimension=2)
    boxes = shapely.bounds(shapes)
    empty = shapely.is_empty(shapes)
    blobs: list[bytes | None] = []
    for shape, wkb, box, none in zip(shapes, binary, boxes, empty, strict=True):
        if shape is None:
            blobs.append(None)
        elif none:
            blobs.append(struct.pack("<2sBBi", b"GP", 0, _LITTLE | _EMPTY, SRS_ID) + wkb)
        else:
            west, south, east, north = box
            blobs.append(
                struct.pack(
                    "<2sBBi4d", b"GP", 0, _LITTLE | _ENVELOPE, SRS_ID, west, east, south, north
                )
                + wkb
            )
    return blobs


class BlobError(ValueError):
    """A geometry that is damaged, `at` its place among those that were to be decoded."""

    def __init__(self, at: int) -> None:
        self.at = at
        super().__init__(f"geometry {at} is damaged")


def from_blobs(blobs: Sequence[Any]) -> NDArray[Any]:
    """Decode; None stays None; BlobError for the first that is damaged."""
    binary = np.empty(len(blobs), dtype=object)
    for at, blob in enumerate(blobs):
        binary[at] = None if blob is None else _binary(blob, at)
    shapes: NDArray[Any] = shapely.from_wkb(binary, on_invalid="ignore")
    bad = shapely.is_missing(shapes) & np.array([one is not None for one in binary], bool)
    if bad.any():
        raise BlobError(int(np.argmax(bad)))
    return shapes


def _binary(blob: Any, at: int) -> bytes:
    """Give the well-known binary in a blob."""
    if not isinstance(blob, bytes) or len(blob) < 8 or not blob.startswith(b"GP"):
        raise BlobError(at)
    envelope = blob[3] >> 1 & 7
    if envelope >= len(_ENVELOPE_BYTES):
        raise BlobError(at)
    return blob[8 + _ENVELOPE_BYTES[envelope] :]


def know_geometry(connection: sqlite3.Connection) -> None:
    """Let triggers of a GIS ask on a connection where a geometry is (annex F.3)."""

    def corner(place: int) -> Callable[[bytes | None], float | None]:
        def at(blob: bytes | None) -> float | None:
            shape = _shape(blob)
            return None if shape is None or shape.is_empty else float(shape.bounds[place])

        return at

    def is_empty(blob: bytes | None) -> int | None:
        shape = _shape(blob)
        return None if shape is None else int(shape.is_empty)

    connection.create_function("ST_IsEmpty", 1, is_empty, deterministic=True)
    for name, place in _CORNERS.items():
        connection.create_function(name, 1, corner(place), deterministic=True)


def _shape(blob: bytes | None) -> Any:
    return from_blobs([blob])[0]
