"""Soundings as a FlatGeobuf file, a piece at a time.

A piece is a record batch of Arrow, made without the large library of that name.  Layout of its
buffers: Arrow columnar format 1.4 (validity bitmaps from the least bit on, offsets of 32 bits).
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from threading import Event
from typing import Any, Final

import nanoarrow as na
import numpy as np
import pandas as pd
import pyogrio
from nanoarrow.c_array import CArray
from nanoarrow.c_array_stream import CArrayStream
from nanoarrow.ipc import StreamWriter

from layers.present import points_beside
from layers.present.points_beside import write_points
from layers.present.vector import ABOUT
from seabed.files import library_failed, replacing

_BATCH: Final = 20_000
_FEW: Final = 200_000  # written sooner than another process has begun
_LOOK_S: Final = 0.05
_LAYER: Final = "soundings"


@contextmanager
def soundings_beside(path: str | Path) -> Iterator[Callable[[pd.DataFrame], None]]:
    """Write every sounding, flagged ones too, as points of a FlatGeobuf, while other work goes on.

    path: ends in .fgb.  Layer ``soundings``, EPSG:4326, the columns of `seabed.soundings.SOUNDINGS`
        but for the position; what is not known is NULL.  Without a spatial index, which can't hold
        soundings without a position.
    Returned: begins, once, to write the soundings it is given.  The end of the block waits for it,
        with OutputError if they can't be written.  If the block fails, nothing is written.
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
            raise library_failed(error, Path(path)) from error


def _write(path: Path, soundings: pd.DataFrame, enough: Event) -> None:
    starts = range(0, max(len(soundings), 1), _BATCH)
    batches = (
        record_batch(soundings.iloc[start : start + _BATCH])
        for start in starts
        if not enough.is_set()
    )
    if len(soundings) <= _FEW:
        parts = list(batches)
        if parts:
            write_points(
                CArrayStream.from_c_arrays(parts, parts[0].schema), path, layer=_LAYER, about=ABOUT
            )
        return
    plain = path.with_name("plain.arrow")
    with StreamWriter.from_path(plain) as writer:
        for batch in batches:
            writer.write_array(batch)
    _write_apart(plain, path, enough)


def _write_apart(plain: Path, path: Path, enough: Event) -> None:
    """Write the layer in a process of its own, until it is done or `enough`."""
    words = [points_beside.__file__, str(plain), str(path), _LAYER, ABOUT]
    with subprocess.Popen(  # noqa: S603 (this python, and a file of ours)
        [sys.executable, "-P", *words], stdin=subprocess.DEVNULL, stderr=subprocess.PIPE
    ) as process:
        while process.poll() is None:
            if enough.wait(_LOOK_S):
                process.kill()
        message = process.stderr.read() if process.stderr else b""
    if process.returncode and not enough.is_set():
        raise pyogrio.errors.DataSourceError(message.decode(errors="replace").strip())


_POINT: Final = np.dtype([("order", "u1"), ("kind", "<u4"), ("x", "<f8"), ("y", "<f8")])
_NUMBERS: Final = {
    "f4": na.float32(), "f8": na.float64(),
    "i1": na.int8(), "i2": na.int16(), "i4": na.int32(), "i8": na.int64(),
}  # fmt: skip


def record_batch(table: pd.DataFrame) -> CArray:
    """Give a table with columns ``longitude`` and ``latitude`` as a batch of points.

    Numbers, categories of text and times; unknown values are null.  The points come last, as
    well-known binary in the column ``geometry``.
    """
    columns = {name: _column(table[name]) for name in table.columns.drop(["longitude", "latitude"])}
    columns["geometry"] = _points(table["longitude"].to_numpy(), table["latitude"].to_numpy())
    kinds = na.struct({name: array.schema for name, array in columns.items()})
    return na.c_array_from_buffers(kinds, len(table), [None], children=columns.values())


def _column(values: pd.Series) -> CArray:
    if isinstance(values.dtype, pd.CategoricalDtype):
        words = [str(word).encode() for word in values.cat.categories]
        return _texts(words, values.cat.codes.to_numpy())
    if isinstance(values.dtype, pd.DatetimeTZDtype):
        numbers = values.dt.as_unit("ms").to_numpy("datetime64[ms]").view("i8")
        return _fixed(na.timestamp("ms", timezone="UTC"), numbers, values.isna().to_numpy())
    numbers = values.to_numpy()
    kind = _NUMBERS[numbers.dtype.str[1:]]
    return _fixed(kind, numbers, np.isnan(numbers))


def _fixed(kind: Any, numbers: np.ndarray[Any, Any], unknown: np.ndarray[Any, Any]) -> CArray:
    buffers = [_validity(unknown), np.ascontiguousarray(numbers)]
    return na.c_array_from_buffers(kind, len(numbers), buffers)


def _validity(unknown: np.ndarray[Any, Any]) -> np.ndarray[Any, Any] | None:
    return np.packbits(~unknown, bitorder="little") if unknown.any() else None


def _texts(words: list[bytes], codes: np.ndarray[Any, Any]) -> CArray:
    """Give the word of each code; null for -1."""
    words = [*words, b""]  # the last one for -1
    lengths = np.array([len(word) for word in words])[codes]
    longest = max(1, *map(len, words))
    octets = np.array(words, f"S{longest}")[codes].view("u1").reshape(-1, longest)
    used = np.arange(longest) < lengths[:, None]
    return _varied(na.string(), lengths, octets[used].tobytes(), codes < 0)


def _points(x: np.ndarray[Any, Any], y: np.ndarray[Any, Any]) -> CArray:
    """Give points as well-known binary (OGC 06-103r4): byte order, kind 1, x, y."""
    unknown = np.isnan(x) | np.isnan(y)
    points = np.empty(len(x), _POINT)
    points["order"], points["kind"], points["x"], points["y"] = 1, 1, x, y
    lengths = np.where(unknown, 0, _POINT.itemsize)
    return _varied(na.binary(), lengths, points[~unknown].tobytes(), unknown)


def _varied(
    kind: Any, lengths: np.ndarray[Any, Any], octets: bytes, unknown: np.ndarray[Any, Any]
) -> CArray:
    offsets = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
    return na.c_array_from_buffers(kind, len(lengths), [_validity(unknown), offsets, octets])
