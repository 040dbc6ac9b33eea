"""Tell the kind of a file by what is in it, as far as that says it, else by its name."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Final

from layers.catches.photos import ENDINGS as PHOTOS
from seabed.errors import SeabedError

__all__ = ["TABLES", "kind_of"]

HEAD_BYTES: Final = 4096
BY_ENDING: Final = {
    ".toml": "area file",
    ".gpx": "GPX",
    ".000": "chart",
    ".gpkg": "GeoPackage",
    ".json": "station",
    ".kml": "KML",
    ".kmz": "KML",
    **dict.fromkeys(PHOTOS, "photo"),
}
TABLES: Final = {".csv", ".txt", ".tsv", ".dat"}
FISH_COLUMNS: Final = {"species", "fish", "kept", "keep", "keeper", "released", "length", "rod"}
DEPTH_COLUMNS: Final = {"depth", "z", "x", "y", "easting", "northing"}
_NO_HEADERS: Final = re.compile(r'#|"?sep=', re.IGNORECASE)
"""Lines before those that head the columns."""
_MARKS: Final = {"gpx": "GPX", "kml": "KML"}
"""Elements that XML begins with."""
_HDF5: Final = b"\x89HDF\r\n\x1a\n"


def kind_of(name: str) -> str:
    """Tell what a file is, or means to be.

    Raises
    ------
    SeabedError
        If there is no such file, or it can't be read.
    """
    if name.startswith(("http://", "https://")):
        return "depth grid"
    path = Path(name)
    if path.is_dir():
        return "folder"
    raw, suffix = _head(path), path.suffix.lower()
    if suffix in BY_ENDING:
        return BY_ENDING[suffix]
    if raw.startswith(_HDF5):
        return _kind_of_hdf5(path)
    wide = raw.startswith((b"\xff\xfe", b"\xfe\xff"))
    return _kind_of_text(raw.decode("utf-16" if wide else "utf-8-sig", errors="replace"), suffix)


def _kind_of_text(head: str, suffix: str) -> str:
    for mark, kind in _MARKS.items():
        if re.search(rf"<{mark}[\s>]", head):
            return kind
    if re.search(r"^[$!][A-Z]{5},", head, re.MULTILINE):
        sounded = re.search(r"\$[A-Z]{2}(DPT|DBT|DBS|DBK),", head)
        return "sounder's log" if sounded else "track log"
    return _kind_of_table(head) if suffix in TABLES else "depth grid"


def _kind_of_table(head: str) -> str:
    """Tell tables apart by the names of their columns."""
    first = next(
        (line for line in head.splitlines() if line.strip() and not _NO_HEADERS.match(line)), ""
    )
    delimiter = max(",;\t|", key=first.count)
    words = {word.strip().lower() for word in next(csv.reader([first], delimiter=delimiter), [])}
    stems = {re.split(r"[_ (\[]", word)[0] for word in words}
    if stems & FISH_COLUMNS:
        return "catch log"
    timed = bool(stems & {"time", "date", "datetime", "timestamp"})
    if timed and stems & {"latitude", "lat"} and stems & {"longitude", "lon", "long", "lng"}:
        return "track log"
    if "event" in stems or ("speed" in stems and timed):
        return "table of currents"
    if stems & {"height", "level"} and timed:
        return "table of tide heights"
    return "catch log" if timed and not stems & DEPTH_COLUMNS else "depth grid"


def _kind_of_hdf5(path: Path) -> str:
    """Tell the published products of water apart from grids, by the names of their features."""
    import h5py

    try:
        with h5py.File(path) as data:
            names = set(data)
    except OSError:
        return "depth grid"  # damaged, which its reader says
    if "WaterLevel" in names:
        return "table of tide heights"
    return "table of currents" if "SurfaceCurrent" in names else "depth grid"


def _head(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(HEAD_BYTES)
    except FileNotFoundError as error:
        raise SeabedError("no such file", file=path, do="Check the name and the folder.") from error
    except OSError as error:
        raise SeabedError(
            f"can't be read: {error.strerror}", file=path, do="Look at its permissions."
        ) from error
