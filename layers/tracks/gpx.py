"""Read GPX 1.0 and 1.1 as a stream: tracks and waypoints.

The C parser of the standard library (expat) is driven directly, which is several times quicker than
building a tree, and holds one piece of the file at a time.  It refuses what ``defusedxml`` refuses,
by the same three hooks: declared entities ("billion laughs"), unparsed entities, and anything
outside the file.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, NoReturn
from xml.parsers import expat

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.tracks.table import FileFixes, to_utc
from seabed.errors import TrackError
from seabed.units import LENGTH

__all__ = ["WAYPOINT_COLUMNS", "read_gpx_fixes", "read_gpx_waypoints"]

WAYPOINT_COLUMNS: Final = (
    "time",
    "name",
    "sym",
    "desc",
    "cmt",
    "type",
    "longitude",
    "latitude",
    "file",
)
"""Columns of a table of waypoints: GPX's own names; texts are ``""`` where absent."""

_CHUNK: Final = 1 << 18
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
_WAYPOINT_TEXTS: Final = frozenset({"time", "name", "sym", "desc", "cmt", "type"})
_DEPTH_WORD: Final = re.compile(r"(?:water|bottom|sounder|sea)?(?:depth|sounding)(m|ft|feet|fm)?")
_WARMTH_WORD: Final = re.compile(r"(?:w|water|sea|surface)*temp(?:erature)?(c|f)?")


def read_gpx_fixes(path: str | Path, *, salvage: bool = False) -> FileFixes:
    """Read the track points of one GPX file.

    Any element of a point's extensions whose name is a depth (``depth``, ``WaterDepth``,
    ``depth_ft``, ...) or a water temperature (``wtemp``, ``temp``, ``water_temperature``, ...) in
    whatever namespace is taken; ``atemp`` is air and is not.  They are metres and degrees Celsius
    unless the name, or a ``unit`` attribute, says otherwise.  Route points are plans, not fixes.

    Parameters
    ----------
    path : str or Path
    salvage : bool
        Of a file that is cut off or damaged, keep what comes before the damage, and of a time that
        can't be read the point without it; with a note.

    Returns
    -------
    FileFixes
        Positions are NaN where the file says NaN; times NaT where a point has none.

    Raises
    ------
    TrackError
        If the file is missing, not XML, not GPX, damaged (saying the line), or has no track
        point.
    """
    collector = _Fixes(str(path), batch=_BATCH, salvage=salvage)
    notes: list[str] = []
    try:
        _parse(path, collector)
        collector.flush()
    except _UnreadableTimeError:
        # Rare: read again a point at a time, so that the error can say the line.
        _parse(path, _Fixes(str(path), batch=1, salvage=False))
        raise
    except TrackError as error:
        if not (salvage and collector.longitude):
            raise
        place = f"{path}, {error.where}" if error.where else str(path)
        notes.append(
            f"{place}: {error.what}; {len(collector.longitude)} points before it were kept"
        )
        collector.flush()
    if collector.unreadable:
        notes.append(f"{path}: {collector.unreadable} times that can't be read were left out")
    if not collector.longitude:
        raise TrackError(
            "there are no track points in it" + collector.other_content(),
            file=path,
            do="Export the track itself from the plotter or phone.",
        )
    return collector.found(notes)


def read_gpx_waypoints(path: str | Path) -> pd.DataFrame:
    """Read the waypoints of one GPX file.

    Returns
    -------
    DataFrame
        `WAYPOINT_COLUMNS`; no rows if the file has no waypoints.

    Raises
    ------
    TrackError
        As `read_gpx_fixes`, and where a waypoint has no position.
    """
    collector = _Waypoints()
    _parse(path, collector)
    table = pd.DataFrame(collector.rows, columns=list(WAYPOINT_COLUMNS))
    stamps, unreadable = to_utc(table["time"].tolist())
    if unreadable:
        row = int(np.flatnonzero(np.isnat(stamps) & (table["time"] != "").to_numpy())[0])
        raise TrackError(
            f"the waypoint {table['name'][row]!r} has a time that can't be read: "
            f"{table['time'][row]!r}",
            file=path,
            do="Write it like 2031-06-14T09:30:00Z.",
        )
    table["time"] = pd.DatetimeIndex(stamps).tz_localize("UTC")
    table["file"] = str(path)
    return table.astype({"longitude": "float64", "latitude": "float64"})


class _UnreadableTimeError(TrackError):
    """A time that can't be read, somewhere in the last batch."""


class _Fixes:
    """Gathers track points.  Its methods are the parser's callbacks, so they do little."""

    def __init__(self, file: str, *, batch: int, salvage: bool) -> None:
        self.file, self.batch, self.salvage = file, batch, salvage
        self.unreadable = 0
        self.longitude, self.latitude = array("d"), array("d")
        self.depth: dict[int, float] = {}
        self.warmth: dict[int, float] = {}
        self.stamps: list[NDArray[np.datetime64]] = []
        self.times: list[str] = []
        self.segments: list[tuple[int, int, int]] = []
        self.track, self.segment = -1, -1
        self.waypoints, self.route_points = 0, 0

    def attach(self, parser: Any) -> tuple[Callable[..., None], Callable[..., None]]:
        """Give the start and end callbacks."""
        roles: dict[str, int] = {}
        times, longitude, latitude = self.times, self.longitude, self.latitude
        inside = _OTHER
        words: list[str] = []
        factor = 1.0
        batch = self.batch

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
                    raise _no_position(self.file, parser, "track point", attributes) from None
                longitude.append(x)
                latitude.append(y)
                times.append("")
            elif role != _OTHER:
                if inside and role in (_DEPTH, _WARMTH):
                    words.clear()
                    factor = _factor(name, attributes)
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
                if len(times) >= batch:
                    self.flush(f"line {parser.CurrentLineNumber}")
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

    def flush(self, where: str | None = None) -> None:
        """Turn the texts of times gathered so far into moments."""
        stamps, unreadable = to_utc([text.strip() for text in self.times])
        if self.salvage:
            self.unreadable += unreadable
        elif unreadable and self.batch > 1:
            raise _UnreadableTimeError("a time can't be read", file=self.file)
        elif unreadable:
            raise TrackError(
                f"can't read the time {self.times[0].strip()!r}",
                file=self.file,
                where=where,
                do="GPX times are like 2031-06-14T09:30:00Z; mend or delete that point.",
            )
        self.times.clear()
        self.stamps.append(stamps)

    def other_content(self) -> str:
        """Say what there is instead of tracks."""
        found = [
            f"{count} {what if count > 1 else what[:-1]}"
            for count, what in (
                (self.waypoints, "waypoints"),
                (self.route_points, "route points"),
            )
            if count
        ]
        return f", only {' and '.join(found)}" if found else ""

    def found(self, notes: list[str]) -> FileFixes:
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


class _Waypoints:
    """Gathers waypoints."""

    file = ""

    def __init__(self) -> None:
        self.rows: list[dict[str, Any]] = []

    def attach(self, parser: Any) -> tuple[Callable[..., None], Callable[..., None]]:
        """Give the start and end callbacks."""
        row: dict[str, Any] | None = None
        words: list[str] = []
        depth = 0

        def start(name: str, attributes: dict[str, str]) -> None:
            nonlocal row, depth
            local = name.rpartition(":")[2]
            if row is not None:
                depth += 1
                if depth == 1 and local in _WAYPOINT_TEXTS:
                    words.clear()
                    parser.CharacterDataHandler = words.append
            elif local == "wpt":
                row = dict.fromkeys(WAYPOINT_COLUMNS, "")
                try:
                    row["longitude"] = float(attributes["lon"])
                    row["latitude"] = float(attributes["lat"])
                except (KeyError, ValueError):
                    raise _no_position(self.file, parser, "waypoint", attributes) from None
                depth = 0

        def end(name: str) -> None:
            nonlocal row, depth
            if row is None:
                return
            local = name.rpartition(":")[2]
            if depth == 1 and local in _WAYPOINT_TEXTS:
                parser.CharacterDataHandler = None
                row[local] = "".join(words).strip()
            if depth == 0:
                self.rows.append(row)
                row = None
            depth -= 1

        return start, end


def _parse(path: str | Path, collector: _Fixes | _Waypoints) -> None:
    collector.file = str(path)
    parser = _parser(path)
    start, end = collector.attach(parser)

    def first(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(":")[2] != "gpx":
            raise TrackError(
                f"it is XML, but not GPX: its first element is <{name}>",
                file=path,
                do="Export the track as GPX.",
            )
        parser.StartElementHandler = start
        parser.EndElementHandler = end
        start(name, attributes)

    parser.StartElementHandler = first
    try:
        with Path(path).open("rb") as stream:
            while chunk := stream.read(_CHUNK):
                parser.Parse(chunk, False)
        parser.Parse(b"", True)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise TrackError(f"can't read it: {reason}", file=path, do="Check the name.") from error
    except expat.ExpatError as error:
        raise _damage(path, error, started=parser.StartElementHandler is start) from error
    except (ValueError, LookupError) as error:  # an encoding the parser doesn't know
        raise TrackError(f"can't read its text: {error}", file=path) from error


def _parser(path: str | Path) -> Any:
    parser = expat.ParserCreate()
    parser.buffer_text = True

    def refuse(*_: object) -> NoReturn:
        raise TrackError(
            "it declares entities or points outside itself, which no GPX needs and which can hang "
            "or spy on a program; it was not read",
            file=path,
            where=f"line {parser.CurrentLineNumber}",
            do="Ask where the file came from; export the track again.",
        )

    parser.EntityDeclHandler = refuse
    parser.UnparsedEntityDeclHandler = refuse
    parser.ExternalEntityRefHandler = refuse
    return parser


def _damage(path: str | Path, error: expat.ExpatError, *, started: bool) -> TrackError:
    where = f"line {error.lineno}"
    ended = error.code in _ENDED_EARLY
    if not started:
        empty = ended and Path(path).stat().st_size == 0
        return TrackError(
            "the file is empty" if empty else "this is not GPX (it is not XML)",
            file=path,
            where=None if empty else where,
            do="Export the track as GPX.",
        )
    return TrackError(
        "the file breaks off in the middle"
        if ended
        else f"the XML is damaged ({expat.ErrorString(error.code)})",
        file=path,
        where=where,
        do="Export it again, or keep what comes before the damage (salvage).",
    )


_ENDED_EARLY: Final = frozenset(
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
)


def _no_position(file: str, parser: Any, what: str, attributes: dict[str, str]) -> TrackError:
    said = ", ".join(f'{key}="{value}"' for key, value in attributes.items()) or "nothing"
    return TrackError(
        f"a {what} has no lat and lon that are numbers (it has {said})",
        file=file,
        where=f"line {parser.CurrentLineNumber}",
        do="Mend or delete that point.",
    )


def _role(name: str) -> int:
    local = name.rpartition(":")[2]
    if local in _ROLES:
        return _ROLES[local]
    word = re.sub(r"[^a-z]", "", local.lower())
    if _DEPTH_WORD.fullmatch(word):
        return _DEPTH
    return _WARMTH if _WARMTH_WORD.fullmatch(word) else _OTHER


def _factor(name: str, attributes: dict[str, str]) -> float:
    """Metres in one unit of a depth; 1 for Celsius and anything else for Fahrenheit."""
    unit = next((v for k, v in attributes.items() if k.lower() in ("unit", "units", "uom")), "")
    word = re.sub(r"[^a-z]", "", name.rpartition(":")[2].lower())
    depth = _DEPTH_WORD.fullmatch(word)
    if depth:
        said = (unit or depth.group(1) or "m").lower().replace("feet", "ft")
        return LENGTH.get(said, 1.0)
    warmth = _WARMTH_WORD.fullmatch(word)
    said = (unit or (warmth.group(1) if warmth else "") or "c").lower().lstrip("°")
    return 0.0 if said.startswith("f") else 1.0


def _filled(count: int, readings: dict[int, float]) -> NDArray[np.float64]:
    values = np.full(count, _NAN)
    values[list(readings.keys())] = list(readings.values())
    return values
