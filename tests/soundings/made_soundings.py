"""Tables of soundings over surfaces that are known by formula, in UTM zone 25N."""

from __future__ import annotations

import numpy as np
import xarray as xr
from affine import Affine
from pyproj import Transformer

from seabed.grid import make_grid
from seabed.soundings import sounding_table

CRS = "EPSG:32625"
EAST, NORTH = 470_000.0, 5_116_000.0
TO_DEGREES = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)


def soundings_at(x, y, depth, *, sigma_m=0.1, seconds=None, line=None):
    """Table of soundings `x` metres east and `y` north of the corner."""
    longitude, latitude = TO_DEGREES.transform(EAST + np.asarray(x), NORTH + np.asarray(y))
    seconds = np.arange(len(longitude)) if seconds is None else seconds
    return sounding_table(
        time=np.datetime64("2031-06-10", "ns") + (np.asarray(seconds) * 1e9).astype("m8[ns]"),
        longitude=longitude,
        latitude=latitude,
        depth_m=depth,
        sigma_m=np.full(len(longitude), sigma_m),
        line=np.zeros(len(longitude), int) if line is None else line,
    )


def lines(*, spacing=20.0, step=3.0, side=300.0):
    """Places along parallel lines, there and back."""
    along = np.arange(0, side, step)
    across = np.arange(0, side, spacing)
    x = np.repeat(across, len(along))
    y = np.concatenate([along[:: 1 if i % 2 == 0 else -1] for i in range(len(across))])
    return x, y


def cells(*, side=84, cell=4.0, values=None, crs=CRS, west=EAST - 14.0, north=NORTH + 314.0):
    """Depth grid over the lines, to grid `like`."""
    values = np.full((side, side), 10.0) if values is None else values
    return make_grid(
        values.astype(np.float32), transform=Affine(cell, 0, west, 0, -cell, north), crs=crs,
        vertical_datum="datum of the test", source="open",
    )  # fmt: skip


def centres(grid: xr.DataArray):
    """Metres east and north of the corner of every cell's middle."""
    return np.meshgrid(grid.x.values - EAST, grid.y.values - NORTH)
