"""The closed contour around a peak, followed along its own length only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Depths, Floats, Ints
from seabed.compiled import compiled
from seabed.structure.blocks.whole import Whole
from seabed.structure.measure import areas_m2
from seabed.structure.tracing.marching import placed
from seabed.terrain.north import convergence_at

Windows = Callable[[int, int], tuple[Depths, int, int]]
"""(row, column) of a cell to a window of depths that holds it and all cells that touch it, and the
row and column of the window's first cell."""

_CLEAR = 1e-6


def outline(windows: Windows, row: int, column: int, level: float) -> Floats:
    """Outer ring of the ground above `level` that hangs together with a cell.

    Column and row of vertices on the straight lines between neighbouring cell centres, where they
    have the depth `level` (halfway to a void); closed.  Cells that touch at a corner hang together.
    Costs its own length and a look along the row.

    windows: gives the grid around a cell.  The ground must not reach its border.
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


def _ring(windows: Windows, row: int, west: int, level: float, column: int) -> tuple[Floats, bool]:
    """Ring from a western rim, closed, and whether it goes round the cell at `column`."""
    state = np.array([row, west, 0, -1, 0], np.int64)
    parts: list[Floats] = []
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
    state: Ints,
    ring: Floats,
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


def footprints(grid: xr.DataArray, rings: Sequence[Floats]) -> NDArray[Any]:
    """Outlines as polygons in the grid's CRS."""
    if not len(rings):
        return np.empty(0, object)
    points = placed(np.concatenate(rings), grid)
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    return np.asarray(shapely.polygons(shapely.linearrings(points, indices=owner)), object)


def shaped(whole: Whole, polygons: NDArray[Any], cells: NDArray[Any]) -> pd.DataFrame:
    """Columns of highs by their footprints and the flat indices of their crests."""
    grid, size, affine = whole.frame, whole.size, whole.blocks.transform
    row, column = np.divmod(cells, grid.shape[1])
    x, y = grid["x"].values[column], grid["y"].values[row]
    scale = np.column_stack([size.easting[row] / affine.a, size.northing[row] / -affine.e])
    axes = np.array([_axes(p, s) for p, s in zip(polygons, scale, strict=True)]).reshape(-1, 3)
    return pd.DataFrame(
        {
            "area_m2": areas_m2(polygons, grid),
            "long_axis_m": axes[:, 0],
            "short_axis_m": axes[:, 1],
            "bearing_deg": np.mod(axes[:, 2] + convergence_at(grid, x, y), 180),
            "peak_x": x,
            "peak_y": y,
            "geometry": polygons,
        }
    )


def _axes(polygon: shapely.Polygon, scale: Floats) -> tuple[float, float, float]:
    """Long and short axis, metres, and bearing of the long one from grid north, from moments."""
    points = shapely.get_coordinates(polygon.exterior)
    area, total = _moments((points - points[0]) * scale)
    mean_x, mean_y, xx, xy, yy = total / area
    spread = np.array(
        [[xx - mean_x**2, xy - mean_x * mean_y], [xy - mean_x * mean_y, yy - mean_y**2]]
    )
    values, vectors = np.linalg.eigh(spread)
    short, long = 4 * np.sqrt(np.maximum(values, 0))
    return float(long), float(short), float(np.degrees(np.arctan2(vectors[0, 1], vectors[1, 1])))


def _moments(ring: Floats) -> tuple[float, Floats]:
    """Signed area of a closed ring, and its integrals of x, y, xx, xy, yy (Green's theorem)."""
    x0, y0, x1, y1 = ring[:-1, 0], ring[:-1, 1], ring[1:, 0], ring[1:, 1]
    cross = x0 * y1 - x1 * y0
    return float(cross.sum() / 2), np.array(
        [
            ((x0 + x1) * cross).sum() / 6,
            ((y0 + y1) * cross).sum() / 6,
            ((x0 * x0 + x0 * x1 + x1 * x1) * cross).sum() / 12,
            ((x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) * cross).sum() / 24,
            ((y0 * y0 + y0 * y1 + y1 * y1) * cross).sum() / 12,
        ]
    )
