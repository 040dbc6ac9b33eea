"""Tracks read, cleaned and cut by an area's thresholds; and what was corrected on them by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import geopandas as gpd
import pandas as pd

from layers.area import Area
from layers.tracks import CleanReport, CutSettings, clean, cut, read_fixes
from layers.tracks.corrections import Correction, corrections_beside, read_corrections
from layers.tracks.repeats import repeated_ways
from seabed.errors import AreaError, TrackError


def cut_settings(area: Area) -> CutSettings:
    """Give the thresholds of cleaning and cutting; AreaError if they contradict each other."""
    try:
        return CutSettings(**asdict(area.tracks))
    except TrackError as error:
        raise AreaError(error.what, file=area.file, where="[tracks]", do=error.do) from error


def cut_tracks(
    area: Area, tracks: Sequence[Path], *, salvage: bool = False, ahead_s: float = 0.0
) -> tuple[pd.DataFrame, CleanReport, gpd.GeoDataFrame, list[str]]:
    """Read, clean and cut tracks whose clock is ahead; give fixes, report, pieces and notes."""
    settings = cut_settings(area)
    read = read_fixes(tracks, salvage=salvage, timezone=area.timezone, date_order=area.date_order)
    notes = [*read.attrs.get("notes", []), *repeated_ways(read)]
    read["time"] = read["time"] - pd.Timedelta(seconds=ahead_s)
    fixes, report = clean(read, settings)
    pieces = cut(fixes, settings)
    return fixes, report, pieces, [*notes, *pieces.attrs["doubts"]]


def by_hand_on(area: Area, tracks: Sequence[Path], named: Sequence[Path] = ()) -> list[Correction]:
    """Read the corrections by hand: those beside the tracks, and those of files that are named."""
    files = dict.fromkeys([*corrections_beside(tracks), *named])
    return [one for path in files for one in read_corrections(path, timezone=area.timezone)]
