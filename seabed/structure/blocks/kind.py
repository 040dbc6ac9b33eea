"""A kind of structure: found in each block, then joined to a table of the whole."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol, TypeVar

import xarray as xr
from numpy.typing import NDArray

from seabed.grid.arrays import as_grid
from seabed.structure.blocks.block import Block, read_block
from seabed.structure.blocks.whole import Arrays, Chunk, Results, Whole
from seabed.structure.calm.noise import AUTO, NoiseSettings

Joined = TypeVar("Joined")
Joined_co = TypeVar("Joined_co", covariant=True)


class Kind(Protocol[Joined_co]):
    """A kind of structure with its options.  It is sent to other processes."""

    def check(self, whole: Whole) -> None:
        """Refuse options that can't be right on this grid, if any can be wrong.  GridError."""
        return None

    def margin(self, whole: Whole) -> int:
        """Cells around a chunk that it needs to give the same as the whole grid."""
        ...

    def find(self, block: Block) -> Arrays:
        """Find what a chunk holds; pure, so that any process may do it."""
        ...

    def join(self, results: Results, whole: Whole) -> Joined_co:
        """Join what all chunks hold."""
        ...


Kinds = Mapping[str, Kind[Any]]
"""Kinds of structure by the names of their results."""


def worked(whole: Whole, kinds: Kinds, chunk: Chunk) -> dict[str, NDArray[Any]]:
    """Read a chunk and find what it holds, by kind; pure, so that any process may do it."""
    margins = {name: kind.margin(whole) for name, kind in kinds.items()}
    block = read_block(whole, chunk, max(margins.values(), default=0))
    return {
        f"{name}/{key}": array
        for name, kind in kinds.items()
        for key, array in kind.find(block.within(margins[name])).items()
    }


def in_memory(kind: Kind[Joined], grid: xr.DataArray, noise: NoiseSettings = AUTO) -> Joined:
    """Find a kind on a grid in memory: one chunk, that has no neighbours."""
    whole = Whole.of(as_grid(grid), noise)
    kind.check(whole)
    return found(kind, whole)


def found(kind: Kind[Joined], whole: Whole) -> Joined:
    """Find a checked kind in chunk after chunk; a grid in memory is one."""
    margin = kind.margin(whole)
    return kind.join([kind.find(read_block(whole, one, margin)) for one in whole.chunks], whole)
