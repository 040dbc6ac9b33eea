"""Soundings as a layer of a GeoPackage, a piece at a time."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from threading import Event
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio

from layers.cautions import CAUTIONS
from layers.exports.sqlite_rows import (
    MOST_OCTETS,
    POINT,
    REAL,
    TIME,
    WHOLE,
    WORD,
    Rows,
    append_rows,
)
from seabed.errors import OutputError
from seabed.files import replacing
from seabed.soundings.schema import as_points

__all__ = ["soundings_beside", "write_soundings"]

_AT_ONCE: Final = 50_000
_LAYER: Final = {
    "layer": "soundings",
    "driver": "GPKG",
    "geometry_type": "Point",
}
_OPTIONS: Final = {"DESCRIPTION": CAUTIONS, "SPATIAL_INDEX": "NO"}
_WORDS: Final = ("flag", "file")


def write_soundings(path: str | Path, soundings: pd.DataFrame) -> None:
    """Write every sounding, flagged ones too, as points of a GeoPackage, whole or not at all.

    Parameters
    ----------
    path : str or Path
        Ends in .gpkg.  Layer ``soundings``, EPSG:4326, the columns of
        `seabed.soundings.SOUNDING_COLUMNS` but for the position; what is not known is NULL.
        Without a spatial index, which programs offer to make.
    soundings : DataFrame

    Raises
    ------
    OutputError
        If it can't be written.
    """
    with soundings_beside(path) as begin:
        begin(soundings)


@contextmanager
def soundings_beside(path: str | Path) -> Iterator[Callable[[pd.DataFrame], None]]:
    """Write soundings as `write_soundings` does, while other work goes on.

    Parameters
    ----------
    path : str or Path

    Yields
    ------
    callable
        Begins to write the soundings it is given; to be called once.  At the end of the block it
        is waited for.  If the block fails, nothing is written.

    Raises
    ------
    OutputError
        At the end of the block, if they can't be written.
    """
    begun: list[Future[None]] = []
    enough = Event()
    with ExitStack() as files, ThreadPoolExecutor(1) as pool:

        def begin(soundings: pd.DataFrame) -> None:
            partial = files.enter_context(replacing(path))
            begun.append(pool.submit(_write, partial, soundings, enough))

        try:
            yield begin
        except BaseException:
            enough.set()
            raise
        try:
            for task in begun:
                task.result()
        except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
            raise OutputError(f"can't write the layer: {error}", file=Path(path)) from error


def _write(path: Path, soundings: pd.DataFrame, enough: Event) -> None:
    """Have the layer made with one row, by the library that knows the format, and fill it."""
    pyogrio.write_dataframe(_plain(soundings.iloc[:1]), path, layer_options=_OPTIONS, **_LAYER)
    if len(soundings) < 2:
        return
    words = [_octets(soundings[name]) for name in _WORDS]
    if sum(max(map(len, some), default=0) for some in words) > MOST_OCTETS:
        pyogrio.write_dataframe(_plain(soundings.iloc[1:]), path, append=True, **_LAYER)
        return
    with closing(sqlite3.connect(path)) as base, base:
        base.execute("DELETE FROM soundings")
    kinds = [_kind(soundings[name]) for name in _columns(soundings)]
    flat = [word for some in words for word in some]
    append_rows(path, "soundings", [POINT, *kinds], _parts(soundings, enough), flat)
    with closing(sqlite3.connect(path)) as base, base:
        _summed_up(base, soundings)


def _columns(soundings: pd.DataFrame) -> list[str]:
    return list(soundings.columns.drop(["longitude", "latitude"]))


def _kind(values: pd.Series) -> int:
    if isinstance(values.dtype, pd.CategoricalDtype):
        return WORD
    if isinstance(values.dtype, pd.DatetimeTZDtype):
        return TIME
    return WHOLE if values.dtype.kind == "i" else REAL


def _octets(values: pd.Series) -> list[bytes]:
    return [str(word).encode() for word in values.cat.categories]


def _parts(soundings: pd.DataFrame, enough: Event) -> Iterator[Rows]:
    """Values of some rows at a time, for `append_rows`; words counted through all columns."""
    for start in range(0, len(soundings), _AT_ONCE):
        if enough.is_set():
            return
        part = soundings.iloc[start : start + _AT_ONCE]
        columns, before = [], 0
        for name in _columns(soundings):
            values, kind = part[name], _kind(part[name])
            if kind == WORD:
                codes = values.cat.codes.to_numpy().astype(np.float64)
                columns.append(np.where(codes < 0, np.nan, codes + before))
                before += len(values.cat.categories)
            elif kind == TIME:
                stamps = values.dt.tz_localize(None).to_numpy("datetime64[ms]")
                columns.append(np.where(np.isnat(stamps), np.nan, stamps.astype(np.int64)))
            else:
                columns.append(values.to_numpy(np.float64))
        places = part[["longitude", "latitude"]].to_numpy(np.float64)
        yield np.column_stack(columns), places


def _summed_up(base: sqlite3.Connection, soundings: pd.DataFrame) -> None:
    """Tell the format's own tables how many rows there are, and where."""
    box = [
        None if np.isnan(edge) else float(edge)
        for name in ("longitude", "latitude")
        for edge in (soundings[name].min(), soundings[name].max())
    ]
    base.execute("UPDATE gpkg_contents SET min_x = ?, max_x = ?, min_y = ?, max_y = ?", box)
    base.execute("UPDATE gpkg_ogr_contents SET feature_count = ?", (len(soundings),))
    base.execute("UPDATE sqlite_sequence SET seq = ?", (len(soundings),))


def _plain(soundings: pd.DataFrame) -> gpd.GeoDataFrame:
    """Points with words as text, and times in the milliseconds that the format holds."""
    points = as_points(soundings)
    for name in ("flag", "file"):
        words = points[name].cat
        kinds = np.array([str(word) for word in words.categories], dtype=object)
        points[name] = kinds[words.codes.to_numpy()] if len(kinds) else ""
    points["time"] = points["time"].dt.as_unit("ms")
    return points
