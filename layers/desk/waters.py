"""The waters of a folder, what they hold, and paths that never lead out of them."""

from __future__ import annotations

import json
import os
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from seabed.errors import SeabedError
from seabed.files import write_text
from seabed.tables.headings import WATER_MEANINGS, meanings_of, of_wind

AREA: Final = "area.toml"
BOOK: Final = "logbook.gpkg"
CORRECTIONS: Final = ".corrections.txt"
"""Ends the name of the file of corrections beside a track."""

FOLDERS: Final = ("grids", "charts", "tracks", "catches", "photos", "tides", "soundings")
"""Where files that the skipper brings are kept, by what they are."""

KINDS: Final = {
    ".gpx": "tracks", ".kml": "tracks", ".nmea": "tracks", ".log": "tracks",
    ".csv": "catches", ".txt": "catches", ".tsv": "catches", ".xlsx": "catches", ".xls": "catches",
    ".ods": "catches",
    ".jpg": "photos", ".jpeg": "photos", ".heic": "photos", ".png": "photos",
    ".tif": "grids", ".tiff": "grids", ".bag": "grids", ".nc": "grids", ".asc": "grids",
    ".xyz": "grids", ".h5": "grids", ".000": "charts", ".json": "tides",
}  # fmt: skip
"""Where a file of a suffix is kept, unless the page says."""

TYPED: Final = {"heights": ("ft", "m"), "currents": ("kn", "mph", "m/s", "km/h")}
"""Tables of water that can be typed on a page, and the units of their values."""

_LONGEST: Final = 80
_LONGEST_HEAD: Final = 2000
_NOT_IN_NAMES: Final = re.compile(r"[^\w .+-]+")
_RESERVED: Final = {"con", "prn", "aux", "nul"} | {
    f"{device}{number}" for device in ("com", "lpt") for number in range(10)
}
"""Names that Windows keeps for devices."""


def clean_name(name: str, *, otherwise: str = "file") -> str:
    r"""Make a name of letters, digits and ``. + - _`` that every system takes, without folders.

    Examples
    --------
    >>> clean_name("../../etc/passwd"), clean_name(r"C:\spots\a?b.gpx"), clean_name("..")
    ('passwd', 'a b.gpx', 'file')
    >>> clean_name("Føhr – nord.tif"), clean_name("NUL.csv")
    ('Føhr nord.tif', 'file NUL.csv')
    >>> clean_name("Fänge (Juni).ods")
    'Fänge Juni.ods'
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    plain = " ".join(_NOT_IN_NAMES.sub(" ", last).split()).strip(". ")
    stem, dot, suffix = plain.rpartition(".")
    stem = stem.rstrip()
    plain = stem + dot + suffix
    if len(plain) > _LONGEST:
        plain = (stem or suffix)[: _LONGEST - len(suffix) - 1] + dot + suffix[: _LONGEST // 2]
    if not plain:
        return otherwise
    return f"{otherwise} {plain}" if plain.split(".")[0].lower() in _RESERVED else plain


@dataclass(frozen=True)
class Water:
    """A folder, resolved, with the files of one water."""

    folder: Path

    @property
    def name(self) -> str:
        """The folder's name, which addresses use."""
        return self.folder.name

    @property
    def area_file(self) -> Path:
        """The area file; it may be missing."""
        return self.folder / AREA

    @property
    def area_before(self) -> Path:
        """The area file as it was before the last change; it may be missing."""
        return self.folder / "removed" / AREA

    @property
    def results(self) -> Path:
        """Where results are kept."""
        return self.folder / "results"

    def inside(self, *parts: str) -> Path:
        """Give the path of something in the folder, links followed; SeabedError if it is outside.

        A file of one of `FOLDERS` that is missing may be beside the area file.
        """
        path = self.folder.joinpath(*parts)
        beside = self.folder / parts[-1] if parts else path
        if len(parts) == 2 and parts[0] in FOLDERS and not path.exists() and beside.is_file():
            path = beside
        try:
            whole = Path(os.path.realpath(path))
        except (OSError, ValueError) as error:
            raise SeabedError("no such file in this water") from error
        if "\0" in str(path) or not whole.is_relative_to(self.folder):
            raise SeabedError("no such file in this water")
        return whole

    def kept(self, name: str) -> dict[str, Any]:
        """Give what a page was left with, so that it comes back as it was; empty for nothing."""
        try:
            values = json.loads(self.inside(f".{name}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return values if isinstance(values, dict) else {}

    def keep(self, name: str, values: Mapping[str, Any]) -> None:
        """Keep what a page is left with."""
        if values != self.kept(name):
            write_text(self.inside(f".{name}.json"), json.dumps(values, indent=1), result=False)

    def place_for(self, kind: str, name: str) -> Path:
        """Give a path for a new file in one of `FOLDERS` under a name that nothing has yet."""
        folder = self.inside(kind)
        wanted = folder / clean_name(name)
        number = 2
        while os.path.lexists(wanted):
            wanted = folder / f"{Path(clean_name(name)).stem} {number}{Path(name).suffix.lower()}"
            number += 1
        return wanted

    def files(self, kind: str) -> list[Path]:
        """List files of one of `FOLDERS`, newest first, also those beside the area file.

        Links that lead out of the folder are left out.
        """
        there = [*_own_files(self.folder / kind), *self._beside(kind)]
        there = [path for path in there if Path(os.path.realpath(path)).is_relative_to(self.folder)]
        return sorted(there, key=lambda path: (-path.stat().st_mtime, path.name))

    def _beside(self, kind: str) -> list[Path]:
        """List files of a kind beside the area file; tables of wind or named in it are of water."""
        try:
            named = self.area_file.read_text(encoding="utf-8")
        except (OSError, ValueError):
            named = ""
        tables = {"catches", "tides"}

        def kind_of(path: Path) -> str | None:
            usual = KINDS.get(path.suffix.lower())
            if usual not in tables:
                return usual
            if f'"{path.name}"' in named or is_wind_table(path):
                return "tides"
            return "catches" if usual == "catches" else None

        return [path for path in _own_files(self.folder) if kind_of(path) == kind]


def is_wind_table(path: Path) -> bool:
    """Whether the headings of a table of text are of wind; not of a file that can't be read."""
    try:
        with path.open(encoding="utf-8", errors="replace") as stream:
            headings = re.split(r"[,;|\t]", stream.readline(_LONGEST_HEAD))
    except OSError:
        return False
    return of_wind(meanings_of(headings, WATER_MEANINGS))


def _own_files(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    return [
        path for path in folder.iterdir()
        if path.is_file() and not path.name.startswith(".")
        and not path.name.endswith(CORRECTIONS)  # beside its track, and no track
    ]  # fmt: skip


@dataclass(frozen=True)
class Waters:
    """A folder that holds waters, or is one."""

    root: Path

    @classmethod
    def of(cls, root: Path) -> Waters:
        """Resolve the folder, which need not be there yet."""
        return cls(Path(os.path.realpath(root)))

    @property
    def single(self) -> bool:
        """Whether the folder is itself a water."""
        return (self.root / AREA).is_file()

    def all(self) -> list[Water]:
        """List the waters by name."""
        if self.single:
            return [Water(self.root)]
        if not self.root.is_dir():
            return []
        folders = [
            path for path in self.root.iterdir()
            if path.is_dir() and not path.is_symlink() and not path.name.startswith(".")
            and (path / AREA).is_file()
        ]  # fmt: skip
        return [Water(path) for path in sorted(folders, key=lambda path: path.name.casefold())]

    def water(self, name: str) -> Water:
        """Give the water of a name; SeabedError if there is none."""
        for water in self.all():
            if water.name == name:
                return water
        raise SeabedError("no water of this name here")

    def place_for(self, name: str) -> Path:
        """Give the folder of a new water under a name that nothing has yet."""
        if self.single:
            raise SeabedError(
                "this folder is itself a water", do="Open the desk on the folder above it."
            )
        base = clean_name(name, otherwise="water")
        folder, number = self.root / base, 2
        while os.path.lexists(folder):
            folder, number = self.root / f"{base} {number}", number + 1
        return folder
