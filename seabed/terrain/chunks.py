"""Run a moving-window kernel over a depth grid, in memory or chunk by chunk with overlap."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats

Kernel = Callable[..., NDArray[np.float32]]
"""(block of depths, one value a row, ...) to a block of the same shape.

Beyond the block's own border everything counts as void.
"""

_CLASS_RATIO: Final = 1.01


def filling(fill: Callable[..., None], *constants: Any) -> Kernel:
    """Make a kernel of a compiled function of constants, the kernel's own arguments and its result.

    The result begins void.
    """

    def kernel(depth: NDArray[np.float32], *per_row: NDArray[Any]) -> NDArray[np.float32]:
        out = np.full_like(depth, np.nan)
        fill(*constants, depth, *per_row, out)
        return out

    return kernel


def over_windows(
    grid: xr.DataArray,
    kernel: Kernel,
    per_row: Sequence[NDArray[Any]] = (),
    *,
    margin: tuple[int, int],
    name: str,
    attributes: dict[str, Any],
) -> xr.DataArray:
    """Apply `kernel` to a depth grid; a dask-backed one stays lazy.

    Each chunk then sees `margin` cells of its neighbours, so that chunk borders leave no trace.

    per_row: arrays, shape (rows,); passed to the kernel, cut to the rows it sees.
    margin: (rows, columns); how far the kernel looks.
    """
    if grid.chunks is None:
        values: Any = kernel(contiguous(grid.values), *per_row)
    else:
        values = _lazily(grid, kernel, per_row, margin)
    return like(grid, values, name=name, attributes=attributes)


def like(grid: xr.DataArray, values: Any, *, name: str, attributes: dict[str, Any]) -> xr.DataArray:
    """Wrap values on the coordinates and CRS of `grid`."""
    return xr.DataArray(values, coords=grid.coords, dims=grid.dims, name=name, attrs=attributes)


def contiguous(values: NDArray[Any]) -> NDArray[np.float32]:
    """float32 in row order, as the compiled kernels want it; no copy where it already is."""
    return np.ascontiguousarray(values, dtype=np.float32)


def row_classes(width: Floats) -> Floats:
    """Round widths of cells to steps of one per cent, so that rows can share a kernel.

    The step is the same everywhere, so a row falls into the same class however the grid is cut.
    A grid whose widths are all equal keeps its exact width.
    """
    if np.all(width == width[0]):
        return width
    return np.asarray(_CLASS_RATIO ** np.rint(np.log(width) / np.log(_CLASS_RATIO)), dtype=float)


def _lazily(
    grid: xr.DataArray,
    kernel: Kernel,
    per_row: Sequence[NDArray[Any]],
    margin: tuple[int, int],
) -> Any:
    da: Any = import_module("dask.array")  # slow to load, and only wanted here

    row_chunks = grid.chunks[0] if grid.chunks else None
    columns = [da.from_array(values[:, None], chunks=(row_chunks, 1)) for values in per_row]

    def on_block(depth: NDArray[Any], *rows: NDArray[Any]) -> NDArray[np.float32]:
        return kernel(contiguous(depth), *(np.ascontiguousarray(row[:, 0]) for row in rows))

    return da.map_overlap(
        on_block,
        grid.data,
        *columns,
        depth=[margin] + [(margin[0], 0)] * len(columns),
        boundary=[np.nan] + ["nearest"] * len(columns),
        dtype=np.float32,
        meta=np.empty((0, 0), np.float32),
    )
