"""Curvature of the bottom (Zevenbergen & Thorne 1987, Earth Surf. Process. Landf. 12, 47-56)."""

from __future__ import annotations

import math
from typing import Final, Literal

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.compiled import compiled
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.terrain.chunks import filling, over_windows

Kind = Literal["profile", "plan", "mean"]
_KINDS: Final[dict[Kind, str]] = {
    "profile": "curvature down the fall line",
    "plan": "curvature across the fall line",
    "mean": "half the sum of the curvatures down and across the fall line",
}


def curvature(grid: xr.DataArray, *, kind: Kind = "mean") -> xr.DataArray:
    """Bend of the bottom.

    Parameters
    ----------
    grid : depth grid
    kind : {"profile", "plan", "mean"}
        Down the fall line: positive where the way down steepens, as at the top of an edge.  Across
        it: positive where the bottom sheds to both sides, as on a nose.  Mean: half their sum, and
        defined on level ground too.

    Returns
    -------
    xarray.DataArray of float32
        Per metre; positive where the bottom is convex seen from above, as on highs, negative in
        lows; lazy if the grid is.  NaN at the outermost cells, where any of the nine cells is void,
        and, but for the mean, where the bottom is level.

    Notes
    -----
    Second derivatives of the partial quartic through the 3x3 window, in the directions of the fall
    line and across it; not divided by powers of the slope.

    Examples
    --------
    >>> from seabed import example_grid
    >>> round(float(curvature(example_grid()).values[20, 15]), 4)
    0.0056
    """
    grid = as_grid(grid)
    size = cell_size(grid)
    return over_windows(
        grid,
        filling(_curvature_rows, list(_KINDS).index(kind)),
        (size.easting, size.northing),
        margin=(1, 1),
        name=f"{kind}_curvature",
        attributes={"units": "m-1", "long_name": _KINDS[kind]},
    )


@compiled
def _curvature_rows(
    which: int,
    depth: NDArray[np.float32],
    width: Floats,
    height: Floats,
    out: NDArray[np.float32],
) -> None:
    rows, columns = depth.shape
    for row in range(1, rows - 1):
        w, h = width[row], height[row]
        for c in range(1, columns - 1):
            middle = float(depth[row, c])
            west, east = depth[row, c - 1] - middle, depth[row, c + 1] - middle
            north, south = depth[row - 1, c] - middle, depth[row + 1, c] - middle
            northwest, northeast = depth[row - 1, c - 1] - middle, depth[row - 1, c + 1] - middle
            southwest, southeast = depth[row + 1, c - 1] - middle, depth[row + 1, c + 1] - middle
            xx, yy = (east + west) / (w * w), (north + south) / (h * h)
            xy = (northeast - northwest - southeast + southwest) / (4 * w * h)
            if which == 2:
                out[row, c] = (xx + yy) / 2 + 0 * xy  # void corners void the mean too
                continue
            gx, gy = (east - west) / (2 * w), (north - south) / (2 * h)
            square = gx * gx + gy * gy
            if math.isnan(square) or square == 0:
                continue
            if which == 0:
                out[row, c] = (gx * gx * xx + 2 * gx * gy * xy + gy * gy * yy) / square
            else:
                out[row, c] = (gy * gy * xx - 2 * gx * gy * xy + gx * gx * yy) / square
