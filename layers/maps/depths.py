"""Grids packed for the browser, in the map's projection: depths and expected fish."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.enums import Resampling
from rasterio.transform import array_bounds
from rasterio.warp import calculate_default_transform, reproject

from layers.maps.detail import TILE, tile_window, tiles_near
from seabed.grid import crs_of, transform_of

MOST_CELLS: Final = 4_000_000
"""A grid of at most about this many cells is on the map as it is."""

OVERVIEW_CELLS: Final = 2_000_000
"""A larger one is shown reduced to about this many …"""

DETAIL_CELLS: Final = 2_000_000
"""… with at most this many more in full detail, where lines, drifts and fish are."""

PREVIEW_CELLS: Final = 60_000
"""What is painted first, while the rest is unpacked."""

WEB: Final = "EPSG:3857"
VOID: Final = 0
STEPS: Final = 65_534  # whole numbers from 1 to 65,535

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Scale:
    """Depths as whole numbers: ``least + step * (number - 1)`` metres, 0 is void."""

    least: float
    step: float

    @classmethod
    def of(cls, least: float, most: float) -> Scale:
        """Give steps of 1 cm, or wider ones where 65,534 of them are too few."""
        if not np.isfinite(least):
            return cls(0.0, 0.01)
        floor = float(np.floor(least * 100) / 100)
        return cls(floor, max(0.01, (most - floor) / STEPS))

    def numbers(self, depth: Floats) -> NDArray[np.uint16]:
        """Give depths as numbers of steps; 0 where there is none."""
        known = np.isfinite(depth)
        numbers = np.full(depth.shape, VOID, np.uint16)
        within = np.clip(np.round((depth[known] - self.least) / self.step), 0, STEPS)
        numbers[known] = within.astype(np.uint16) + 1
        return numbers


def pack_depths(
    grid: xr.DataArray,
    *,
    near: Sequence[NDArray[np.object_]] = (),
    most_cells: int = MOST_CELLS,
) -> dict[str, Any]:
    """Pack a depth grid for the page.

    grid: may be dask-backed: strips and tiles of it are read, never the whole of a large one.
    near: arrays of geometries, EPSG:4326, of what matters on the map, the most important first: a
        reduced grid keeps full detail around it, as far as `DETAIL_CELLS` go.
    most_cells: a larger grid is reduced to about half as many.
    Returned: ``rows``, ``columns``; ``bounds`` (west, south, east, north in metres of web
        Mercator); ``least``, ``step``: depth in metres = least + step * (number - 1), 0 is void;
        ``most``, the greatest depth, and ``deepest``, which 99 % of cells do not pass;
        ``surveyed``, the box of what is not void (None if all is); ``reduced``, how many cells of
        the grid each replaces along a side (1 where not reduced); ``data``: base64 of zlib of
        16-bit whole numbers, all the low bytes before all the high ones: each cell's difference
        from left + upper - upper left neighbour (0 off the grid), wrapped, and zigzag (0, -1, 1,
        -2, … as 0, 1, 2, 3, …).  The step is at most 1 cm for up to 655 m of range.  ``preview``:
        rows, columns, bounds and data of the same, much reduced.  ``tiles``: None, or squares in
        full detail one below the other: ``size`` of a side, with a margin of one cell all round
        that the next tile has too, ``bounds`` of each and ``data``; ``short`` if not all of what
        is `near` has them.
    """
    cells = grid.shape[0] * grid.shape[1]
    wanted = most_cells if cells <= most_cells else min(OVERVIEW_CELLS, most_cells // 2)
    warped, transform, shrink, ends = to_web(grid, wanted)
    scale = Scale.of(*ends)
    packed = _packed(warped, transform, scale)
    small = max(1, int(np.ceil(np.sqrt(warped.size / PREVIEW_CELLS))))
    preview = _packed(block_means(warped, small), transform @ Affine.scale(small), scale)
    tiles = _tiles(grid, near, scale, most_cells // 2) if shrink > 1 else None
    return packed | {
        "least": scale.least,
        "step": scale.step,
        **_ends(warped, scale),
        "surveyed": _surveyed(warped, transform),
        "reduced": shrink,
        "preview": preview,
        "tiles": tiles,
    }


def _ends(depth: Floats, scale: Scale) -> dict[str, float]:
    """Greatest depth, and the one that 1 % of cells are deeper than: there the colours end."""
    counts = np.bincount(scale.numbers(depth).ravel(), minlength=STEPS + 2)
    counts[VOID] = 0
    known = int(counts.sum())
    if not known:
        return {"most": scale.least, "deepest": scale.least}
    number = int(np.searchsorted(np.cumsum(counts), 0.99 * known))
    most = int(np.flatnonzero(counts)[-1])
    of_number = [scale.least + scale.step * (n - 1) for n in (most, min(number, most))]
    return {"most": of_number[0], "deepest": of_number[1]}


def _surveyed(depth: Floats, transform: Affine) -> list[float] | None:
    known = np.isfinite(depth)
    rows, columns = np.flatnonzero(known.any(axis=1)), np.flatnonzero(known.any(axis=0))
    if not len(rows):
        return None
    corner = transform @ Affine.translation(float(columns[0]), float(rows[0]))
    size = (int(rows[-1] - rows[0]) + 1, int(columns[-1] - columns[0]) + 1)
    return list(array_bounds(*size, corner))


def to_web(
    grid: xr.DataArray, most_cells: int
) -> tuple[Floats, Affine, float, tuple[float, float]]:
    """Give a grid's values in web Mercator, as means of squares if it has more cells.

    Also the transform, how many cells each replaces along a side (1 where not reduced), and the
    least and greatest value.
    """
    shrink = max(1.0, float(np.sqrt(grid.shape[0] * grid.shape[1] / most_cells)))
    blocks = max(1, int(shrink / 2))  # the rest of the way is the warp's
    coarse, ends = _in_blocks(grid, blocks)
    transform = transform_of(grid) @ Affine.scale(blocks)
    warped, target = _warped(coarse, transform, crs_of(grid), shrink / blocks)
    return warped, target, shrink, ends


def _packed(depth: Floats, transform: Affine, scale: Scale) -> dict[str, Any]:
    rows, columns = depth.shape
    return {
        "rows": rows,
        "columns": columns,
        "bounds": list(array_bounds(rows, columns, transform)),
        "data": _squeezed(scale.numbers(depth)),
    }


def _squeezed(numbers: NDArray[np.uint16]) -> str:
    """Deflate; run lengths alone do as well as a full search after this, in a hundredth of it."""
    across = numbers.copy()
    across[:, 1:] -= numbers[:, :-1]
    steps = across.copy()
    steps[1:] -= across[:-1]
    signed = steps.view(np.int16)
    zigzag = ((signed << 1) ^ (signed >> 15)).view(np.uint16)
    planes = np.concatenate([(zigzag & 0xFF).ravel(), (zigzag >> 8).ravel()]).astype(np.uint8)
    deflate = zlib.compressobj(6, zlib.DEFLATED, zlib.MAX_WBITS, 9, zlib.Z_RLE)
    return base64.b64encode(deflate.compress(planes.tobytes()) + deflate.flush()).decode("ascii")


def _in_blocks(grid: xr.DataArray, side: int) -> tuple[Floats, tuple[float, float]]:
    """Means of squares of `side` cells, read strip by strip, and the least and greatest value."""
    rows = grid.shape[0]
    strip = rows if side == 1 else side * max(1, 512 // side)
    parts: list[Floats] = []
    ends = [(np.inf, -np.inf)]
    for top in range(0, rows, strip):
        part = np.asarray(grid[top : top + strip].values, np.float32)
        if np.isfinite(part).any():
            ends.append((float(np.nanmin(part)), float(np.nanmax(part))))
        parts.append(block_means(part, side))
    least, most = min(low for low, _ in ends), max(high for _, high in ends)
    return np.concatenate(parts), (least, most)


def block_means(depth: Floats, side: int) -> Floats:
    """Mean of what is known in each square; those at the far edges may be smaller."""
    if side == 1:
        return depth
    rows, columns = depth.shape
    whole = np.pad(depth, ((0, -rows % side), (0, -columns % side)), constant_values=np.nan)
    squares = whole.reshape(whole.shape[0] // side, side, -1, side)
    known = np.isfinite(squares)
    count = known.sum(axis=(1, 3))
    total = np.where(known, squares, 0).sum(axis=(1, 3), dtype=np.float64)
    means = np.full(count.shape, np.nan, np.float32)
    np.divide(total, count, out=means, where=count > 0, casting="same_kind")
    return means


def _warped(depth: Floats, transform: Affine, crs: CRS, shrink: float) -> tuple[Floats, Affine]:
    """Turn into web Mercator, with cells `shrink` times as wide."""
    target, width, height = _lattice(depth.shape, transform, crs)
    if shrink > 1:
        target = target @ Affine.scale(shrink)
        width, height = max(1, round(width / shrink)), max(1, round(height / shrink))
    warped = onto_web(depth, transform, crs, target, (height, width), averaged=shrink > 1)
    return warped, target


def _lattice(shape: tuple[int, int], transform: Affine, crs: CRS) -> tuple[Affine, int, int]:
    rows, columns = shape
    edges = array_bounds(rows, columns, transform)
    fitted = calculate_default_transform(crs, WEB, columns, rows, *edges)
    return fitted[0], int(fitted[1] or 1), int(fitted[2] or 1)


def onto_web(
    depth: Floats,
    transform: Affine,
    crs: CRS,
    target: Affine,
    shape: tuple[int, int],
    *,
    averaged: bool = False,
) -> Floats:
    """Turn depths into web Mercator, onto a lattice of `target`; land and void stay NaN."""
    warped = np.full(shape, np.nan, np.float32)
    reproject(
        np.ascontiguousarray(depth, np.float32),
        warped,
        src_transform=transform,
        src_crs=crs.to_wkt(),
        src_nodata=np.nan,
        dst_transform=target,
        dst_crs=WEB,
        dst_nodata=np.nan,
        resampling=Resampling.average if averaged else Resampling.bilinear,
    )
    return warped


def _tiles(
    grid: xr.DataArray, near: Iterable[NDArray[np.object_]], scale: Scale, most_cells: int
) -> dict[str, Any] | None:
    """Pack the tiles of full detail around what matters."""
    crs = crs_of(grid)
    target, width, height = _lattice(
        (int(grid.shape[0]), int(grid.shape[1])), transform_of(grid), crs
    )
    side = TILE + 2
    most = min(DETAIL_CELLS, most_cells) // side**2
    chosen = tiles_near(near, target, (height, width))
    strips: list[NDArray[np.uint16]] = []
    places: list[list[float]] = []
    for row, column in chosen[:most]:
        corner = target @ Affine.translation(column * TILE - 1, row * TILE - 1)
        edges = array_bounds(side, side, corner)
        part = tile_window(grid, edges, WEB)
        if part is None or not np.isfinite(part.values).any():
            continue
        depth = onto_web(part.values, transform_of(part), crs, corner, (side, side))
        strips.append(scale.numbers(depth))
        places.append(list(edges))
    if not strips:
        return None
    return {
        "size": side,
        "bounds": places,
        "short": len(chosen) > most,
        "data": _squeezed(np.concatenate(strips)),
    }


RATE_CELLS: Final = 1_000_000
"""Rates change slowly over the ground: fewer cells than the depths do."""

RATE_STEPS: Final = 254
MOST_RATIO: Final = 1e4
"""Limits further apart than this are shown as this far apart."""


def pack_expected(expected: xr.Dataset) -> dict[str, Any] | None:
    """Pack expected fish a rod-hour for the page; None where no cell is known.

    expected: ``rate``, ``rate_low`` and ``rate_high`` on the cells of a grid; NaN where unknown.
    Returned: ``rows``, ``columns``; ``bounds`` as `pack_depths`; ``scales``, for each of rate, low
        and high the pair ``[least, step]`` of its natural logarithm: value = exp(least + step *
        (number - 1)), 0 is void; ``most``, the rate that 99 % of cells keep under, where the
        colours end; ``data``: base64 of zlib of the three planes of bytes, row by row.

    Limits are about their rate by a factor, so the bytes count logarithms: over a range of 10,000
    to 1 a step is 3.7 %.
    """
    planes, transform = [], None
    for name in ("rate", "rate_low", "rate_high"):
        plane, transform, *_ = to_web(expected[name], RATE_CELLS)
        planes.append(plane)
    rate, low, high = planes
    known = np.isfinite(rate) & np.isfinite(low) & np.isfinite(high) & (high > 0)
    if not known.any() or transform is None:
        return None
    floor = max(float(high[known].max()) / MOST_RATIO, 1e-6)
    packed = [_bytes(plane, known, floor) for plane in (rate, low, high)]
    rows, columns = rate.shape
    raw = b"".join(numbers.tobytes() for numbers, _ in packed)
    return {
        "rows": rows,
        "columns": columns,
        "bounds": list(array_bounds(rows, columns, transform)),
        "scales": [scale for _, scale in packed],
        "most": float(np.quantile(rate[known], 0.99)),
        "data": base64.b64encode(zlib.compress(raw, 6)).decode("ascii"),
    }


def _bytes(
    plane: NDArray[np.float32], known: NDArray[np.bool_], floor: float
) -> tuple[NDArray[np.uint8], list[float]]:
    """Logarithms as whole numbers from 1 to 255, and the least and step of them."""
    logs = np.log(np.maximum(plane[known].astype(np.float64), floor))
    least = float(logs.min())
    step = max((float(logs.max()) - least) / RATE_STEPS, 1e-6)
    numbers = np.full(plane.shape, VOID, np.uint8)
    numbers[known] = np.round((logs - least) / step).astype(np.uint8) + 1
    return numbers, [least, step]
