"""Keys of the area file: how each value is read, and what it is when left out."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, Final

from seabed.errors import UnitError
from seabed.tables.headings import CATCH_MEANINGS, read_heading
from seabed.tables.zones import named_zone
from seabed.units import (
    LENGTH,
    SPEED,
    parse_depths,
    parse_length,
    parse_range,
    parse_speed,
    parse_weight,
)

LONGEST_NAME: Final = 255
"""Bytes of a name of a file or folder on the systems in use.  Common practice, no source."""

Reader = Callable[[Any, Path], Any]
"""From a TOML value, and the folder that paths start from, to the value in SI.

Raises ``ValueError`` or ``UnitError`` that says what would be right.
"""

_DURATIONS: Final = {"s": 1.0, "min": 60.0, "h": 3600.0}


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the area file; name, default and example as written there.

    default: None is a key left out.
    doc: one line about it; other keys are in braces.
    example: of keys that are empty or left out by default.
    older: its name in older files, ``""`` for none.
    """

    name: str
    default: Any
    read: Reader
    doc: str
    example: str = ""
    older: str = ""

    def default_value(self) -> Any:
        """Read the default."""
        return None if self.default is None else self.read(self.default, Path())


def key(default: Any, read: Reader, doc: str, *, example: str = "", older: str = "") -> Any:
    """Make a dataclass field of a key, whose name is the field's without its unit."""
    spec = Key("", default, read, doc, example, older)
    return field(default_factory=spec.default_value, metadata={"key": spec})


def length_key(default: str | None, doc: str, *, like: str = "", **bounds: Any) -> Any:
    """Make a field of a length, written `like` its default; bounds as `length`."""
    like = like or default or ""
    return key(default, length(like, **bounds), doc, example=f'"{like}"')


def speed_key(default: str | None, doc: str, *, like: str = "", **bounds: Any) -> Any:
    """Make a field of a speed, written `like` its default; bounds as `speed`."""
    like = like or default or ""
    return key(default, speed(like, **bounds), doc, example=f'"{like}"')


def text(value: Any, _: Path) -> str:
    """Read any text."""
    if not isinstance(value, str):
        raise ValueError("Write text.")
    return value.strip()


@dataclass(frozen=True, slots=True)
class Choice:
    """Reads one of a few words."""

    words: tuple[str, ...]

    def __call__(self, value: Any, _: Path) -> str:
        """Give the word."""
        if value not in self.words:
            raise ValueError(f"Write one of {', '.join(filter(None, self.words))}.")
        return str(value)


def choice(*words: str) -> Choice:
    """Read one of a few words."""
    return Choice(words)


def timezone(value: Any, _: Path) -> str:
    """Read the name of a time zone."""
    try:
        if not value or not isinstance(value, str):
            raise ValueError
        named_zone(value)
    except (ValueError, LookupError) as error:
        raise ValueError(
            "Write a zone's name, a continent and a city: Atlantic/Azores, Europe/Lisbon."
        ) from error
    return value


def number(least: float, greatest: float = float("inf")) -> Reader:
    """Read a plain number between two bounds."""

    def read(value: Any, _: Path) -> float:
        good = isinstance(value, int | float) and not isinstance(value, bool)
        if not (good and least <= value <= greatest):
            top = "" if greatest == float("inf") else f" and at most {greatest:g}"
            raise ValueError(f"Write a number, at least {least:g}{top}.")
        return float(value)

    return read


def or_auto(read: Reader) -> Reader:
    """Read ``"auto"`` as None, and all else as `read` does."""

    def read_or_auto(value: Any, base: Path) -> Any:
        if value == "auto":
            return None
        try:
            return read(value, base)
        except UnitError:
            raise
        except ValueError as error:
            raise ValueError(f"{error} Or write auto.") from error

    return read_or_auto


def count(least: int, greatest: int) -> Reader:
    """Read a whole number between two bounds."""

    def read(value: Any, _: Path) -> int:
        good = isinstance(value, int) and not isinstance(value, bool)
        if not (good and least <= value <= greatest):
            raise ValueError(f"Write a whole number from {least} to {greatest}.")
        return int(value)

    return read


def degrees(value: Any, _: Path) -> float:
    """Read a direction."""
    good = isinstance(value, int | float) and not isinstance(value, bool)
    if not (good and 0 <= value <= 360):
        raise ValueError("Write degrees true from 0 to 360: SW is 225.")
    return float(value) % 360.0


def length(like: str, *, least_m: float = 0.0, above: bool = False) -> Reader:
    """Read a length with its unit; `above` leaves out `least_m` itself."""

    def read(value: Any, _: Path) -> float:
        metres = _quantity(parse_length, value, LENGTH, like)
        if metres < least_m or (above and metres == least_m):
            word = "more than" if above else "at least"
            raise ValueError(f"Write {word} {least_m:g} m, like {like!r}.")
        return metres

    return read


def speed(like: str, *, most: str = "", above: bool = False) -> Reader:
    """Read a speed with its unit, 0 or more and no more than `most`; `above` leaves out 0."""
    most_mps = parse_speed(most) if most else float("inf")

    def read(value: Any, _: Path) -> float:
        mps = _quantity(parse_speed, value, SPEED, like)
        if mps < 0 or mps > most_mps or (above and mps == 0):
            least = "more than 0" if above else "0 or more"
            raise ValueError(
                f"Write {least}{f' and no more than {most}' if most else ''}, like {like!r}."
            )
        return mps

    return read


def weights(value: Any, _: Path) -> tuple[float, ...]:
    """Read leads, ``["1 oz", "1.5 oz", "60 g"]``, as rising kilograms."""
    if not isinstance(value, list) or not value or not all(isinstance(one, str) for one in value):
        raise ValueError("Write leads with their units, like 1 oz, 60 g.")
    kilograms = sorted(parse_weight(one) for one in value)
    if not 0.002 <= kilograms[0] <= kilograms[-1] <= 2.0:
        raise ValueError("Write leads of 2 g to 2 kg.")
    return tuple(kilograms)


def readings(value: Any, _: Path) -> tuple[tuple[float, float], ...]:
    """Read what a motor draws at a speed, ``["1 kn 8 A", "2 kn 40 A"]``: m/s and amperes."""
    wrong = ValueError("Write one or two speeds with their current: 1 kn 8 A, 2 kn 40 A.")
    if not isinstance(value, list) or len(value) > 2:
        raise wrong
    pairs = []
    for one in value:
        match = re.fullmatch(r"\s*(.+?)[\s,:]+(\d+(?:\.\d+)?)\s*A\s*", str(one))
        if match is None or not float(match[2]) > 0 or not parse_speed(match[1]) > 0:
            raise wrong
        pairs.append((parse_speed(match[1]), float(match[2])))
    return tuple(pairs)


def pressure(value: Any, _: Path) -> float:
    """Read a pressure of the air, ``"998 hPa"``, ``"998 mbar"`` or 998, as hectopascals."""
    wrong = ValueError("Write hectopascals from 900 to 1080, like 998 hPa.")
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:hpa|mbar|mb)?\s*", str(value).lower())
    if match is None or isinstance(value, bool) or not 900.0 <= float(match[1]) <= 1080.0:
        raise wrong
    return float(match[1])


def speed_range(value: Any, _: Path) -> tuple[float, float]:
    """Read two speeds, ``"0.1-2.5 kn"``, lesser first."""
    wrong = ValueError("Write two rising speeds and a unit, like '0.1-2.5 kn'.")
    words = str(value).replace("–", "-").split("-")
    if not isinstance(value, str) or len(words) != 2 or not all(words):
        raise wrong
    unit = words[1].strip().lstrip("0123456789.,").strip()
    low, high = (parse_speed(word, default=unit) for word in words)
    if not 0 <= low < high:
        raise wrong
    return low, high


def duration(value: Any, _: Path) -> float:
    """Read a length of time, ``"90 s"``, ``"2 min"``, ``"4 h"``, as seconds."""
    words = str(value).split()
    try:
        if not isinstance(value, str) or len(words) != 2:
            raise ValueError
        seconds = float(words[0]) * _DURATIONS[words[1]]
        if not 0 < seconds < float("inf"):
            raise ValueError
    except (ValueError, KeyError) as error:
        raise ValueError("Write a time above 0 like '90 s', '2 min' or '4 h'.") from error
    return seconds


def duration_or_never(like: str, least_s: float, greatest_s: float) -> Reader:
    """Read a length of time between two bounds; ``"never"`` is infinity."""

    def read(value: Any, base: Path) -> float:
        if value == "never":
            return float("inf")
        bounds = f"{least_s / 60:g} to {greatest_s / 60:g} min"
        wrong = ValueError(f"Write a time from {bounds} like {like!r}, or never.")
        try:
            seconds = duration(value, base)
        except ValueError as error:
            raise wrong from error
        if not least_s <= seconds <= greatest_s:
            raise wrong
        return seconds

    return read


def duration_up_to(most_s: float) -> Reader:
    """Read a length of time, at most so many seconds."""

    def read(value: Any, folder: Path) -> float:
        seconds = duration(value, folder)
        if seconds > most_s:
            raise ValueError(f"Write at most '{most_s / 60:g} min'.")
        return seconds

    return read


def depth_band(value: Any, _: Path) -> tuple[float, float] | None:
    """Read a band of depth, ``"6-9 m"``, as metres; ``""`` is none."""
    if value == "":
        return None
    if not isinstance(value, str):
        raise ValueError("Write two depths and a unit, like '6-9 m'.")
    return parse_range(value)


def depth_list(value: Any, _: Path) -> tuple[float, ...]:
    """Read depths, ``"4:16:2 m"`` or ``"10,15,20 ft"``, as rising metres."""
    listed = isinstance(value, list) and all(isinstance(word, str) for word in value)
    if not (isinstance(value, str) or listed):
        raise ValueError("Write depths and a unit, like '4:16:2 m'.")
    return tuple(parse_depths(value))


def file(value: Any, base: Path) -> Path | None:
    """Read a file name, from the folder of the area file; ``""`` is none."""
    if not isinstance(value, str):
        raise ValueError("Write a file's name, with / between folders.")
    return _under(base, value) if value else None


def _under(base: Path, name: str) -> Path:
    if "\0" in name or any(len(part.encode()) > LONGEST_NAME for part in Path(name).parts):
        raise ValueError(f"Write a file's name, of at most {LONGEST_NAME} bytes.")
    return base / name


def files(value: Any, base: Path) -> tuple[Path | str, ...]:
    """Read file names, from the folder of the area file; a web address stays as it is."""
    listed = [value] if isinstance(value, str) else value
    if not isinstance(listed, list) or not all(isinstance(name, str) for name in listed):
        raise ValueError("Write files' names, like sound.tif.")
    return tuple(
        name if name.startswith(("http://", "https://")) else _under(base, name) for name in listed
    )


def headings(value: Any, _: Path) -> dict[str, str]:
    """Read what headings mean, ``["Fang: species"]``, by heading in plain letters."""
    wrong = ValueError(f"Write each as heading: meaning; meanings: {', '.join(CATCH_MEANINGS)}.")
    if not isinstance(value, list):
        raise wrong
    meanings: dict[str, str] = {}
    for word in value:
        heading, _colon, meaning = str(word).rpartition(":")
        if not heading.strip() or meaning.strip() not in CATCH_MEANINGS:
            raise wrong
        meanings[read_heading(heading).name] = meaning.strip()
    return meanings


MARK_KINDS: Final = ("drift start", "drift end", "edge", "hump", "hole")
"""Kinds of marks for the plotter."""


def symbols(value: Any, _: Path) -> dict[str, str]:
    """Read what a plotter calls symbols, ``["drift start: green dot"]``, by kind of mark."""
    wrong = ValueError(f"Write each as kind: symbol; kinds: {', '.join(MARK_KINDS)}.")
    if not isinstance(value, list):
        raise wrong
    named = dict[str, str]()
    for word in value:
        kind, _colon, symbol = (part.strip() for part in str(word).partition(":"))
        if kind not in MARK_KINDS or not symbol:
            raise wrong
        named[kind] = symbol
    return named


def local_files(value: Any, base: Path) -> tuple[Path, ...]:
    """Read names of files on this machine, from the folder of the area file."""
    named = files(value, base)
    if any(isinstance(name, str) for name in named):
        raise ValueError("Download it first, and write the file's name.")
    return tuple(Path(name) for name in named)


def day(value: Any, _: Path) -> date:
    """Read a date."""
    if type(value) is date:
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError) as error:
        raise ValueError("Write a date like 2031-05-01.") from error


def _quantity(parse: Callable[..., float], value: Any, units: dict[str, float], like: str) -> float:
    if isinstance(value, bool) or not isinstance(value, str):
        raise ValueError(f"Write a number and its unit, like {like!r}.")
    try:
        return parse(value)
    except UnitError as error:
        raise ValueError(
            f"Write a number and its unit, like {like!r}; units: {', '.join(units)}."
        ) from error
