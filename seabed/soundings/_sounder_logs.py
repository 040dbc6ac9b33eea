"""Read sounders' logs: NMEA 0183, GPX and delimited text."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from seabed.errors import TrackError
from seabed.logs import FileFixes, log_kind, read_delimited_fixes, read_gpx_fixes
from seabed.soundings._mounting import TRANSDUCER, Mounting
from seabed.soundings._nmea_log import read_nmea_soundings
from seabed.soundings.sounding_table import empty_soundings, line_numbers, sounding_table

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class SounderLog:
    """What was read.

    Attributes
    ----------
    soundings : DataFrame
        `seabed.soundings.SOUNDINGS`, in the order of the logs; not reduced, ``depth_m`` NaN,
        nothing flagged.
    notes : list of str
        What was skipped or guessed, in plain sentences.
    """

    soundings: pd.DataFrame
    notes: list[str]


def read_soundings(
    paths: str | Path | Iterable[str | Path],
    *,
    mounting: Mounting | None = None,
    timezone: str = "UTC",
    date_order: str = "",
    salvage: bool = False,
    day: date | None = None,
    progress: Progress | None = None,
) -> SounderLog:
    """Read the soundings of one or several logs, in the order given.

    The content of a log decides its kind.  Of GPX and delimited text each fix with a
    depth is a sounding.

    Parameters
    ----------
    paths : path or iterable of paths
    mounting : Mounting, optional
        Where the transducer sits; left out, as the logs say.
    timezone : str
        Zone of times in delimited text that don't say theirs.
    date_order : str
        ``"dmy"`` or ``"mdy"``, of dates in delimited text that can be read two ways.
    salvage : bool
        Of a damaged GPX file keep what comes before the damage, with a note.
    day : date, optional
        UTC day of the first position of NMEA 0183 logs without dates.
    progress : callable, optional
        Called with the file's name, bytes read and bytes in all.

    Returns
    -------
    SounderLog
        Every depth that was logged is a row, blank ones with NaN; rows without a position have NaN.

    Raises
    ------
    TrackError
        If a file can't be read, or has no depth.

    Examples
    --------
    >>> from pathlib import Path
    >>> rows = ["time,latitude,longitude,depth_m", "2031-06-14T08:00:00Z,46.1,-33.4,8.5"]
    >>> _ = Path("sounder.csv").write_text(chr(10).join(rows))
    >>> log = read_soundings("sounder.csv")
    >>> log.soundings["measured_m"].tolist()
    [8.5]
    """
    listed = [Path(paths)] if isinstance(paths, str | Path) else [Path(path) for path in paths]
    mounting = mounting or Mounting()
    tables, notes = [], []
    for path in listed:
        match log_kind(path):
            case "nmea":
                named = None if progress is None else partial(progress, path.name)
                table, own = read_nmea_soundings(path, mounting, day=day, progress=named)
            case "gpx":
                table, own = _of_fixes(read_gpx_fixes(path, salvage=salvage), mounting)
            case _:
                table, own = _of_fixes(
                    read_delimited_fixes(path, timezone=timezone, date_order=date_order), mounting
                )
        if not len(table):
            raise TrackError(
                "no depths in it",
                file=path,
                do="Set the logger to record the sounder (DPT or DBT sentences), or export the "
                "track with its depths.",
            )
        tables.append(table)
        notes += own
    return SounderLog(_joined(tables), notes)


def _of_fixes(fixes: FileFixes, mounting: Mounting) -> tuple[pd.DataFrame, list[str]]:
    notes = list(fixes.notes)
    sounded = np.flatnonzero(np.isfinite(fixes.depth_m))
    if without := len(fixes.depth_m) - len(sounded):
        notes.append(f"{fixes.file}: {without} positions have no depth")
    offset, guessed = mounting.to_surface(
        np.full(len(sounded), np.nan), default_from=TRANSDUCER, file=fixes.file
    )
    table = sounding_table(
        time=fixes.time[sounded],
        longitude=fixes.longitude[sounded],
        latitude=fixes.latitude[sounded],
        measured_m=fixes.depth_m[sounded],
        to_surface_m=offset,
        temperature_c=fixes.temperature_c[sounded],
        file=pd.Categorical.from_codes(np.zeros(len(sounded), np.int8), [fixes.file]),
        row=sounded + 1,
    )
    return table, notes + (guessed if len(sounded) else [])


def _joined(tables: list[pd.DataFrame]) -> pd.DataFrame:
    if not tables:
        return empty_soundings()
    names = list(dict.fromkeys(str(table["file"].iloc[0]) for table in tables))
    for table in tables:
        table["file"] = table["file"].cat.set_categories(names)
    table = tables[0] if len(tables) == 1 else pd.concat(tables, ignore_index=True)
    table["line"] = line_numbers(table)
    return table
