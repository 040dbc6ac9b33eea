"""Vector ruggedness (Sappington, Longshore & Thompson 2007, J. Wildl. Manage. 71(5), 1419-1426)."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled
from seabed.errors import GridError
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.terrain.chunks import over_windows


def vector_ruggedness(grid: xr.DataArray, *, radius_m: float) -> xr.DataArray:
    """How much the bottom's normals differ around each cell: roughness that slope alone is not.

    Parameters
    ----------
    grid : depth grid
    radius_m : float
        Half the side of the square window over the ground; at least one cell each way is taken.

    Returns
    -------
    xarray.DataArray of float32
        0 (even, however steep) to 1; lazy if the grid is.  Normals come from Horn's (1981)
        gradient.  Cells without a normal, as at borders and voids, are left out; NaN where the cell
        itself has none.

    Raises
    ------
    GridError
        If the radius is not above zero.

    Examples
    --------
    >>> from seabed import example_grid
    >>> round(float(vector_ruggedness(example_grid(), radius_m=15).values[30, 40]), 4)
    0.0013
    """
    grid = as_grid(grid)
    if not radius_m > 0:
        raise GridError(f"a radius of {radius_m:g} m is too small", do="Give metres above 0.")
    size = cell_size(grid)
    row = len(size.easting) // 2
    half_rows = max(1, int(radius_m / size.northing[row] + 0.5))
    half_columns = np.maximum(1, (radius_m / size.easting + 0.5).astype(int)).astype(float)

    def kernel(
        depth: NDArray[np.float32],
        width: Floats,
        height: Floats,
        half: Floats,
    ) -> NDArray[np.float32]:
        normals = np.zeros((4, *depth.shape), np.float32)
        _normals(depth, width, height, normals)
        out = np.full_like(depth, np.nan)
        _spread(normals, half_rows, half.astype(np.int64), out)
        return out

    return over_windows(
        grid,
        kernel,
        (size.easting, size.northing, half_columns),
        margin=(half_rows + 1, int(half_columns.max()) + 1),
        name="vector_ruggedness",
        attributes={"units": "1", "long_name": "vector ruggedness", "radius_m": radius_m},
    )


@compiled
def _normals(
    depth: NDArray[np.float32],
    width: Floats,
    height: Floats,
    out: NDArray[np.float32],
) -> None:
    """Fill in unit normals, and a 1 for each cell that has one."""
    rows, columns = depth.shape
    for row in range(1, rows - 1):
        for c in range(1, columns - 1):
            east = (
                (depth[row - 1, c + 1] - depth[row - 1, c - 1]) / width[row - 1]
                + 2 * (depth[row, c + 1] - depth[row, c - 1]) / width[row]
                + (depth[row + 1, c + 1] - depth[row + 1, c - 1]) / width[row + 1]
            ) / 8
            north = (
                (depth[row - 1, c - 1] - depth[row + 1, c - 1])
                + 2 * (depth[row - 1, c] - depth[row + 1, c])
                + (depth[row - 1, c + 1] - depth[row + 1, c + 1])
            ) / (8 * height[row])
            length = np.sqrt(1 + east * east + north * north)
            if np.isnan(length) or np.isnan(depth[row, c]):
                continue
            out[0, row, c], out[1, row, c] = east / length, north / length
            out[2, row, c], out[3, row, c] = 1 / length, 1


@compiled
def _spread(  # noqa: PLR0912  (one running sum, four borders)
    normals: NDArray[np.float32], half_rows: int, half: Ints, out: NDArray[np.float32]
) -> None:
    """One minus the length of the mean normal, by running sums down columns and along rows."""
    _, rows, columns = normals.shape
    column_sum = np.zeros((4, columns))
    for row in range(min(half_rows, rows)):
        for k in range(4):
            for c in range(columns):
                column_sum[k, c] += normals[k, row, c]
    window = np.empty(4)
    for row in range(rows):
        for k in range(4):
            for c in range(columns):
                if row + half_rows < rows:
                    column_sum[k, c] += normals[k, row + half_rows, c]
                if row - half_rows - 1 >= 0:
                    column_sum[k, c] -= normals[k, row - half_rows - 1, c]
        reach = half[row]
        for k in range(4):
            window[k] = 0.0
            for c in range(min(reach, columns)):
                window[k] += column_sum[k, c]
        for c in range(columns):
            for k in range(4):
                if c + reach < columns:
                    window[k] += column_sum[k, c + reach]
                if c - reach - 1 >= 0:
                    window[k] -= column_sum[k, c - reach - 1]
            if normals[3, row, c] > 0:
                length = np.sqrt(window[0] ** 2 + window[1] ** 2 + window[2] ** 2)
                out[row, c] = max(0.0, 1 - length / window[3])
