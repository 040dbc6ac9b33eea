"""Soundings as a FlatGeobuf file, a piece at a time."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from threading import Event
from typing import Final

import pandas as pd
import pyogrio
from nanoarrow.c_array_stream import CArrayStream
from nanoarrow.ipc import StreamWriter

from layers.present import points_beside
from layers.present._record_batches import record_batch
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
    Returned: begins to write the soundings it is given; to be called once.  At the end of the block
        it is waited for.  If the block fails, nothing is written.

    Raises OutputError at the end of the block, if they can't be written.
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
