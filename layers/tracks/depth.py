"""Depth under a track."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from layers.tracks.table import FIXES
from layers.water import Heights
from seabed.array_types import Floats
from seabed.errors import TrackError
from seabed.geodesy import from_degrees
from seabed.grid import bounds, crs_of
from seabed.grid.arrays import as_grid
from seabed.grid.places import sample, turned_onto


def depth_under(
    fixes: pd.DataFrame, grid: xr.DataArray, *, heights: Heights | None = None
) -> Floats:
    """Depth of water under each fix, metres, shape (n,).

    Parameters
    ----------
    fixes : DataFrame
        With ``time``, ``longitude`` and ``latitude``.
    grid : depth grid, held in memory
    heights : optional
        Tide heights over the grid's vertical datum, added to the charted depth.

    Returns
    -------
    ndarray of float64
        Bilinear; NaN off the grid, on land and where the height is not known.  The depth is the
        charted one where no heights are given.

    Examples
    --------
    >>> from layers import example_trip
    >>> fixes, catches = example_trip()
    >>> from seabed import example_grid
    >>> depth_under(fixes, example_grid())[[0, 300]].round(1).tolist()
    [6.0, 14.0]
    """
    grid = as_grid(grid)
    FIXES.check(fixes, "longitude", "latitude", *(["time"] if heights is not None else []))
    charted = sample(grid, fixes["longitude"].to_numpy(), fixes["latitude"].to_numpy())
    if heights is None:
        return charted
    return charted + np.asarray(heights.height_m(pd.DatetimeIndex(fixes["time"])), np.float64)


def check_on_grid(fixes: pd.DataFrame, grid: xr.DataArray) -> float:
    """Give the share of a track's fixes inside a grid's outer edges; TrackError if none is."""
    grid = as_grid(grid)
    FIXES.check(fixes, "longitude", "latitude")
    longitude, latitude = fixes["longitude"].to_numpy(), fixes["latitude"].to_numpy()
    box, crs = bounds(grid), crs_of(grid)
    to_grid = from_degrees(crs)
    x, y = to_grid.transform(longitude, latitude)
    if crs.is_geographic:
        x = turned_onto(np.asarray(x), box)
    inside = (x >= box.west) & (x <= box.east) & (y >= box.south) & (y <= box.north)
    if inside.any():
        return float(inside.mean())
    edges = to_grid.transform_bounds(box.west, box.south, box.east, box.north, direction="INVERSE")
    raise TrackError(
        f"the track is outside the depth grid: it covers {_span(longitude, latitude)}, the grid "
        f"{_span(np.array(edges[::2]), np.array(edges[1::2]))}",
        file=str(fixes["file"].iloc[0]) if "file" in fixes and len(fixes) else None,
        do="Name the grid of that water, or check the grid's CRS.",
    )


def _span(longitude: Floats, latitude: Floats) -> str:
    return (
        f"{_degrees(np.nanmin(latitude), 'NS')} to {_degrees(np.nanmax(latitude), 'NS')}, "
        f"{_degrees(np.nanmin(longitude), 'EW')} to {_degrees(np.nanmax(longitude), 'EW')}"
    )


def _degrees(value: float, sides: str) -> str:
    return f"{abs(value):.4f}° {sides[0] if value >= 0 else sides[1]}"
