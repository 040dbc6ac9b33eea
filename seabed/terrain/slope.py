"""Slope and aspect of the bottom from 3x3 windows (Horn 1981, Proc. IEEE 69(1), 14-47)."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.compiled import compiled, inlined
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.terrain.chunks import filling, like, over_windows
from seabed.terrain.north import convergence_field

_MARGIN: Final = (1, 1)


def slope(grid: xr.DataArray) -> xr.DataArray:
    """Steepness of the bottom.

    Parameters
    ----------
    grid : depth grid
        Projected or geographic; widths of cells are taken row by row, over the ground.

    Returns
    -------
    xarray.DataArray of float32
        Degrees, 0 to 90, on the same cells; lazy if the grid is.  NaN at the outermost cells and
        wherever any of the nine cells is void, the middle one too (Horn's weights skip it).

    Notes
    -----
    The arc tangent is a polynomial whose error stays below 1e-5 degrees.

    Examples
    --------
    >>> from seabed import example_grid
    >>> round(float(slope(example_grid()).values[30, 40]), 1)
    14.5
    """
    grid = as_grid(grid)
    attributes = {"units": "degree", "long_name": "slope of the bottom"}
    return over_windows(
        grid,
        filling(_slope_rows),
        _shares(grid),
        margin=_MARGIN,
        name="slope",
        attributes=attributes,
    )


def aspect(grid: xr.DataArray) -> xr.DataArray:
    """Direction toward which the bottom deepens.

    Parameters
    ----------
    grid : depth grid

    Returns
    -------
    xarray.DataArray of float32
        Degrees true, clockwise from north, 0 <= aspect < 360; lazy if the grid is.  NaN as for
        `slope`, and where the bottom is level.  On a projected grid the meridian convergence is
        added.

    Examples
    --------
    >>> from seabed import example_grid
    >>> float(aspect(example_grid()).values[30, 40].round())
    90.0
    """
    grid = as_grid(grid)
    attributes = {"units": "degree", "long_name": "direction in which the bottom deepens, true"}
    turned = over_windows(
        grid,
        filling(_aspect_rows),
        _shares(grid),
        margin=_MARGIN,
        name="aspect",
        attributes=attributes,
    )
    true = np.mod(turned.data + convergence_field(grid), np.float32(360))
    true = (true * (true < 360)).astype(np.float32)  # rounding may give 360 itself
    return like(grid, true, name="aspect", attributes=attributes)


def _shares(grid: xr.DataArray) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """One eighth over the width and the height of the cells of each row."""
    size = cell_size(grid)
    width, height = ((0.125 / one).astype(np.float32) for one in (size.easting, size.northing))
    return width, height


@inlined
def _arc_tangent_degrees(tangent: np.float32) -> np.float32:
    """Arc tangent of a value >= 0 in degrees: minimax polynomial in odd powers on [0, 1]."""
    steep = tangent > np.float32(1.0)
    t = np.float32(1.0) / tangent if steep else tangent
    u = t * t
    value = np.float32(-0.23231748)
    value = np.float32(1.2526864) + u * value
    value = np.float32(-3.2035902) + u * value
    value = np.float32(5.5246134) + u * value
    value = np.float32(-7.9690766) + u * value
    value = np.float32(11.428545) + u * value
    value = np.float32(-19.096603) + u * value
    value = t * (np.float32(57.295742) + u * value)
    return np.float32(90.0) - value if steep else value


@compiled
def _slope_rows(
    depth: NDArray[np.float32],
    per_width: NDArray[np.float32],
    per_height: NDArray[np.float32],
    out: NDArray[np.float32],
) -> None:
    rows, columns = depth.shape
    two = np.float32(2.0)
    for row in range(rows - 2):
        north, here, south = depth[row], depth[row + 1], depth[row + 2]
        target = out[row + 1]
        north_w, here_w, south_w = per_width[row], two * per_width[row + 1], per_width[row + 2]
        here_h = per_height[row + 1]
        for c in range(columns - 2):
            east = (
                (north[c + 2] - north[c]) * north_w
                + (here[c + 2] - here[c]) * here_w
                + (south[c + 2] - south[c]) * south_w
            )
            down = (
                (north[c] - south[c])
                + two * (north[c + 1] - south[c + 1])
                + (north[c + 2] - south[c + 2])
            ) * here_h
            void = here[c + 1] - here[c + 1]  # NaN where the middle cell is
            target[c + 1] = _arc_tangent_degrees(np.sqrt(east * east + down * down)) + void


@compiled
def _aspect_rows(
    depth: NDArray[np.float32],
    per_width: NDArray[np.float32],
    per_height: NDArray[np.float32],
    out: NDArray[np.float32],
) -> None:
    rows, columns = depth.shape
    for row in range(1, rows - 1):
        for c in range(1, columns - 1):
            east = (
                (depth[row - 1, c + 1] - depth[row - 1, c - 1]) * per_width[row - 1]
                + np.float32(2.0) * (depth[row, c + 1] - depth[row, c - 1]) * per_width[row]
                + (depth[row + 1, c + 1] - depth[row + 1, c - 1]) * per_width[row + 1]
            )
            up = (
                (depth[row - 1, c - 1] - depth[row + 1, c - 1])
                + np.float32(2.0) * (depth[row - 1, c] - depth[row + 1, c])
                + (depth[row - 1, c + 1] - depth[row + 1, c + 1])
            ) * per_height[row]
            known = not math.isnan(depth[row, c])
            if known and (east != 0 or up != 0):
                out[row, c] = math.degrees(math.atan2(east, up))
