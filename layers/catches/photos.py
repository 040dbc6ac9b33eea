"""Photos as catches: EXIF time and place, and words that say what fish it was.

A photo is a fish if its file name, else its description or keywords say so by the rules for marks
(`layers.catches.marked_fish`: "keeper 21"), else if the folder that it is in is named for fish
("keepers").  Others only help to set the camera's clock.  Numbers that cameras give, such as
``IMG_2031``, say nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from layers.catches.clocks import ClockOffset, clock_offsets
from layers.catches.exif import Exif, read_exif
from layers.catches.marked_fish import fish_in_words, only_fish_words
from seabed.errors import CatchError
from seabed.files import plain_file
from seabed.schema import Table

PHOTOS: Final = Table.of(
    "photos",
    "layers.catches.photos.read_photos",
    """
    file [text] the photo
    camera [text empty] in words
    clock_utc [time empty] the camera's own time as UTC
    zoned [bool] EXIF has the zone of that time
    gps_time [time empty] UTC, of the satellites
    longitude, latitude [empty] NaN where unknown
    species [text empty] of the fish, if words name one
    length_m [fish empty] of the fish
    kept [maybe empty] whether it was
    fish [bool] words say that it is one
    problem [text empty] why the file could not be read
    """,
)

ENDINGS: Final = {".jpg", ".jpeg", ".heic", ".heif"}
SAME_FISH_S: Final = 60.0
"""Photos of one camera, within this of the one before and with no other length, are of one fish.
Common practice, no source."""

_GIVEN_BY_CAMERA = re.compile(r"[A-Za-z]*[_-]?\d{4,}[A-Za-z\d]*|\(\d+\)")


def photo_files(paths: Iterable[str | Path]) -> tuple[list[Path], list[Path]]:
    """Give the photos that paths name, and what else is in the folders among them.

    A folder means the JPEG and HEIC files in it, in order of name, not those in folders below.
    CatchError for a folder without a photo.
    """
    photos: list[Path] = []
    others: list[Path] = []
    for path in map(Path, paths):
        if not path.is_dir():
            plain_file(path)
            photos.append(path)
            continue
        try:
            inside = sorted(file for file in path.iterdir() if file.is_file())
        except OSError as error:
            raise CatchError("can't look into it", file=path) from error
        images = [file for file in inside if file.suffix.lower() in ENDINGS]
        if not images:
            raise CatchError(
                "no photo (JPEG or HEIC) is in this folder", file=path, do="Name another folder."
            )
        photos += images
        others += [file for file in inside if file.suffix.lower() not in ENDINGS]
    return list(dict.fromkeys(photos)), others


def read_photos(
    files: Sequence[str | Path], *, timezone: str = "UTC", default_unit: str = "in"
) -> pd.DataFrame:
    """Read photos, a row each as `PHOTOS`; `timezone` is that of clocks whose EXIF says none."""
    zone = ZoneInfo(timezone)
    rows = [_row(Path(file), zone, default_unit) for file in files]
    return PHOTOS.frame(rows)


def set_clocks(
    photos: pd.DataFrame, fixes: pd.DataFrame, *, clock_offset_s: float | None = None
) -> tuple[pd.DataFrame, dict[str, ClockOffset]]:
    """Give each photo its ``time`` (UTC, NaT if unknown), its camera's clock corrected.

    clock_offset_s: seconds that every camera was ahead; else each is found, or taken as right.
    Returned: photos with ``clock_offset_s``, what was taken off; and offsets by camera.
    """
    PHOTOS.check(photos)
    offsets = {} if clock_offset_s is not None else clock_offsets(photos, fixes)
    known_offsets = {
        camera: one.offset_s for camera, one in offsets.items() if one.offset_s == one.offset_s
    }
    away = photos["camera"].map(known_offsets).astype(float).fillna(clock_offset_s or 0.0)
    time = (photos["clock_utc"] - pd.to_timedelta(away, unit="s")).fillna(photos["gps_time"])
    return photos.assign(time=time, clock_offset_s=away), offsets


def fish_of_photos(photos: pd.DataFrame) -> tuple[list[dict[str, Any]], int]:
    """Give the fish among photos as rows of catches, and how many photos showed one once more."""
    rows: list[dict[str, Any]] = []
    again = 0
    last: dict[str, tuple[pd.Timestamp, float]] = {}
    known = photos["time"].notna() | (photos["longitude"].notna() & photos["latitude"].notna())
    fish = photos[photos["fish"] & known].sort_values("time", kind="stable")
    for one in fish.to_dict("records"):
        time, length = one["time"], one["length_m"]
        before = last.get(one["camera"])
        last[one["camera"]] = time, length
        if before is not None and _same_fish(before, time, length):
            again += 1
            continue
        names = ("time", "species", "length_m", "kept", "longitude", "latitude", "file")
        rows.append({**{name: one[name] for name in names}, "rod": "", "note": "", "row": 0})
    return rows, again


def _same_fish(before: tuple[pd.Timestamp, float], time: pd.Timestamp, length_m: float) -> bool:
    if pd.isna(time) or pd.isna(before[0]):
        return False
    near = (time - before[0]).total_seconds() <= SAME_FISH_S
    return near and (np.isnan(length_m) or np.isnan(before[1]) or length_m == before[1])


def _row(path: Path, zone: ZoneInfo, default_unit: str) -> dict[str, Any]:
    row: dict[str, Any] = {
        "file": str(path), "camera": "", "clock_utc": pd.NaT, "zoned": False, "gps_time": pd.NaT,
        "longitude": np.nan, "latitude": np.nan, "species": "", "length_m": np.nan, "kept": None,
        "fish": False, "problem": "",
    }  # fmt: skip
    try:
        exif = read_exif(path)
    except CatchError as error:
        return row | {"problem": error.what}
    words = _fish(path, exif, default_unit)
    nothing = exif.clock is None and exif.gps_time is None and np.isnan(exif.longitude)
    return row | {
        "camera": exif.camera or "a camera that gives no name",
        "clock_utc": _moment(exif, zone),
        "zoned": exif.offset is not None,
        "gps_time": exif.gps_time or pd.NaT,
        "longitude": exif.longitude,
        "latitude": exif.latitude,
        "problem": "its EXIF says neither a time nor a place" if nothing else "",
        **({} if words is None else {**words, "fish": True}),
    }


def _moment(exif: Exif, zone: ZoneInfo) -> Any:
    if exif.clock is None:
        return pd.NaT
    if exif.offset is not None:
        return pd.Timestamp(exif.clock - exif.offset, tz="UTC")
    return pd.Timestamp(exif.clock.replace(tzinfo=zone)).tz_convert("UTC")


def _fish(path: Path, exif: Exif, default_unit: str) -> dict[str, Any] | None:
    """Tell the fish that words about a photo speak of: its name, words inside, its folder."""
    name = " ".join(re.sub(r"[_.]", " ", _GIVEN_BY_CAMERA.sub(" ", path.stem)).split())
    folder = path.absolute().parent.name
    texts = [name, *exif.words]
    if only_fish_words(folder):
        texts += [f"{folder} {words}" for words in (*exif.words, name)]
    for words in texts:
        fish = fish_in_words(words, default_unit=default_unit)
        if fish is not None:
            return fish
    return None
