"""Tell the kind of a file by its content where that is clear, else by its name."""

from __future__ import annotations

import re
from functools import partial
from pathlib import Path
from typing import Final

from layers.catches.photos import ENDINGS as PHOTOS
from seabed.errors import SeabedError
from seabed.files import plain_file
from seabed.loaders.hdf5 import open_hdf5
from seabed.tables.headings import WATER_MEANINGS, meanings_of, of_wind, plain
from seabed.tables.spreadsheets import is_table_name, split_sheet
from seabed.tables.text_table import headings_of

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
_MEANT: Final = partial(
    meanings_of,
    among=(
        *WATER_MEANINGS, "species", "length", "kept", "released", "count", "rod", "note", "bait",
        "person",
    ),
)  # fmt: skip
_OF_FISH: Final = {"species", "length", "kept", "released", "rod"}
HOURS: Final = {"hours", "hour", "hours from high water", "hours from hw", "hw"}
_OF_DEPTH: Final = {"depth", "latitude", "longitude"}
_MARKS: Final = {"gpx": "GPX", "kml": "KML"}
"""Elements that XML begins with."""
MOST_TYPED: Final = 1 << 20
"""Bytes of the largest table of tides that is typed or pasted."""
_TIDE: Final = re.compile(
    r"\b(?:tides?|high|low|hw|lw|hochwasser|niedrigwasser|gezeiten|mar[ée]es?|pleine mer|getij\w*|"
    r"hoogwater|laagwater|pleamar|bajamar|mareas?|mar[ée]s?|maree|tidevand|tidevann|tidvatten)\b",
    re.IGNORECASE,
)
_TEXTS: Final = {"", ".log", ".md", ".text"}
_CONTROL: Final = re.compile(r"[\x00-\x08\x0e-\x1f]")
_WORD: Final = re.compile(r"[^\W\d_]{2,}")
_FIGURE: Final = re.compile(r"\d+")
FEWEST_WORDS: Final = 8
"""Of sentences; the headings of a grid are fewer."""
WORDS_A_FIGURE: Final = 3
"""In sentences at least; rows of a grid have hardly a word."""
_HDF5: Final = b"\x89HDF\r\n\x1a\n"


def kind_of(name: str) -> str:
    """Give the kind of a file, real or intended; SeabedError if it is missing or can't be read."""
    if name.startswith(("http://", "https://")):
        return "depth grid"
    path = split_sheet(name)[0]
    if path.is_dir():
        return "folder"
    plain_file(path)
    raw, suffix = _head(path), path.suffix.lower()
    if suffix == ".json" and b"seabed-layers learned current" in raw:
        return "learned current"
    if suffix in BY_ENDING:
        return BY_ENDING[suffix]
    if raw.startswith(_HDF5):
        return _kind_of_hdf5(path)
    wide = raw.startswith((b"\xff\xfe", b"\xfe\xff"))
    head = raw.decode("utf-16" if wide else "utf-8-sig", errors="replace")
    return _kind_of_text(head, Path(name))


def why_of(name: str, kind: str) -> str:
    """Say in a few words what shows that a table is of a kind; ``""`` for other files."""
    if not is_table_name(name):
        return ""
    try:
        headings, meant = headings_of(Path(name), _MEANT, error=SeabedError)
    except SeabedError:
        return ""
    known = [word for word, meaning in zip(headings, meant, strict=True) if meaning]
    if known:
        return f"its headings: {', '.join(known)}"
    return "lines with times and heights" if kind == "table of tide heights" else ""


def _kind_of_text(head: str, path: Path) -> str:
    for mark, kind in _MARKS.items():
        if re.search(rf"<{mark}[\s>]", head):
            return kind
    if re.search(r"^[$!][A-Z]{5},", head, re.MULTILINE):
        sounded = re.search(r"\$[A-Z]{2}(DPT|DBT|DBS|DBK),", head)
        return "sounder's log" if sounded else "track log"
    kind = _kind_of_table(path) if is_table_name(path) else "depth grid"
    return "text" if kind == "depth grid" and _is_prose(head, path) else kind


def _is_prose(head: str, path: Path) -> bool:
    """Whether a file that may be text is sentences, not numbers."""
    if not (is_table_name(path) or path.suffix.lower() in _TEXTS) or _CONTROL.search(head):
        return False
    words, figures = len(_WORD.findall(head)), len(_FIGURE.findall(head))
    return words >= FEWEST_WORDS and figures * WORDS_A_FIGURE < words


def _kind_of_table(path: Path) -> str:
    """Tell tables apart by the meanings of their headings, and typed tides by their words."""
    kind, sure = _kind_by_headings(path)
    if not sure and kind in {"depth grid", "catch log"} and _are_tides(path):
        return "table of tide heights"
    return kind


def _are_tides(path: Path) -> bool:
    """Whether a small file holds turns of the tide line by line, and a word for them."""
    from layers.water.heights.typed_tides import typed_tides

    file = split_sheet(path)[0]
    if file.stat().st_size > MOST_TYPED:
        return False
    try:
        text = typed_tides(path)
    except SeabedError as error:
        return error.where is not None and bool(_TIDE.search(_words_of(path)))
    named = text.column("event") is not None or bool(_TIDE.search(_words_of(path)))
    return len(text) > 1 and named


def _words_of(path: Path) -> str:
    from layers.water.heights.typed_tides import lines_of

    lines = (line for _, line in lines_of(*split_sheet(path)))
    return " ".join([plain(split_sheet(path)[0].stem), *lines])[:HEAD_BYTES]


def _kind_by_headings(path: Path) -> tuple[str, bool]:  # noqa: PLR0911  (a kind each)
    """Tell tables apart by the meanings of their headings; and whether these leave no doubt."""
    from layers.water.currents.hourly import has_hours

    try:
        headings, meant = headings_of(path, _MEANT, error=SeabedError)
    except SeabedError:
        return "depth grid", False  # its reader says what is wrong
    meanings, names = set(meant) - {None}, {plain(heading) for heading in headings}
    of_fish = len(meanings & _OF_FISH)
    if of_fish:
        return "catch log", of_fish > 1
    if names & HOURS and has_hours(path):
        return "table of currents", True
    if not meanings & {"time", "date"}:
        return ("table of currents" if "event" in meanings else "depth grid"), False
    if {"latitude", "longitude"} <= meanings and not {"x", "y"} & names:
        return "track log", True
    if "height" in meanings:
        return "table of tide heights", True
    if of_wind(meanings):
        return "table of wind", True
    if meanings & {"event", "speed"}:
        return "table of currents", True
    return ("depth grid" if meanings & _OF_DEPTH else "catch log"), False


def _kind_of_hdf5(path: Path) -> str:
    """Tell the published products of water apart from grids, by the names of their features."""
    try:
        names = set(open_hdf5(path).parts)
    except SeabedError:
        return "depth grid"  # its reader says what is wrong
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
