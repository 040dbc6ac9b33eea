"""Bathymetric attributed grids (BAG), of one resolution or of many.

The variable-resolution extension is read by its published structure (Open Navigation Surface
Working Group, *Format Specification Document, Bathymetric Attributed Grid, version 1.6.3*, 2019):
each cell of a coarse base grid may hold a finer grid of nodes of its own.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any, Final

import h5py
import numpy as np
from affine import Affine
from numpy.typing import NDArray

from seabed.loaders.formats._raster import open_raster
from seabed.loaders.layer import Cells, Layer, damaged, reading

__all__ = ["open_bag"]

VOID: Final = 1e6
NONE: Final = 0xFFFFFFFF
"""Index of a base cell that holds no finer grid."""

_METADATA: Final = "BAG_root/varres_metadata"
_NODES: Final = "BAG_root/varres_refinements"


def open_bag(source: str, *, variable: str | None = None) -> Layer:
    """Read the header of a BAG as a layer.

    One of variable resolution becomes a layer on cells as fine as its finest nodes, each
    interpolated linearly from the nodes of the base cell it lies in.

    Raises
    ------
    GridError
        If the file is damaged.
    """
    base = open_raster(source, driver="BAG", variable=variable)
    with reading(source), h5py.File(source) as data:
        if _METADATA not in data or _NODES not in data:
            return base
        metadata = data[_METADATA][...]
        _check(metadata, data[_NODES], base, source)
    used = (metadata["index"] != NONE) & (metadata["dimensions_x"] > 0)
    if variable is not None or not used.any():
        return base
    width = float(metadata["resolution_x"][used].min())
    height = float(metadata["resolution_y"][used].min())
    rows = max(1, round(base.shape[0] * abs(base.transform.e) / height))
    columns = max(1, round(base.shape[1] * base.transform.a / width))
    south = base.transform.f + base.transform.e * base.shape[0]
    transform = Affine(width, 0.0, base.transform.c, 0.0, height, south)
    read = partial(_read, source=source, base=base, transform=transform)
    return replace(
        base,
        format="BAG of variable resolution",
        shape=(rows, columns),
        transform=transform,
        read=partial(read, field="depth"),
        uncertainty=partial(read, field="depth_uncrt"),
        variable="elevation",
        others=("elevation", "uncertainty"),
        guesses=(
            *base.guesses,
            f"Nodes of {_range(metadata['resolution_x'][used])} m were interpolated onto cells of "
            f"{width:.3g} m.",
        ),
    )


def _check(metadata: Any, nodes: Any, base: Layer, source: str) -> None:
    """Refuse tables of another shape, without resolution, or that point beyond the end."""
    used = metadata["index"] != NONE
    count = metadata["dimensions_x"].astype(np.int64) * metadata["dimensions_y"]
    ends = metadata["index"].astype(np.int64) + count
    steps = np.minimum(metadata["resolution_x"], metadata["resolution_y"])
    sound = ~used | (count == 0) | ((steps > 0) & (ends <= nodes.shape[1]))
    if metadata.shape != base.shape or not sound.all():
        raise damaged(source)


def _range(values: NDArray[np.float32]) -> str:
    low, high = float(values.min()), float(values.max())
    return f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"


def _read(
    cells: Cells, *, source: str, base: Layer, transform: Affine, field: str
) -> NDArray[np.float32]:
    """Cells of the fine grid, whose row 0 is the southernmost."""
    out = np.full((cells.rows, cells.columns), np.nan, np.float32)
    x = transform.c + transform.a * (cells.column + np.arange(cells.columns) + 0.5)
    y = transform.f + transform.e * (cells.row + np.arange(cells.rows) + 0.5)
    width, height = base.transform.a, abs(base.transform.e)
    across = np.floor((x - transform.c) / width).astype(int)
    up = np.floor((y - transform.f) / height).astype(int)
    with reading(source), h5py.File(source) as data:
        metadata = data[_METADATA][...]
        nodes = data[_NODES]
        for row in range(up[0], min(up[-1], base.shape[0] - 1) + 1):
            inside_y = slice(*np.searchsorted(up, (row, row + 1)))
            for column in range(across[0], min(across[-1], base.shape[1] - 1) + 1):
                entry = metadata[row, column]
                if entry["index"] == NONE or entry["dimensions_x"] == 0:
                    continue
                inside_x = slice(*np.searchsorted(across, (column, column + 1)))
                out[inside_y, inside_x] = _between(
                    _block(nodes, entry, field, source),
                    (y[inside_y] - transform.f - row * height - entry["sw_corner_y"])
                    / max(float(entry["resolution_y"]), 1e-9),
                    (x[inside_x] - transform.c - column * width - entry["sw_corner_x"])
                    / max(float(entry["resolution_x"]), 1e-9),
                )
    return out


def _block(nodes: Any, entry: Any, field: str, source: str) -> NDArray[np.float64]:
    """Nodes of one base cell, south row first."""
    rows, columns = int(entry["dimensions_y"]), int(entry["dimensions_x"])
    first = int(entry["index"])
    found = nodes[0, first : first + rows * columns]
    if len(found) != rows * columns:
        raise damaged(source)
    block: NDArray[np.float64] = found[field].astype(float).reshape(rows, columns)
    block[block >= VOID] = np.nan
    return block


def _between(
    block: NDArray[np.float64], row: NDArray[np.float64], column: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Linear between nodes and on to the edge of the base cell.

    A place is void where the nearest node is; a void neighbour is left out, and its weight goes to
    the others.
    """
    r0, r_share = _split(row, block.shape[0])
    c0, c_share = _split(column, block.shape[1])
    r1 = np.minimum(r0 + 1, block.shape[0] - 1)
    c1 = np.minimum(c0 + 1, block.shape[1] - 1)
    corners = np.stack([block[np.ix_(r, c)] for r, c in ((r0, c0), (r0, c1), (r1, c0), (r1, c1))])
    v, u = r_share[:, None], c_share[None, :]
    straight = _weights(v, u)
    value = (corners * straight).sum(axis=0)
    spoilt = np.isnan(value)
    if spoilt.any():
        held = _weights(np.clip(v, 0, 1), np.clip(u, 0, 1)) * ~np.isnan(corners)
        total = held.sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            mended = np.nansum(corners * held, axis=0) / total
        value = np.where(spoilt, mended, value)
    nearest = block[np.ix_(_nearest(row, block.shape[0]), _nearest(column, block.shape[1]))]
    return np.where(np.isnan(nearest), np.nan, value)


def _weights(v: NDArray[np.float64], u: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u])


def _split(at: NDArray[np.float64], count: int) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Lower node and share of the next; beyond the outer nodes the share runs on past 0 and 1."""
    if count == 1:
        return np.zeros(at.shape, np.intp), np.zeros(at.shape)
    low = np.clip(np.floor(at), 0, count - 2).astype(np.intp)
    return low, np.clip(at - low, -0.5, 1.5)


def _nearest(at: NDArray[np.float64], count: int) -> NDArray[np.intp]:
    return np.clip(np.rint(at), 0, count - 1).astype(np.intp)
