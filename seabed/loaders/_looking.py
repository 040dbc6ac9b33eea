"""A look at a few blocks of a grid, to tell what its numbers mean."""

from __future__ import annotations

from typing import Final

import numpy as np

from seabed.errors import GridError
from seabed.loaders.layer import Cells, Layer
from seabed.loaders.meaning import Tally, blank_usual_voids, tally

LOOKS: Final = 4
LOOK: Final = 512


def look(layer: Layer, cells: Cells) -> Tally:
    """Tally of 4 x 4 blocks of 512 x 512 cells spread evenly, or of the whole where it is small.

    A block that can't be read is passed over: its reader raises the error when it needs the block.
    """
    total = Tally()
    for row, rows in _spread(cells.row, cells.rows):
        for column, columns in _spread(cells.column, cells.columns):
            try:
                array = layer.read(Cells(row, column, rows, columns))
            except GridError:
                continue
            if not layer.declared_void:
                blank_usual_voids(array)
            total += tally(array)
    return total


def _spread(first: int, count: int) -> list[tuple[int, int]]:
    if count <= LOOKS * LOOK:
        return [(first, count)]
    starts = np.linspace(0, count - LOOK, LOOKS).astype(int)
    return [(first + int(start), LOOK) for start in starts]
