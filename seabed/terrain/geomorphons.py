"""Landforms by what is seen in eight directions (Jasiewicz & Stepinski 2013, Geomorphology 182)."""

from __future__ import annotations

import math
from enum import IntEnum
from typing import Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.compiled import compiled
from seabed.errors import GridError
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid
from seabed.terrain.chunks import filling, over_windows


class Landform(IntEnum):
    """The ten common landforms of Jasiewicz & Stepinski (2013), in their order."""

    FLAT = 1
    PEAK = 2
    RIDGE = 3
    SHOULDER = 4
    SPUR = 5
    SLOPE = 6
    HOLLOW = 7
    FOOTSLOPE = 8
    VALLEY = 9
    PIT = 10


_F, _P, _R, _H, _S = Landform.FLAT, Landform.PEAK, Landform.RIDGE, Landform.SHOULDER, Landform.SPUR
_L, _O, _T, _V, _D = (
    Landform.SLOPE, Landform.HOLLOW, Landform.FOOTSLOPE, Landform.VALLEY, Landform.PIT,
)  # fmt: skip
_TABLE: Final = np.array(
    # directions seen lower, 0 to 8 (across), by directions seen higher, 0 to 8 (down)
    [
        [_F, _F, _F, _H, _H, _R, _R, _R, _P],
        [_F, _F, _H, _H, _H, _R, _R, _R, _F],
        [_F, _T, _L, _L, _S, _S, _R, _F, _F],
        [_T, _T, _L, _L, _L, _S, _F, _F, _F],
        [_T, _T, _O, _L, _L, _F, _F, _F, _F],
        [_V, _V, _O, _O, _F, _F, _F, _F, _F],
        [_V, _V, _V, _F, _F, _F, _F, _F, _F],
        [_V, _V, _F, _F, _F, _F, _F, _F, _F],
        [_D, _F, _F, _F, _F, _F, _F, _F, _F],
    ],
    dtype=np.float32,
)  # fmt: skip


def geomorphons(
    grid: xr.DataArray, *, search_m: float, flat_deg: float = 1.0, skip_m: float = 0.0
) -> xr.DataArray:
    """Class each cell by whether the bottom rises, falls or is level in eight directions.

    Parameters
    ----------
    grid : depth grid
    search_m : float
        How far to look over the ground.
    flat_deg : float
        Lines of sight within this of level count as level.
    skip_m : float
        Cells nearer than this do not count, which passes over ripples.

    Returns
    -------
    xarray.DataArray of float32
        Values of `Landform`, 1 to 10; lazy if the grid is.  NaN at void cells and where a border or
        void hides every cell of some direction.

    Raises
    ------
    GridError
        If the search does not reach the next cell in every direction.

    Notes
    -----
    In each direction the steepest lines of sight up (zenith) and down (nadir) are compared, as in
    the paper; the direction is level unless the steeper of the two leaves the horizon by
    `flat_deg`.  Diagonal steps go one cell each way, whatever the cells' shape.

    Examples
    --------
    >>> from seabed import example_grid
    >>> float(geomorphons(example_grid(), search_m=50).values[20, 15])
    2.0
    """
    grid = as_grid(grid)
    size = cell_size(grid)
    diagonal = float(np.hypot(size.easting, size.northing).max())
    if not search_m >= diagonal + skip_m:
        raise GridError(
            f"looking from {skip_m:g} m to {search_m:g} m passes over no cell in some direction",
            do=f"Search at least {diagonal + skip_m:.3g} m.",
        )
    reach = (int(search_m / size.northing.min()) + 1, int(search_m / size.easting.min()) + 1)
    return over_windows(
        grid,
        filling(_classes, search_m, skip_m, math.tan(math.radians(flat_deg)), _TABLE),
        (size.easting, size.northing),
        margin=reach,
        name="geomorphons",
        attributes={
            "long_name": "landform",
            "flag_values": [int(form) for form in Landform],
            "flag_meanings": " ".join(form.name.lower() for form in Landform),
            "search_m": search_m,
        },
    )


@compiled
def _classes(  # noqa: PLR0917  (compiled functions take no keywords)
    search: float,
    skip: float,
    least: float,
    table: NDArray[np.float32],
    depth: NDArray[np.float32],
    width: Floats,
    height: Floats,
    out: NDArray[np.float32],
) -> None:
    rows, columns = depth.shape
    for row in range(rows):
        for column in range(columns):
            here = float(depth[row, column])
            if math.isnan(here):
                continue
            higher, lower, seen = 0, 0, 0
            for direction in range(9):
                if direction == 4:
                    continue
                down, right = direction // 3 - 1, direction % 3 - 1
                step = math.hypot(down * height[row], right * width[row])
                up, under = -np.inf, -np.inf
                r, c, away = row + down, column + right, step
                while away <= search and 0 <= r < rows and 0 <= c < columns:
                    rise = (here - depth[r, c]) / away
                    if away >= skip and not math.isnan(rise):
                        up, under = max(up, rise), max(under, -rise)
                    r, c, away = r + down, c + right, away + step
                if up == -np.inf:
                    continue
                seen += 1
                # tangents in place of angles: the greater tangent is the greater angle
                if max(up, under) > least:
                    if up > under:
                        higher += 1
                    elif under > up:
                        lower += 1
            if seen == 8:
                out[row, column] = table[higher, lower]
