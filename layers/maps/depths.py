"""The depth grid packed for the browser: in the map's projection, whole numbers, deflated."""

from __future__ import annotations

import base64
import zlib
from typing import Any, Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.enums import Resampling
from rasterio.transform import array_bounds
from rasterio.warp import calculate_default_transform, reproject

from seabed.grid import bounds, crs_of, transform_of

__all__ = ["MOST_CELLS", "pack_depths"]

MOST_CELLS: Final = 4_000_000
"""A larger grid is shown reduced to about this many cells."""

WEB: Final = "EPSG:3857"
VOID: Final = 0
STEPS: Final = 65_534  # whole numbers from 1 to 65,535


def pack_depths(grid: xr.DataArray, *, most_cells: int = MOST_CELLS) -> dict[str, Any]:
    """Pack a depth grid for the page.

    Parameters
    ----------
    grid : depth grid, held in memory
    most_cells : int
        Reduce to about this many.

    Returns
    -------
    dict
        ``rows``, ``columns``; ``bounds`` (west, south, east, north in metres of web Mercator);
        ``least``, ``step``: depth in metres = least + step * (number - 1), 0 is void; ``reduced``,
        how many cells of the grid each stands for along a side (1 where not reduced); ``data``:
        base64 of zlib of 16-bit whole numbers, all the low bytes before all the high ones: each
        cell's difference from left + upper - upper left neighbour (0 off the grid), wrapped, and
        zigzag (0, -1, 1, -2, … as 0, 1, 2, 3, …).  The step is at most 1 cm for up to 655 m of
        range.
    """
    warped, transform, reduced = _warp(grid, most_cells)
    known = np.isfinite(warped)
    least = float(np.floor(warped[known].min() * 100) / 100) if known.any() else 0.0
    span = float(warped[known].max()) - least if known.any() else 0.0
    step = max(0.01, span / STEPS)
    numbers = np.full(warped.shape, VOID, np.uint16)
    numbers[known] = np.round((warped[known] - least) / step).astype(np.uint16) + 1
    rows, columns = warped.shape
    west, south, east, north = array_bounds(rows, columns, transform)
    return {
        "rows": rows,
        "columns": columns,
        "bounds": [west, south, east, north],
        "least": least,
        "step": step,
        "reduced": reduced,
        "data": base64.b64encode(_squeeze(numbers)).decode("ascii"),
    }


def _squeeze(numbers: NDArray[np.uint16]) -> bytes:
    """Deflate; run lengths alone do as well as a full search after this, in a hundredth of it."""
    across = numbers.copy()
    across[:, 1:] -= numbers[:, :-1]
    steps = across.copy()
    steps[1:] -= across[:-1]
    signed = steps.view(np.int16)
    zigzag = ((signed << 1) ^ (signed >> 15)).view(np.uint16)
    planes = np.concatenate([(zigzag & 0xFF).ravel(), (zigzag >> 8).ravel()]).astype(np.uint8)
    deflate = zlib.compressobj(6, zlib.DEFLATED, zlib.MAX_WBITS, 9, zlib.Z_RLE)
    return deflate.compress(planes.tobytes()) + deflate.flush()


def _warp(grid: xr.DataArray, most_cells: int) -> tuple[NDArray[np.float32], Any, float]:
    edge = bounds(grid)
    rows, columns = grid.shape
    crs = crs_of(grid)
    shrink = max(1.0, np.sqrt(rows * columns / most_cells))
    transform, width, height = calculate_default_transform(
        crs, WEB, columns, rows, edge.west, edge.south, edge.east, edge.north
    )
    if shrink > 1:
        transform = Affine(
            transform.a * shrink, 0.0, transform.c, 0.0, transform.e * shrink, transform.f
        )
        width, height = round(width / shrink), round(height / shrink)
    warped = np.full((height, width), np.nan, np.float32)
    reproject(
        np.ascontiguousarray(grid.values, np.float32),
        warped,
        src_transform=transform_of(grid),
        src_crs=CRS.from_user_input(crs).to_wkt(),
        src_nodata=np.nan,
        dst_transform=transform,
        dst_crs=WEB,
        dst_nodata=np.nan,
        resampling=Resampling.average if shrink > 1 else Resampling.bilinear,
    )
    return warped, transform, float(shrink)
