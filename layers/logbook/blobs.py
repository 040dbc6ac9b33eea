"""Geometry as GeoPackage stores it: a header before well-known binary.

OGC 12-128r19, GeoPackage Encoding Standard 1.4, clause 2.1.3.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

__all__ = ["SRS_ID", "from_blobs", "to_blobs"]

SRS_ID: Final = 4326
_LITTLE: Final = 0b00000001
_EMPTY: Final = 0b00010000
_ENVELOPE: Final = 0b00000010  # min x, max x, min y, max y
_ENVELOPE_BYTES: Final = (0, 32, 48, 48, 64)


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


def from_blobs(blobs: Sequence[bytes | None]) -> NDArray[Any]:
    """Decode; None stays None."""
    binary = [
        None if blob is None else blob[8 + _ENVELOPE_BYTES[blob[3] >> 1 & 7] :] for blob in blobs
    ]
    shapes: NDArray[Any] = shapely.from_wkb(np.array(binary, dtype=object))
    return shapes
