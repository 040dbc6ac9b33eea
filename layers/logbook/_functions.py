"""Functions on geometry that a spatial index asks for, which a GIS may have hung on a logbook.

OGC 12-128r19, GeoPackage Encoding Standard 1.4, annex F.3: without them no row could be added.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any, Final

from layers.logbook._blobs import from_blobs

_CORNERS: Final = {"ST_MinX": 0, "ST_MinY": 1, "ST_MaxX": 2, "ST_MaxY": 3}


def know_geometry(connection: sqlite3.Connection) -> None:
    """Let triggers on a connection ask where a geometry lies."""

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
