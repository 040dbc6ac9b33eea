"""Several grids as one: the finest wins, and no seams are left between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Geod
from rasterio.enums import Resampling
from rasterio.warp import reproject, transform_bounds

from seabed.errors import GridError
from seabed.loaders.layer import moved

__all__ = ["Piece", "mosaic"]

ALIGNED: Final = 0.02
"""Shift between two grids, in cells, below which they count as parts of one."""

MOST_CELLS: Final = 400_000_000
LAND: Final = np.float32(-np.inf)


@dataclass(slots=True)
class Piece:
    """A block of depths, north-up: NaN where unknown, minus infinity on land."""

    depth: NDArray[np.float32]
    transform: Affine
    crs: Any

    @property
    def metres(self) -> float:
        """Typical size of a cell over the ground, metres."""
        width, height = abs(self.transform.a), abs(self.transform.e)
        crs = CRS.from_user_input(self.crs)
        if not crs.is_geographic:
            return float(np.sqrt(width * height)) * crs.axis_info[0].unit_conversion_factor
        middle = self.transform.f + self.transform.e * self.depth.shape[0] / 2
        ellipsoid = crs.get_geod() or Geod(ellps="WGS84")
        across = ellipsoid.inv(0, middle, width, middle)[2]
        along = ellipsoid.inv(0, middle - height / 2, 0, middle + height / 2)[2]
        return float(np.sqrt(across * along))


def mosaic(pieces: list[Piece]) -> Piece:
    """Put pieces together; empties the list, to free each once it is used.

    Parameters
    ----------
    pieces : list of Piece
        In order of preference among equals.

    Returns
    -------
    Piece
        In the CRS and on the cells of the finest.  Where pieces overlap the finest counts, then
        the first; its land counts too, so that a coarser grid never floods it.  Coarser ones are
        interpolated linearly.

    Raises
    ------
    GridError
        If the whole would be too large to hold.
    """
    if len(pieces) == 1:
        return pieces.pop()
    groups = _groups(pieces)
    pieces.clear()
    parts = sorted((_pasted(group) for group in groups), key=lambda part: round(part.metres, 3))
    if len(parts) == 1:
        return parts[0]
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
    transform = moved(first.transform, top, left)
    whole = _canvas(rows - top, columns - left)
    for (row, column), piece in zip(offsets, group, strict=True):
        _lay(whole, piece.depth, row - top, column - left)
    return Piece(whole, transform, first.crs)


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


def _lay(whole: NDArray[np.float32], part: NDArray[np.float32], row: int, column: int) -> None:
    """Fill what is still NaN in `whole` from a part laid at (row, column)."""
    rows, columns = part.shape
    under = whole[row : row + rows, column : column + columns]
    np.copyto(under, part, where=np.isnan(under))


def _layered(parts: list[Piece]) -> Piece:
    finest = parts[0]
    base = finest.transform
    frames = [_frame(part, finest) for part in parts]
    top, left = min(f[0] for f in frames), min(f[1] for f in frames)
    bottom, right = max(f[2] for f in frames), max(f[3] for f in frames)
    whole = _canvas(bottom - top, right - left)
    for part, (row, column, last_row, last_column) in zip(parts, frames, strict=True):
        if part is finest:
            _lay(whole, part.depth, row - top, column - left)
            continue
        corner = moved(base, row, column)
        warped = _warped(part, corner, (last_row - row, last_column - column), finest.crs)
        _lay(whole, warped, row - top, column - left)
    return Piece(whole, moved(base, top, left), finest.crs)


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


def _warped(
    part: Piece, transform: Affine, shape: tuple[int, int], crs: Any
) -> NDArray[np.float32]:
    """Interpolate depths linearly onto other cells; land by the nearest cell."""
    _canvas(*shape) if shape[0] * shape[1] > MOST_CELLS else None
    land = np.isneginf(part.depth)
    common = {
        "src_transform": part.transform,
        "src_crs": part.crs,
        "dst_transform": transform,
        "dst_crs": crs,
    }
    out = np.full(shape, np.nan, np.float32)
    reproject(
        np.where(land, np.float32(np.nan), part.depth),
        out,
        src_nodata=np.nan,
        dst_nodata=np.nan,
        resampling=Resampling.bilinear,
        **common,
    )
    if land.any():
        dry = np.zeros(shape, np.uint8)
        reproject(land.astype(np.uint8), dry, resampling=Resampling.nearest, **common)
        out[dry == 1] = LAND
    return out
