"""Read tracks and waypoints of several files."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from layers.tracks.gpx import WAYPOINT_COLUMNS, read_gpx_fixes, read_gpx_waypoints
from layers.tracks.table import fix_table

__all__ = ["read_fixes", "read_waypoints"]

Paths = str | Path | Iterable[str | Path]


def read_fixes(paths: Paths, *, salvage: bool = False) -> pd.DataFrame:
    """Read the fixes of one or several track files, in the order given.

    Parameters
    ----------
    paths : path or iterable of paths
    salvage : bool
        Of a damaged file keep what comes before the damage, with a note in ``attrs["notes"]``.

    Returns
    -------
    DataFrame
        With the columns `layers.tracks.FIX_COLUMNS`, a row a fix, as the files have them: not
        sorted, not cleaned; times may be NaT and positions NaN.

    Raises
    ------
    TrackError
        If a file can't be read, or has no fix.
    """
    return fix_table([read_gpx_fixes(path, salvage=salvage) for path in _each(paths)])


def read_waypoints(paths: Paths) -> pd.DataFrame:
    """Read the waypoints of one or several GPX files, in the order given.

    Returns
    -------
    DataFrame
        With the columns `layers.tracks.WAYPOINT_COLUMNS`; without rows where there are none.
    """
    tables = [read_gpx_waypoints(path) for path in _each(paths)]
    filled = [table for table in tables if len(table)] or tables[:1]
    if not filled:
        return pd.DataFrame(columns=list(WAYPOINT_COLUMNS))
    return pd.concat(filled, ignore_index=True)


def _each(paths: Paths) -> list[Path]:
    return [Path(paths)] if isinstance(paths, str | Path) else [Path(path) for path in paths]
