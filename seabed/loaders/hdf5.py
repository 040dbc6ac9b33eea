"""The tree of an HDF5 file, as the guarded process reads it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from seabed.errors import GridError, SeabedError
from seabed.guarded import ask, reading


@dataclass(frozen=True, slots=True)
class Part:
    """A group or data set: its attributes, shape (None for a group) and names of fields."""

    name: str
    attrs: dict[str, Any]
    shape: tuple[int, ...] | None
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hdf5:
    """Parts of a file by their paths in it, ``""`` for the whole."""

    parts: dict[str, Part]

    @property
    def root(self) -> Part:
        """The whole."""
        return self.parts[""]

    def names(self, group: str) -> list[str]:
        """Names of what is in a group itself, sorted."""
        start = f"{group}/" if group else ""
        inner = (name.removeprefix(start) for name in self.parts if name.startswith(start))
        return sorted(name for name in inner if name and "/" not in name)


def open_hdf5(source: str | Path, error: type[SeabedError] = GridError) -> Hdf5:
    """Read what the parts of a file are; none of them may be in another file."""
    with reading(source, error):
        outward, nodes = ask("hdf5.tree", source)
    if outward:
        raise error(
            "parts of it lie in another file",
            file=source,
            where=outward,
            do="Put everything into one file; other files are not followed.",
        )
    return Hdf5({name: Part(name, *node) for name, node in nodes.items()})
