"""A small invented bottom, and soundings of it, to try things on."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr
from affine import Affine

from seabed.geodesy import to_degrees
from seabed.grid import crs_of, make_grid
from seabed.grid.places import sample
from seabed.soundings.sounding_table import sounding_table


def example_grid() -> xr.DataArray:
    """Make a small bottom: 400 m by 300 m in cells of 5 m, 6 m deep in the west, 14 m in the east.

    An edge runs north through its middle; there is a hump west of it, and a hole east of it.

    Returns
    -------
    xarray.DataArray
        A depth grid.

    Examples
    --------
    >>> grid = example_grid()
    >>> grid.shape, float(grid.min()), float(grid.max())
    ((60, 80), 4.0, 17.0)
    """
    row, column = np.mgrid[:60, :80]
    depth = 10 + 4 * np.tanh((column - 40) / 3)
    depth -= 2 * np.exp(-((row - 20) ** 2 + (column - 15) ** 2) / 30)
    depth += 3 * np.exp(-((row - 40) ** 2 + (column - 65) ** 2) / 30)
    return make_grid(
        depth.round(2), transform=Affine(5, 0, 500_000, 0, -5, 5_100_000), crs="EPSG:32631",
        source="an invented bottom",
    )  # fmt: skip


def example_soundings() -> pd.DataFrame:
    """Make soundings of `example_grid`, one every 5 m, 0.3 m deeper than it is.

    Twelve lines 25 m apart run east, and one across them north.

    Returns
    -------
    DataFrame
        As `seabed.soundings.flagged` and `reduced` give them.

    Examples
    --------
    >>> soundings = example_soundings()
    >>> len(soundings), soundings["line"].nunique()
    (1020, 13)
    """
    grid = example_grid()
    x, y = grid["x"].values, grid["y"].values[::-1]
    lines = [(x, np.full(len(x), north)) for north in y[2::5]] + [(np.full(len(y), x[30] + 2), y)]
    east, north = (np.concatenate(part) for part in zip(*lines, strict=True))
    longitude, latitude = to_degrees(crs_of(grid)).transform(east, north)
    depth = sample(grid, longitude, latitude) + 0.3
    line = np.repeat(np.arange(len(lines)), [len(one) for one, _ in lines])
    seconds = np.arange(depth.size) * 2.5 + line * 60
    return sounding_table(
        time=pd.Timestamp("2031-06-14T08:00Z") + pd.to_timedelta(seconds, unit="s"),
        longitude=longitude,
        latitude=latitude,
        measured_m=depth,
        to_surface_m=np.zeros(depth.size),
        height_m=np.zeros(depth.size),
        depth_m=depth,
        sigma_m=np.full(depth.size, 0.1),
        sog_mps=np.full(depth.size, 2.0),
        line=line,
    )
