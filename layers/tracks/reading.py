"""Read tracks and waypoints of several files."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.tracks.table import FIXES, fix_table
from seabed.array_types import Mask
from seabed.errors import TrackError
from seabed.logs.delimited import read_delimited_fixes
from seabed.logs.fixes import FileFixes, log_kind, to_utc
from seabed.logs.gpx import read_gpx_fixes
from seabed.logs.gpx_stream import StartAndEnd, no_position, parse_gpx
from seabed.logs.nmea import read_nmea_fixes
from seabed.schema import Table, documented

Paths = str | Path | Iterable[str | Path]

WAYPOINTS: Final = Table.of(
    "waypoints",
    "layers.tracks.reading.read_waypoints",
    """
    time [time empty] UTC; NaT where absent
    name, sym, desc, cmt, type [text empty] GPX's own; ``""`` where absent
    longitude, latitude degrees, WGS 84
    file [text] the path it was read from
    """,
)

FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2200
"""A year outside these is a slip of the pen; nanoseconds can't hold most of them."""

_WAYPOINT_TEXTS: Final = frozenset({"time", "name", "sym", "desc", "cmt", "type"})


@documented(FIXES)
def read_fixes(
    paths: Paths, *, salvage: bool = False, timezone: str = "UTC", date_order: str = ""
) -> pd.DataFrame:
    """Read the fixes of one or several track files, in the order given.

    The content decides: GPX, a log of NMEA 0183 sentences, or delimited text.

    Parameters
    ----------
    paths : path or iterable of paths
    salvage : bool
        Of a damaged GPX file keep what comes before the damage, with a note in ``attrs["notes"]``.
    timezone : str
        Zone of times in delimited text that don't say theirs.
    date_order : str
        ``"dmy"`` or ``"mdy"``, of dates in delimited text that can be read two ways.

    Returns
    -------
    DataFrame
        A row a fix, as the files have them: not sorted, not cleaned; times may be NaT and positions
        NaN.

        {fixes}

    Raises
    ------
    TrackError
        If a file can't be read, or has no fix.

    Examples
    --------
    >>> fixes = read_fixes("trip_1.gpx")
    >>> len(fixes), fixes["time"].iloc[0].isoformat()
    (5033, '2031-06-07T...')
    """
    return fix_table([_read(path, salvage, timezone, date_order) for path in _each(paths)])


def read_waypoints(paths: Paths, *, salvage: bool = False) -> pd.DataFrame:
    """Read the waypoints of one or several GPX files, in the order given, as `WAYPOINTS`."""
    tables = [read_gpx_waypoints(path, salvage=salvage) for path in _each(paths)]
    filled = [table for table in tables if len(table)] or tables[:1]
    return pd.concat(filled, ignore_index=True) if filled else WAYPOINTS.empty()


def _read(path: Path, salvage: bool, timezone: str, date_order: str) -> FileFixes:
    match log_kind(path):
        case "nmea":
            return read_nmea_fixes(path)
        case "gpx":
            return read_gpx_fixes(path, salvage=salvage)
        case _:
            return read_delimited_fixes(path, timezone=timezone, date_order=date_order)


def _each(paths: Paths) -> list[Path]:
    return [Path(paths)] if isinstance(paths, str | Path) else [Path(path) for path in paths]


def read_gpx_waypoints(path: str | Path, *, salvage: bool = False) -> pd.DataFrame:
    """Read the waypoints of one GPX file, as `WAYPOINTS`.

    salvage: of a damaged file keep the waypoints before the damage.

    Raises TrackError as `read_gpx_fixes`, and where a waypoint has no position, or a time that
    can't be read or right (its year before 1900 or after 2200).
    """
    collector = _Waypoints(str(path))
    try:
        parse_gpx(path, collector)
    except TrackError:
        if not (salvage and collector.started):
            raise
    table = pd.DataFrame(collector.rows, columns=WAYPOINTS.names)
    stamps, unreadable = to_utc(table["time"].tolist())
    wrong = np.isnat(stamps) & (table["time"] != "").to_numpy() if unreadable else _beyond(stamps)
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        fault = "be read" if unreadable else "be right"
        raise TrackError(
            f"the waypoint {table['name'][row]!r} has a time that can't {fault}: "
            f"{table['time'][row]!r}",
            file=path,
            do="Write it like 2031-06-14T09:30:00Z.",
        )
    table["time"] = pd.DatetimeIndex(stamps).tz_localize("UTC")
    table["file"] = str(path)
    return table.astype({"longitude": "float64", "latitude": "float64"})


def _beyond(stamps: NDArray[np.datetime64]) -> Mask:
    """Whether a year is a slip of the pen, as 0031 for 2031 is."""
    years = stamps.astype("datetime64[Y]").astype(np.int64) + 1970
    beyond: Mask = ~np.isnat(stamps) & ((years < FIRST_YEAR) | (years > LAST_YEAR))
    return beyond


class _Waypoints:
    """Gathers waypoints."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.rows: list[dict[str, Any]] = []
        self.started = False

    def attach(self, parser: Any) -> StartAndEnd:
        """Give the start and end callbacks."""
        row: dict[str, Any] | None = None
        words: list[str] = []
        depth = 0

        def start(name: str, attributes: dict[str, str]) -> None:
            nonlocal row, depth
            self.started = True
            local = name.rpartition(":")[2]
            if row is not None:
                depth += 1
                if depth == 1 and local in _WAYPOINT_TEXTS:
                    words.clear()
                    parser.CharacterDataHandler = words.append
            elif local == "wpt":
                row = dict.fromkeys(WAYPOINTS.names, "")
                try:
                    row["longitude"] = float(attributes["lon"])
                    row["latitude"] = float(attributes["lat"])
                except (KeyError, ValueError):
                    raise no_position(self.file, parser, "waypoint", attributes) from None
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
