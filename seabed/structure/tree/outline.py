"""The closed contour around a peak, followed along its own length only."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from seabed.compiled import compiled

Depths = NDArray[np.float32]
Windows = Callable[[int, int], tuple[Depths, int, int]]
"""(row, column) of a cell to a window of depths that holds it and all cells that touch it, and the
row and column of the window's first cell."""

_CLEAR = 1e-6


def outline(windows: Windows, row: int, column: int, level: float) -> NDArray[np.float64]:
    """Outer ring of the ground above `level` that hangs together with a cell.

    windows: gives the grid around a cell.  The ground must not reach its border.
    row, column: of a cell with less depth than `level`.
    Returned: ndarray, shape (n, 2); column and row of vertices on the straight lines between
        neighbouring cell centres, where they have the depth `level` (halfway to a void); closed.
        Cells that touch at a corner hang together.  Costs its own length and a look along the row.
    """
    west = column
    while True:
        west = _westward(windows, row, west, level)
        ring, winds = _ring(windows, row, west, level, column)
        if winds:
            return ring
        # that was the rim of a hole in it, or an islet in such a hole: look beyond
        west = _westward(windows, row, west - 1, level, dry=False) - 1


def _westward(windows: Windows, row: int, west: int, level: float, *, dry: bool = True) -> int:
    """Last column to the west, from one on, before the ground is no longer above the level.

    If not `dry`, before it is again.
    """
    while True:
        window, top, left = windows(row, west)
        cells = window[row - top, : west - left][::-1]
        other = np.flatnonzero((cells < level) != dry)
        if len(other):
            return west - int(other[0])
        west -= len(cells)


def _ring(
    windows: Windows, row: int, west: int, level: float, column: int
) -> tuple[NDArray[np.float64], bool]:
    """Ring from a western rim, closed, and whether it goes round the cell at `column`."""
    state = np.array([row, west, 0, -1, 0], np.int64)
    parts: list[NDArray[np.float64]] = []
    room = 256
    while True:
        window, top, left = windows(int(state[0]), int(state[1]))
        part = np.empty((room, 2))
        count, done = _follow(window, top, left, row, west, level, column, state, part)
        parts.append(part[:count])
        if done:
            break
        room = min(2 * room, 1 << 20)
    ring = np.concatenate([*parts, parts[0][:1]])
    return ring, bool(state[4] > 0)


@compiled
def _follow(  # noqa: PLR0917  (compiled functions take no keywords)
    depth: Depths,
    top: int,
    left: int,
    row: int,
    west: int,
    level: float,
    column: int,
    state: NDArray[np.int64],
    ring: NDArray[np.float64],
) -> tuple[int, bool]:
    """Follow the ring as far as the window and `ring` go; give how much of it is filled.

    `state` is the cell above the level, the way to one that is not, and how often the ring has
    gone round the cell at `column` in the first row, shallow side within.  Also says whether the
    ring is done.
    """
    rows, columns = depth.shape
    r, c, down, right, turns = (
        state[0] - top,
        state[1] - left,
        state[2],
        state[3],
        state[4],
    )
    count, done = 0, False
    while count < len(ring) and 0 < r < rows - 1 and 0 < c < columns - 1:
        inside, beyond = depth[r, c], depth[r + down, c + right]
        part = 0.5 if np.isnan(beyond) else (level - inside) / (beyond - inside)
        part = min(max(part, _CLEAR), 1 - _CLEAR)  # never on a centre, where rings could touch
        ring[count, 0], ring[count, 1] = left + c + part * right, top + r + part * down
        if r == row - top and left + c + max(right, 0) <= column:
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
        if r == row - top and c == west - left and down == 0 and right == -1:
            done = True
            break
    state[0], state[1], state[2], state[3], state[4] = r + top, c + left, down, right, turns
    return count, done
