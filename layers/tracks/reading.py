"""Read tracks and waypoints of several files."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from layers.tracks.table import FIXES, fix_table
from layers.tracks.waypoints import WAYPOINTS, read_gpx_waypoints
from seabed.logs.delimited import read_delimited_fixes
from seabed.logs.fixes import FileFixes
from seabed.logs.gpx import read_gpx_fixes
from seabed.logs.kinds import log_kind
from seabed.logs.nmea import read_nmea_fixes
from seabed.schema import documented

Paths = str | Path | Iterable[str | Path]


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
    """Read the waypoints of one or several GPX files, in the order given, as `WAYPOINTS`.

    salvage: of a damaged file keep the waypoints before the damage.
    """
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
