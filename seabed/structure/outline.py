"""The closed contour around a peak, followed along its own length only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from seabed.compiled import compiled

__all__ = ["outline"]

Depths = NDArray[np.float32]

_CLEAR = 1e-6


def outline(depth: Depths, peak: int, level: float) -> NDArray[np.float64]:
    """Outer ring of the ground above `level` that hangs together with a cell.

    Parameters
    ----------
    depth : ndarray of float32, shape (rows, columns)
        The ground must not reach the border.
    peak : int
        Flat index of a cell with less depth than `level`.
    level : float

    Returns
    -------
    ndarray, shape (n, 2)
        Column and row of vertices on the straight lines between neighbouring cell centres, where
        they have the depth `level` (halfway to a void); closed.  Cells that touch at a corner hang
        together.  Costs its own length and a look along the row.
    """
    row, column = divmod(int(peak), depth.shape[1])
    west = column
    while True:
        while depth[row, west - 1] < level:
            west -= 1
        count, winds = _follow(depth, row, west, level, column, np.empty((0, 2)))
        if winds:
            break
        west -= 1  # that was the rim of a hole in it, or an islet in such a hole: look beyond
        while not depth[row, west] < level:
            west -= 1
    ring = np.empty((count + 1, 2))
    _follow(depth, row, west, level, column, ring)
    ring[-1] = ring[0]
    return ring


@compiled
def _follow(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: Depths, row: int, west: int, level: float, column: int, ring: NDArray[np.float64]
) -> tuple[int, bool]:
    """Follow the ring from a western rim; count its vertices and fill `ring` if it has room.

    Also says whether it goes round the cell at `column` in the first row, shallow side within.
    """
    r, c, down, right = row, west, 0, -1  # a cell above the level, and the way to one that is not
    count, turns = 0, 0
    while True:
        if len(ring):
            inside, beyond = depth[r, c], depth[r + down, c + right]
            part = 0.5 if np.isnan(beyond) else (level - inside) / (beyond - inside)
            part = min(max(part, _CLEAR), 1 - _CLEAR)  # never on a centre, where rings could touch
            ring[count, 0], ring[count, 1] = c + part * right, r + part * down
        if r == row and c + max(right, 0) <= column:
            turns -= right
        count += 1
        ahead_down, ahead_right = -right, down  # with the shallow side to the left, seen on the map
        diagonal_r, diagonal_c = r + down + ahead_down, c + right + ahead_right
        if depth[diagonal_r, diagonal_c] < level:
            r, c, down, right = diagonal_r, diagonal_c, -ahead_down, -ahead_right
        elif depth[r + ahead_down, c + ahead_right] < level:
            r, c = r + ahead_down, c + ahead_right
        else:
            down, right = ahead_down, ahead_right
        if r == row and c == west and down == 0 and right == -1:
            return count, turns > 0
