"""Several grids as one: the finest wins, and no seams are left between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.enums import Resampling
from rasterio.warp import reproject, transform_bounds
from scipy.ndimage import distance_transform_edt, uniform_filter

from seabed.errors import GridError
from seabed.geodesy import cell_metres
from seabed.loaders.layer import moved

ALIGNED: Final = 0.02
"""Shift between two grids, in cells, below which they count as parts of one."""

MOST_CELLS: Final = 400_000_000
LAND: Final = np.float32(-np.inf)

REACH: Final = 8
"""Cells of a coarser grid over which its shift at a finer one's border fades out."""

SMALL_SHIFT: Final = 0.01
COVERED: Final = 0.999


@dataclass(slots=True)
class Piece:
    """A block of depths, north-up: NaN where unknown, minus infinity on land.

    The uncertainty, where there is one, is NaN wherever there is no depth.
    """

    depth: NDArray[np.float32]
    transform: Affine
    crs: Any
    uncertainty: NDArray[np.float32] | None = None

    @property
    def metres(self) -> float:
        """Typical size of a cell over the ground, metres."""
        width, height = abs(self.transform.a), abs(self.transform.e)
        middle = self.transform.f + self.transform.e * self.depth.shape[0] / 2
        across, along = cell_metres(CRS.from_user_input(self.crs), width, height, middle)
        return float(np.sqrt(across * along))


def mosaic(pieces: list[Piece]) -> tuple[Piece, list[str]]:
    """Put pieces together; empties the list, to free each once it is used.  Say what was shifted.

    In the CRS and on the cells of the finest.  Where pieces overlap the finest counts, then the
    first; its land counts too, so that a coarser grid never floods it.  Coarser ones are
    interpolated linearly, and shifted where they meet a finer one so that no step is left.
    """
    if len(pieces) == 1:
        return pieces.pop(), []
    groups = _groups(pieces)
    pieces.clear()
    parts = sorted((_pasted(group) for group in groups), key=lambda part: round(part.metres, 3))
    if len(parts) == 1:
        return parts[0], []
    return _layered(parts)


def _groups(pieces: list[Piece]) -> list[list[Piece]]:
    groups: list[list[Piece]] = []
    for piece in pieces:
        for group in groups:
            if _same_grid(group[0], piece):
                group.append(piece)
                break
        else:
            groups.append([piece])
    return groups


def _same_grid(one: Piece, other: Piece) -> bool:
    if CRS.from_user_input(one.crs) != CRS.from_user_input(other.crs):
        return False
    a, b = one.transform, other.transform
    reach = max(one.depth.shape + other.depth.shape)
    if not np.allclose([a.a, a.e], [b.a, b.e], rtol=ALIGNED / reach, atol=0):
        return False
    shift = np.array([(b.c - a.c) / a.a, (b.f - a.f) / a.e])
    return bool(np.abs(shift - np.rint(shift)).max() < ALIGNED)


def _pasted(group: list[Piece]) -> Piece:
    """Lay pieces of one grid side by side; the first counts where they overlap."""
    if len(group) == 1:
        return group[0]
    first = group[0]
    offsets = [_offset(first.transform, piece.transform) for piece in group]
    top = min(row for row, _ in offsets)
    left = min(column for _, column in offsets)
    rows = max(row + piece.depth.shape[0] for (row, _), piece in zip(offsets, group, strict=True))
    columns = max(
        column + piece.depth.shape[1] for (_, column), piece in zip(offsets, group, strict=True)
    )
    whole = Piece(_canvas(rows - top, columns - left), moved(first.transform, top, left), first.crs)
    for (row, column), piece in zip(offsets, group, strict=True):
        _lay(whole, piece, row - top, column - left)
    return whole


def _offset(base: Affine, other: Affine) -> tuple[int, int]:
    return round((other.f - base.f) / base.e), round((other.c - base.c) / base.a)


def _canvas(rows: int, columns: int) -> NDArray[np.float32]:
    if rows * columns > MOST_CELLS:
        raise GridError(
            f"together the grids would have {rows} x {columns} cells at the finest resolution, "
            f"more than the {MOST_CELLS:,} that fit",
            do="Choose a smaller box, or leave out the coarse or the finest grids.",
        )
    return np.full((rows, columns), np.nan, np.float32)


def _lay(whole: Piece, part: Piece, row: int, column: int) -> None:
    """Fill what is still NaN in `whole` from a part laid at (row, column)."""
    rows, columns = part.depth.shape
    place = np.s_[row : row + rows, column : column + columns]
    under = whole.depth[place]
    open_yet = np.isnan(under)
    np.copyto(under, part.depth, where=open_yet)
    if part.uncertainty is not None:
        if whole.uncertainty is None:
            whole.uncertainty = np.full(whole.depth.shape, np.nan, np.float32)
        np.copyto(whole.uncertainty[place], part.uncertainty, where=open_yet)


def _layered(parts: list[Piece]) -> tuple[Piece, list[str]]:
    finest = parts[0]
    base = finest.transform
    frames = [_frame(part, finest) for part in parts]
    top, left = min(f[0] for f in frames), min(f[1] for f in frames)
    bottom, right = max(f[2] for f in frames), max(f[3] for f in frames)
    whole = Piece(_canvas(bottom - top, right - left), moved(base, top, left), finest.crs)
    notes = []
    for part, (row, column, last_row, last_column) in zip(parts, frames, strict=True):
        if part is finest:
            _lay(whole, part, row - top, column - left)
            continue
        shift = bend(part, whole)
        if shift > SMALL_SHIFT:
            notes.append(
                f"Depths on cells of {part.metres:.3g} m were shifted by up to {shift:.2f} m "
                f"within {REACH} cells of a finer grid, so that no step is left where they meet."
            )
        corner, shape = moved(base, row, column), (last_row - row, last_column - column)
        _lay(whole, _warped(part, corner, shape, finest.crs), row - top, column - left)
    return whole, notes


def bend(part: Piece, finer: Piece) -> float:
    """Shift a coarser part to meet a finer one where they overlap; fade it out over `REACH` cells.

    The shift is the mean difference in each cell that the finer part covers wholly, averaged with
    its neighbours, and carried outward from the nearest one.
    Returned: greatest shift, metres; 0 where they don't overlap.
    """
    wet = np.isfinite(part.depth)
    mean, cover = _mean_on(part, finer)
    difference = np.where(wet & (cover > COVERED), mean - part.depth, np.nan)
    shared = np.isfinite(difference)
    if not shared.any():
        return 0.0
    weight = uniform_filter(shared.astype(np.float32), 3, mode="constant")
    smooth = uniform_filter(np.where(shared, difference, 0).astype(np.float32), 3, mode="constant")
    far, at = distance_transform_edt(~shared, return_indices=True)
    fade = np.clip(1 - (far - 1) / REACH, 0, 1).astype(np.float32)
    shift = (smooth / np.maximum(weight, 1e-6))[at[0], at[1]] * fade
    part.depth[wet] += shift[wet]
    outside = wet & ~shared
    return float(np.abs(shift[outside]).max()) if outside.any() else 0.0


def _frame(part: Piece, finest: Piece) -> tuple[int, int, int, int]:
    """First row and column, and those past the last, of a part on the finest part's cells."""
    base = finest.transform
    if part is finest:
        return 0, 0, *part.depth.shape
    rows, columns = part.depth.shape
    own = part.transform
    west, south, east, north = transform_bounds(
        part.crs, finest.crs, own.c, own.f + own.e * rows, own.c + own.a * columns, own.f
    )
    return (
        int(np.floor((north - base.f) / base.e + 1e-6)),
        int(np.floor((west - base.c) / base.a + 1e-6)),
        int(np.ceil((south - base.f) / base.e - 1e-6)),
        int(np.ceil((east - base.c) / base.a - 1e-6)),
    )


def _mean_on(part: Piece, finer: Piece) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Mean finer depth in each cell of a part, and the share of the cell that has one."""
    known = np.isfinite(finer.depth)
    sums = []
    for array in (np.where(known, finer.depth, np.float32(0)), known.astype(np.float32)):
        out = np.zeros(part.depth.shape, np.float32)
        reproject(
            array,
            out,
            src_transform=finer.transform,
            src_crs=finer.crs,
            dst_transform=part.transform,
            dst_crs=part.crs,
            resampling=Resampling.average,
        )
        sums.append(out)
    total, cover = sums
    mean = np.divide(total, cover, out=np.zeros_like(total), where=cover > 0)
    return mean, cover


def _warped(part: Piece, transform: Affine, shape: tuple[int, int], crs: Any) -> Piece:
    """Interpolate depths linearly onto other cells; land by the nearest cell."""
    land = np.isneginf(part.depth)
    common = {
        "src_transform": part.transform,
        "src_crs": part.crs,
        "dst_transform": transform,
        "dst_crs": crs,
    }

    def linear(array: NDArray[np.float32]) -> NDArray[np.float32]:
        out = _canvas(*shape)
        reproject(
            array,
            out,
            src_nodata=np.nan,
            dst_nodata=np.nan,
            resampling=Resampling.bilinear,
            **common,
        )
        return out

    depth = linear(np.where(land, np.float32(np.nan), part.depth))
    if land.any():
        dry = np.zeros(shape, np.uint8)
        reproject(land.astype(np.uint8), dry, resampling=Resampling.nearest, **common)
        depth[dry == 1] = LAND
    spread = None if part.uncertainty is None else linear(part.uncertainty)
    return Piece(depth, transform, crs, spread)
