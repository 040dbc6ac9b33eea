"""Results of finished chunks, kept in a folder until the whole is done."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from seabed import __version__
from seabed.errors import OutputError
from seabed.files import replacing, write_text
from seabed.structure.blocks.kind import Kinds
from seabed.structure.blocks.whole import Arrays, Chunk, Whole

FORMAT: Final = 2
"""Higher whenever the stored results change their meaning."""

PLAN: Final = "plan.json"


def fingerprint(source: str, whole: Whole, kinds: Kinds, reading: str = "") -> str:
    """Text that differs whenever the results of chunks could.

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
    """A folder of finished chunks; those of another `fingerprint` in it are removed."""

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

    def results(self, part: str, chunks: Sequence[Chunk]) -> StoredResults:
        """Give one part of the results of all chunks."""
        return StoredResults([self.path(chunk) for chunk in chunks], part)

    def remove(self) -> None:
        """Remove the results, once they are of no more use."""
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


@dataclass(frozen=True, slots=True)
class StoredResults:
    """One part of every chunk's results, read again whenever they are gone through."""

    files: Sequence[Path]
    part: str

    def __iter__(self) -> Iterator[Arrays]:
        for file in self.files:
            with np.load(file, allow_pickle=False) as stored:
                yield _NamedAlike(stored, f"{self.part}/")


class _NamedAlike(Mapping[str, NDArray[Any]]):
    """Arrays of an open file whose names begin alike; each is read when it is needed."""

    def __init__(self, stored: Arrays, start: str) -> None:
        self._stored, self._start = stored, start

    def __getitem__(self, name: str) -> NDArray[Any]:
        return self._stored[self._start + name]

    def __iter__(self) -> Iterator[str]:
        start = self._start
        return (name.removeprefix(start) for name in self._stored if name.startswith(start))

    def __len__(self) -> int:
        return sum(1 for _ in self)
