"""Read the tracks of GPX 1.0 and 1.1 as a stream."""

from __future__ import annotations

import functools
import math
import re
from array import array
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.errors import TrackError, UnitError
from seabed.logs.fixes import FileFixes, to_utc
from seabed.logs.gpx_stream import StartAndEnd, no_position, parse_gpx
from seabed.units import parse_length

_BATCH: Final = 1 << 16
_NAN: Final = float("nan")

# What an element is to us.
_OTHER, _POINT, _TIME, _EXTENSIONS, _DEPTH, _WARMTH, _SEGMENT, _TRACK, _WAYPOINT, _ROUTE = range(10)

_ROLES: Final = {
    "trkpt": _POINT,
    "time": _TIME,
    "extensions": _EXTENSIONS,
    "trkseg": _SEGMENT,
    "trk": _TRACK,
    "wpt": _WAYPOINT,
    "rtept": _ROUTE,
}
_DEPTH_WORD: Final = re.compile(r"(?:water|bottom|sounder|sea)?(?:depth|sounding)(m|ft|feet|fm)?")
_WARMTH_WORD: Final = re.compile(r"(?:w|water|sea|surface)*temp(?:erature)?(c|f)?")


def read_gpx_fixes(path: str | Path, *, salvage: bool = False) -> FileFixes:
    """Read the track points of one GPX file.

    Depth and water temperature are read from the extension fields of a device, in any namespace, by
    the field's name: words for depth or water temperature, perhaps with a unit (``depth_ft``).  The
    temperature of the air is not read.  They are metres and degrees Celsius unless the name, or a
    ``unit`` attribute, says otherwise; a depth in an unknown unit is left out, with a note.  Route
    points are plans, not fixes.

    salvage: of a file that is cut off or damaged, keep what comes before the damage, and of a time
        that can't be read the point without it; with a note.
    Returned: positions are NaN where the file says NaN; times NaT where a point has none.
    """
    collector = _Fixes(str(path), salvage=salvage)
    notes: list[str] = []
    try:
        parse_gpx(path, collector)
        collector.flush()
    except TrackError as error:
        if not (salvage and collector.longitude):
            raise
        place = f"{path}, {error.where}" if error.where else str(path)
        notes.append(
            f"{place}: {error.what}; {len(collector.longitude)} points before it were kept"
        )
        collector.flush()
    notes += [
        f"{path}: {count} depths in {unit!r}, a unit that is not known, were left out"
        for unit, count in collector.unknown_units.items()
    ]
    if collector.unreadable:
        notes.append(f"{path}: {collector.unreadable} times that can't be read were left out")
    if not collector.longitude:
        raise TrackError(
            "there are no track points in it" + collector.other_content(),
            file=path,
            do="Export the track itself from the plotter or phone.",
        )
    return collector.fixes(notes)


class _Fixes:
    """Gathers track points.  Its methods are the parser's callbacks, so they do little."""

    def __init__(self, file: str, *, salvage: bool) -> None:
        self.file, self.salvage = file, salvage
        self.unreadable = 0
        self.unknown_units: dict[str, int] = {}
        self.longitude, self.latitude = array("d"), array("d")
        self.depth: dict[int, float] = {}
        self.warmth: dict[int, float] = {}
        self.stamps: list[NDArray[np.datetime64]] = []
        self.times: list[str] = []
        self.lines: list[int] = []
        self.segments: list[tuple[int, int, int]] = []
        self.track, self.segment = -1, -1
        self.waypoints, self.route_points = 0, 0

    def attach(self, parser: Any) -> StartAndEnd:
        """Give the start and end callbacks."""
        roles: dict[str, int] = {}
        times, lines, longitude, latitude = self.times, self.lines, self.longitude, self.latitude
        inside = _OTHER
        words: list[str] = []
        factor = 1.0

        def time_text(text: str) -> None:
            times[-1] += text

        def start(name: str, attributes: dict[str, str]) -> None:
            nonlocal inside, factor
            role = roles.get(name)
            if role is None:
                role = roles[name] = _role(name)
            if role == _TIME:
                if inside == _POINT:
                    parser.CharacterDataHandler = time_text
            elif role == _POINT:
                inside = _POINT
                try:
                    x, y = float(attributes["lon"]), float(attributes["lat"])
                except (KeyError, ValueError):
                    raise no_position(self.file, parser, "track point", attributes) from None
                longitude.append(x)
                latitude.append(y)
                times.append("")
            elif role != _OTHER:
                if inside and role in (_DEPTH, _WARMTH):
                    words.clear()
                    factor = self.factor_of(name, attributes)
                    parser.CharacterDataHandler = words.append
                elif inside and role == _EXTENSIONS:
                    inside = _EXTENSIONS
                elif not inside:
                    self.note_outer(role)

        def end(name: str) -> None:
            nonlocal inside
            role = roles[name]
            if role == _TIME:
                parser.CharacterDataHandler = None
            elif role == _POINT:
                inside = _OTHER
                lines.append(parser.CurrentLineNumber)
                if len(times) >= _BATCH:
                    self.flush()
            elif role == _EXTENSIONS and inside:
                inside = _POINT
            elif inside and role in (_DEPTH, _WARMTH):
                parser.CharacterDataHandler = None
                self.keep_reading(role, "".join(words), factor)

        return start, end

    def note_outer(self, role: int) -> None:
        """Count tracks, segments and other content."""
        if role == _TRACK:
            self.track, self.segment = self.track + 1, -1
        elif role == _SEGMENT:
            self.segment += 1
            self.segments.append((len(self.longitude), self.track, self.segment))
        elif role == _WAYPOINT:
            self.waypoints += 1
        elif role == _ROUTE:
            self.route_points += 1

    def factor_of(self, name: str, attributes: dict[str, str]) -> float:
        """Give the factor of a reading's unit; count a unit that is not known."""
        unit = next((v for k, v in attributes.items() if k.lower() in ("unit", "units", "uom")), "")
        factor = _factor(name, unit)
        if math.isnan(factor):
            self.unknown_units[unit] = self.unknown_units.get(unit, 0) + 1
        return factor

    def keep_reading(self, role: int, text: str, factor: float) -> None:
        """Keep a depth or temperature; one that is no number counts as not logged."""
        try:
            value = float(text)
        except ValueError:
            return
        at = len(self.longitude) - 1
        if role == _DEPTH:
            self.depth[at] = value * factor
        else:
            self.warmth[at] = value if factor == 1.0 else (value - 32.0) / 1.8

    def flush(self) -> None:
        """Turn the texts of times gathered so far into moments."""
        texts = [text.strip() for text in self.times]
        stamps, unreadable = to_utc(texts)
        if self.salvage:
            self.unreadable += unreadable
        elif unreadable:
            at = next(at for at in np.flatnonzero(np.isnat(stamps)) if texts[at])
            raise TrackError(
                f"can't read the time {texts[at]!r}",
                file=self.file,
                where=f"line {self.lines[at]}",
                do="GPX times are like 2031-06-14T09:30:00Z; correct or delete that point.",
            )
        self.times.clear()
        self.lines.clear()
        self.stamps.append(stamps)

    def other_content(self) -> str:
        """Say what there is instead of tracks."""
        points = (self.waypoints, "waypoint"), (self.route_points, "route point")
        others = [f"{count} {what}{'s' * (count > 1)}" for count, what in points if count]
        return f", only {' and '.join(others)}" if others else ""

    def fixes(self, notes: list[str]) -> FileFixes:
        """Everything gathered, as arrays."""
        count = len(self.longitude)
        if count and (not self.segments or self.segments[0][0] > 0):
            self.segments.insert(0, (0, 0, 0))  # points outside any segment
        starts = np.array([first for first, _, _ in self.segments] + [count])
        lengths = np.diff(starts)
        return FileFixes(
            file=self.file,
            time=np.concatenate(self.stamps)[:count],
            longitude=np.frombuffer(self.longitude),
            latitude=np.frombuffer(self.latitude),
            depth_m=_filled(count, self.depth),
            temperature_c=_filled(count, self.warmth),
            track=np.repeat(np.array([t for _, t, _ in self.segments], np.int32), lengths),
            segment=np.repeat(np.array([s for _, _, s in self.segments], np.int32), lengths),
            notes=notes,
        )


def _role(name: str) -> int:
    local = name.rpartition(":")[2]
    if local in _ROLES:
        return _ROLES[local]
    word = re.sub(r"[^a-z]", "", local.lower())
    if _DEPTH_WORD.fullmatch(word):
        return _DEPTH
    return _WARMTH if _WARMTH_WORD.fullmatch(word) else _OTHER


@functools.lru_cache(maxsize=256)
def _factor(name: str, unit: str) -> float:
    """Metres in one unit of a depth, NaN if not known; 1 for Celsius and anything else for not."""
    word = re.sub(r"[^a-z]", "", name.rpartition(":")[2].lower())
    depth = _DEPTH_WORD.fullmatch(word)
    if depth:
        try:
            return parse_length("1", default=unit.strip() or depth.group(1) or "m")
        except UnitError:
            return _NAN
    warmth = _WARMTH_WORD.fullmatch(word)
    unit_word = (unit or (warmth.group(1) if warmth else "") or "c").lower().lstrip("°")
    return 0.0 if unit_word.startswith("f") else 1.0


def _filled(count: int, readings: dict[int, float]) -> Floats:
    values = np.full(count, _NAN)
    values[list(readings.keys())] = list(readings.values())
    return values
