"""Channels and banks: long lows and highs, by their axes."""

from __future__ import annotations

from typing import Final, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from seabed.arrays import as_grid
from seabed.grid import cell_size, crs_of
from seabed.schema import Table, documented
from seabed.structure.axes import axis_lines, sides
from seabed.structure.lines import traced
from seabed.structure.scale import at_scale

__all__ = ["banks", "banks_and_channels", "channels"]

Kind = Literal["bank", "channel"]

AXES: Final = Table.of(
    "axes",
    "seabed.structure.banks_and_channels",
    """
    axis_id [int] 0, 1, ...
    kind [text] ``"bank"`` or ``"channel"``
    axis_depth_m median along the axis, smoothed
    depth_min_m, depth_max_m least and greatest depth along it
    height_m [depth] of the lower side over the axis, median
    width_m [distance] from rim to rim, median
    length_m [distance .2] along the axis
    bearing_deg trend, 0 <= bearing < 180, degrees true
    geometry [LineString]
    """,
)
_FAINT: Final = 0.3
"""An axis is followed on while its lower side keeps this share of the wanted height."""


@documented(AXES)
def channels(
    grid: xr.DataArray,
    *,
    scale_m: float = 100.0,
    min_length_m: float = 300.0,
    min_height_m: float = 1.0,
    reach_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Find axes of channels: lines that are the deepest across, whether or not they close.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    scale_m : float
        Smoothing scale: twice the standard deviation of the Gaussian the depths are smoothed with.
        A fifth or so of the channel's width shows it whole; less shows runnels within it.
    min_length_m : float
        Along the axis.
    min_height_m : float
        Of the lower of the two sides over the axis, in the median along it.
    reach_m : float, optional
        How far to look for the rims on each side, 5 `scale_m` by default.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, longest first; without rows where there is none.

        {axes}

    Raises
    ------
    GridError
        If the scale is not above zero or is finer than the cells.

    Notes
    -----
    Ridges and valleys of the smoothed bottom after Lindeberg (1998); see `seabed.structure.axes`.
    A rim is where a side has gained 95 % of its height, looking no further than `reach_m`, a void,
    or a fall by a quarter of what was gained.  Heights are those of the smoothed bottom, a little
    low.
    """
    grid = as_grid(grid)
    smooth = at_scale(grid, scale_m)
    return _axes(grid, smooth, "channel", scale_m, min_length_m, min_height_m, reach_m)


def banks(
    grid: xr.DataArray,
    *,
    scale_m: float = 100.0,
    min_length_m: float = 300.0,
    min_height_m: float = 1.0,
    reach_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Find axes of banks, crests of ridges and sand waves among them: `channels` turned over.

    Parameters, columns and errors as for `channels`; ``kind`` is ``"bank"``, and heights are of the
    axis over the lower of its two sides.
    """
    grid = as_grid(grid)
    smooth = at_scale(grid, scale_m)
    return _axes(grid, smooth, "bank", scale_m, min_length_m, min_height_m, reach_m)


def banks_and_channels(
    grid: xr.DataArray,
    *,
    scale_m: float = 100.0,
    min_length_m: float = 300.0,
    min_height_m: float = 1.0,
    reach_m: float | None = None,
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    """Find what `banks` and `channels` do, smoothing the bottom once.

    Examples
    --------
    >>> import numpy as np
    >>> from affine import Affine
    >>> from seabed import make_grid
    >>> waved = np.fromfunction(lambda row, _: 10 + 2 * np.cos((row - 60) / 12), (120, 120))
    >>> grid = make_grid(waved, transform=Affine(5, 0, 0, 0, -5, 0), crs="EPSG:32631")
    >>> banks, channels = banks_and_channels(grid, scale_m=40)
    >>> channels[["axis_depth_m", "length_m"]].round(0).values.tolist()
    [[12.0, 535.0]]
    """
    grid = as_grid(grid)
    smooth, limits = at_scale(grid, scale_m), (scale_m, min_length_m, min_height_m, reach_m)
    return _axes(grid, smooth, "bank", *limits), _axes(grid, smooth, "channel", *limits)


def _axes(  # noqa: PLR0917  (private; the public ones take keywords)
    grid: xr.DataArray,
    smooth: NDArray[np.float32],
    kind: Kind,
    scale_m: float,
    min_length_m: float,
    min_height_m: float,
    reach_m: float | None,
) -> gpd.GeoDataFrame:
    size, sign = cell_size(grid), 1 if kind == "channel" else -1
    depth = smooth * np.float32(sign)
    points, offsets = axis_lines(depth, size.easting, size.northing)
    beside = sides(
        depth,
        points,
        size.easting,
        size.northing,
        step_m=size.typical,
        reach_m=5 * scale_m if reach_m is None else reach_m,
    )
    good = beside.height >= _FAINT * min_height_m
    found = traced(grid, (points, offsets), good, gap_m=scale_m)
    profile = pd.DataFrame(
        {"depth_m": sign * beside.depth, "height_m": beside.height, "width_m": beside.width}
    )
    groups = profile.iloc[found.keep].groupby(found.line)
    table = found.table.assign(
        kind=kind,
        axis_depth_m=groups["depth_m"].median(),
        depth_min_m=groups["depth_m"].min(),
        depth_max_m=groups["depth_m"].max(),
        height_m=groups["height_m"].median(),
        width_m=groups["width_m"].median(),
    )
    chosen = table[(table["length_m"] >= min_length_m) & (table["height_m"] >= min_height_m)]
    chosen = chosen.sort_values("length_m", ascending=False, kind="stable", ignore_index=True)
    chosen["axis_id"] = np.arange(len(chosen))
    return AXES.frame(chosen, crs=crs_of(grid))
