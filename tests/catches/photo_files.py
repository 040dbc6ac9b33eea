"""Photos made for tests: EXIF written by Pillow, the picture a grey square."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from PIL import Image


def rationals(value: float) -> tuple[Fraction, Fraction, Fraction]:
    """Degrees, minutes and seconds to a hundredth of a second's hundredth."""
    seconds = round(abs(value) * 3600 * 10_000)
    degrees, rest = divmod(seconds, 3600 * 10_000)
    minutes, seconds = divmod(rest, 60 * 10_000)
    return Fraction(degrees), Fraction(minutes), Fraction(seconds, 10_000)


def write_photo(
    path: Path,
    clock: str | None = "2031:06:14 10:05:30",
    *,
    offset: str | None = None,
    place: tuple[float, float] | None = None,
    gps_time: tuple[str, tuple[int, int, int]] | None = None,
    camera: tuple[str, str] = ("Maker", "One"),
    description: str | None = None,
    comment: bytes | None = None,
) -> Path:
    """Write a JPEG; `place` is longitude, latitude."""
    tags = Image.Exif()
    tags[0x010F], tags[0x0110] = camera
    if description is not None:
        tags[0x010E] = description
    shot = tags.get_ifd(0x8769)
    if clock is not None:
        shot[0x9003] = clock
    if offset is not None:
        shot[0x9011] = offset
    if comment is not None:
        shot[0x9286] = comment
    gps = tags.get_ifd(0x8825)
    if place is not None:
        gps[1], gps[2] = "N" if place[1] >= 0 else "S", rationals(place[1])
        gps[3], gps[4] = "E" if place[0] >= 0 else "W", rationals(place[0])
    if gps_time is not None:
        gps[29], gps[7] = gps_time[0], tuple(Fraction(part) for part in gps_time[1])
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.new("L", (8, 8), 128).save(path, "JPEG", exif=tags)
    return path
