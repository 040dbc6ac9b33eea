"""A response laid over a grid: expected fish a rod-hour, also where nobody has fished."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from layers.scoring.factors import edge_distance
from layers.scoring.response import Response
from seabed.array_types import Floats, Ints
from seabed.errors import CatchError
from seabed.geodesy import transformer
from seabed.grid import crs_of
from seabed.grid.arrays import as_grid
from seabed.grid.contract import with_crs
from seabed.grid.extent import metric_crs
from seabed.terrain import slope

BLOCK: Final = 50_000
"""Cells computed at once."""


def response_over(
    response: Response,
    grid: xr.DataArray,
    *,
    edges: gpd.GeoDataFrame | None = None,
    height_m: float = 0.0,
    given: Mapping[str, Any] | None = None,
) -> xr.Dataset:
    """Give the expected fish a rod-hour over a grid - that of the catches, or other water like it.

    edges: needed if the response knows ``edge_m``.  height_m: of the tide, added to charted depths.
    given: what the ground does not know, ``{"state": "flood", "sog_mps": 0.4}``; what is not given
        counts at its average over the effort.
    Returned: ``rate``, ``rate_low``, ``rate_high``; NaN on land, void, and where depth, slope or
        edge are unlike any that was fished.
    """
    grid = as_grid(grid)
    near_edges = None
    if "edge_m" in response.factors:
        if edges is None or not len(edges):
            raise CatchError(
                "the response uses the distance to edges, but no edges are given",
                do="Find the edges of this grid first.",
            )
        near_edges = edges.to_crs(metric_crs(grid))
    depth = grid.values.ravel()
    steep = slope(grid).values.ravel() if "slope_deg" in response.factors else None
    rates = np.full((3, depth.size), np.nan, np.float32)
    for begin in range(0, depth.size, BLOCK):
        block = begin + np.flatnonzero(np.isfinite(depth[begin : begin + BLOCK]))
        table = pd.DataFrame({"depth_m": depth[block].astype(np.float64) + height_m})
        if steep is not None:
            table["slope_deg"] = steep[block]
        fished = response.fished(table)  # how near an edge is takes longest to say
        block, table = block[fished], table[fished]
        if near_edges is not None:
            table["edge_m"] = _edge_distance(grid, block, near_edges)
        for name, value in (given or {}).items():
            table[name] = value
        rates[:, block] = response.rate(table).to_numpy(np.float32).T
    layers = zip(("rate", "rate_low", "rate_high"), rates, strict=True)
    bands = {
        name: grid.copy(data=values.reshape(grid.shape)).rename(name) for name, values in layers
    }
    return with_crs(xr.Dataset(bands), crs_of(grid))


def _edge_distance(grid: xr.DataArray, cells: Ints, edges: gpd.GeoDataFrame) -> Floats:
    row, column = np.divmod(cells, grid.shape[1])
    xy = transformer(crs_of(grid), edges.crs).transform(
        grid["x"].values[column], grid["y"].values[row]
    )
    return edge_distance(np.column_stack(xy), edges)
