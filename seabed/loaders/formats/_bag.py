"""Bathymetric attributed grids (BAG), of one resolution or of many.

The variable-resolution extension is read by its published structure (Open Navigation Surface
Working Group, *Format Specification Document, Bathymetric Attributed Grid, version 1.6.3*, 2019):
each cell of a coarse base grid may hold a finer grid of nodes of its own.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any, Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from seabed.array_types import Floats, Mask
from seabed.guarded import ask, damaged
from seabed.loaders.formats._raster import open_raster
from seabed.loaders.hdf5 import Hdf5
from seabed.loaders.layer import Cells, Layer

VOID: Final = 1e6
NONE: Final = 0xFFFFFFFF
"""Index of a base cell that holds no finer grid."""

_METADATA: Final = "BAG_root/varres_metadata"
_NODES: Final = "BAG_root/varres_refinements"


def open_bag(source: str, *, data: Hdf5, variable: str | None = None) -> Layer:
    """Read the header of a BAG, whose tree is `data`, as a layer.

    One of variable resolution becomes a layer on cells as fine as its finest nodes, each
    interpolated linearly from the nodes of the base cell it is in.
    """
    base = open_raster(source, driver="BAG", variable=variable)
    nodes = data.parts.get(_NODES)
    if _METADATA not in data.parts or nodes is None:
        return base
    metadata = _numbers(source, _METADATA)
    _check(metadata, nodes.shape or (0, 0), base, source)
    used = _used(metadata)
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


def _check(metadata: Any, nodes: tuple[int, ...], base: Layer, source: str) -> None:
    """Refuse tables of another shape, without resolution, or that point beyond the end."""
    used = metadata["index"] != NONE
    count = metadata["dimensions_x"].astype(np.int64) * metadata["dimensions_y"]
    ends = metadata["index"].astype(np.int64) + count
    steps = np.minimum(metadata["resolution_x"], metadata["resolution_y"])
    sound = ~used | (count == 0) | ((steps > 0) & (ends <= nodes[1]))
    if metadata.shape != base.shape or not sound.all():
        raise damaged(source)


def _numbers(source: str, name: str) -> Any:
    return ask("hdf5.read", source, [name], [])[0][0]


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
    metadata = _numbers(source, _METADATA)
    part = metadata[up[0] : up[-1] + 1, across[0] : across[-1] + 1]
    first, nodes = _nodes(part, field, source)
    for row, column in np.argwhere(_used(part)):
        entry = part[row, column]
        base_row, base_column = row + up[0], column + across[0]
        inside_y = slice(*np.searchsorted(up, (base_row, base_row + 1)))
        inside_x = slice(*np.searchsorted(across, (base_column, base_column + 1)))
        start = int(entry["index"]) - first
        block = nodes[start : start + int(entry["dimensions_x"]) * int(entry["dimensions_y"])]
        out[inside_y, inside_x] = _between(
            block.reshape(entry["dimensions_y"], entry["dimensions_x"]),
            (y[inside_y] - transform.f - base_row * height - entry["sw_corner_y"])
            / max(float(entry["resolution_y"]), 1e-9),
            (x[inside_x] - transform.c - base_column * width - entry["sw_corner_x"])
            / max(float(entry["resolution_x"]), 1e-9),
        )
    return out


def _used(metadata: Any) -> Mask:
    """Say which base cells hold a finer grid."""
    return np.asarray((metadata["index"] != NONE) & (metadata["dimensions_x"] > 0))


def _nodes(part: Any, field: str, source: str) -> tuple[int, Floats]:
    """Nodes of some base cells, from the first of them on, and which number that has."""
    used = part[_used(part)]
    if not len(used):
        return 0, np.empty(0)
    counts = used["dimensions_x"].astype(np.int64) * used["dimensions_y"]
    first, last = int(used["index"].min()), int((used["index"] + counts).max())
    answer = ask(
        "hdf5.read", source, [_NODES], [field], (0, slice(first, last)), cells=last - first
    )
    nodes = np.asarray(answer[0][0], np.float64)
    if len(nodes) != last - first:
        raise damaged(source)
    nodes[nodes >= VOID] = np.nan
    return first, nodes


def _between(block: Floats, row: Floats, column: Floats) -> Floats:
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
            filled = np.nansum(corners * held, axis=0) / total
        value = np.where(spoilt, filled, value)
    nearest = block[np.ix_(_nearest(row, block.shape[0]), _nearest(column, block.shape[1]))]
    return np.where(np.isnan(nearest), np.nan, value)


def _weights(v: Floats, u: Floats) -> Floats:
    return np.stack([(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u])


def _split(at: Floats, count: int) -> tuple[NDArray[np.intp], Floats]:
    """Lower node and share of the next; beyond the outer nodes the share runs on past 0 and 1."""
    if count == 1:
        return np.zeros(at.shape, np.intp), np.zeros(at.shape)
    low = np.clip(np.floor(at), 0, count - 2).astype(np.intp)
    return low, np.clip(at - low, -0.5, 1.5)


def _nearest(at: Floats, count: int) -> NDArray[np.intp]:
    return np.clip(np.rint(at), 0, count - 1).astype(np.intp)
