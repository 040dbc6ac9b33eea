"""Results of finished chunks, kept in a folder until the whole is done."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final, overload
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from seabed import __version__
from seabed.errors import OutputError
from seabed.files import replacing, write_text
from seabed.structure.blocks.kind import Kinds
from seabed.structure.blocks.whole import Chunk, Whole

FORMAT: Final = 2
"""Raised when what is stored changes its meaning."""

PLAN: Final = "plan.json"


def fingerprint(source: str, whole: Whole, kinds: Kinds, reading: str = "") -> str:
    """Text that differs wherever the results of chunks would.

    source: the grid's file or address.  Of a file, size and time of change count too.
    reading: what else the depths depend on: sign, unit, offset, the part taken.
    """
    path = Path(source)
    status = path.stat() if path.is_file() else None
    about = {
        "format": FORMAT,
        "version": __version__,
        "source": str(path.resolve()) if status else source,
        "size": status.st_size if status else None,
        "changed": status.st_mtime_ns if status else None,
        "reading": hashlib.sha256(reading.encode()).hexdigest(),
        "shape": whole.shape,
        "chunk": whole.chunk,
        "noise": repr(whole.noise),
        "kinds": {name: repr(kind) for name, kind in kinds.items()},
    }
    return json.dumps(about, sort_keys=True, indent=1)


class Store:
    """A folder of finished chunks.

    folder: made if missing.  Results in it that have another fingerprint are removed.
    mark: as `fingerprint` gives it.
    """

    def __init__(self, folder: Path, mark: str) -> None:
        self.folder = folder
        plan = folder / PLAN
        try:
            same = plan.read_text(encoding="utf-8") == mark
        except (OSError, UnicodeDecodeError):
            same = False
        if not same:
            self._clear()
            write_text(plan, mark, result=False)

    def path(self, chunk: Chunk) -> Path:
        """File of a chunk's results."""
        return self.folder / f"chunk-{chunk.number:06d}.npz"

    def has(self, chunk: Chunk) -> bool:
        """Say whether a chunk is done, and its file whole."""
        try:
            with np.load(self.path(chunk), allow_pickle=False) as stored:
                return bool(stored.files)
        except (OSError, ValueError, BadZipFile):
            return False

    def put(self, chunk: Chunk, arrays: Mapping[str, NDArray[Any]]) -> None:
        """Keep the results of a chunk, whole or not at all."""
        with replacing(self.path(chunk), result=False) as partial:
            np.savez(partial, **arrays)  # type: ignore[arg-type]

    def results(self, part: str, chunks: Sequence[Chunk]) -> Results:
        """Give one part of the results of all chunks; read from the disk when they are used."""
        return Results([self.path(chunk) for chunk in chunks], part)

    def remove(self) -> None:
        """Remove what is kept, once it is of no more use."""
        self._clear()
        if self.folder.is_dir() and not any(self.folder.iterdir()):
            self.folder.rmdir()

    def _clear(self) -> None:
        """Remove our own files only: the folder may hold others."""
        try:
            for file in [*self.folder.glob("chunk-*.npz"), self.folder / PLAN]:
                file.unlink(missing_ok=True)
            for left in self.folder.glob(".writing-*"):
                shutil.rmtree(left, ignore_errors=True)
        except OSError as error:
            raise OutputError(
                f"an older file can't be removed: {error.strerror}",
                file=self.folder,
                do="Remove the folder and run again.",
            ) from error


class Results(Sequence[Mapping[str, NDArray[Any]]]):
    """One part of every chunk's results; each array is read again whenever it is needed."""

    def __init__(self, files: Sequence[Path], part: str) -> None:
        self._files, self._part = files, part

    def __len__(self) -> int:
        return len(self._files)

    @overload
    def __getitem__(self, number: int) -> Mapping[str, NDArray[Any]]: ...
    @overload
    def __getitem__(self, number: slice) -> Results: ...
    def __getitem__(self, number: int | slice) -> Mapping[str, NDArray[Any]] | Results:
        if isinstance(number, slice):
            return Results(self._files[number], self._part)
        return _StoredPart(self._files[number], self._part)

    def held(self) -> list[dict[str, NDArray[Any]]]:
        """Read all into memory."""
        return [_StoredPart(file, self._part).held() for file in self._files]


class _StoredPart(Mapping[str, NDArray[Any]]):
    def __init__(self, file: Path, part: str) -> None:
        self._file, self._start = file, f"{part}/"

    def __getitem__(self, name: str) -> NDArray[Any]:
        with np.load(self._file, allow_pickle=False) as stored:
            array: NDArray[Any] = stored[self._start + name]
            return array

    def __iter__(self) -> Iterator[str]:
        with np.load(self._file, allow_pickle=False) as stored:
            names = [name for name in stored.files if name.startswith(self._start)]
        yield from (name.removeprefix(self._start) for name in names)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def held(self) -> dict[str, NDArray[Any]]:
        """Read all at once."""
        start = self._start
        with np.load(self._file, allow_pickle=False) as stored:
            names = [name for name in stored.files if name.startswith(start)]
            return {name.removeprefix(start): stored[name] for name in names}
