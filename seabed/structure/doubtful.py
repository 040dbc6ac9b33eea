"""Lone soundings: real rocks or mistakes, but no humps to fish."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.grid import crs_of
from seabed.schema import Table
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.kind import Kind, in_memory
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.calm.lone import REACH, doubtful_by_zone
from seabed.structure.calm.noise import NoiseSettings
from seabed.terrain.chunks import contiguous

DOUBTFUL: Final = Table.of(
    "doubtful_soundings",
    "seabed.structure.doubtful.doubtful_soundings",
    """
    sounding_id [int] 0, 1, ...
    depth_m ["Depth"] as the grid has it
    around_m ["Depth around"] median of the cells about it
    off_m ["Off" depth .2] of its neighbours: above 0 where it is high, below 0 where it is deep
    geometry [Point] centre of the cell
    """,
)


def doubtful_soundings(
    grid: xr.DataArray, *, significance: float | None = None, noise_m: float | None = None
) -> gpd.GeoDataFrame:
    """List soundings far off the ground around them that no neighbour shares, furthest first.

    A cell, or one of a pair, that is off the median of the 5 x 5 cells about it and off the plane
    of the outer ones by the greater of 0.5 m and six standard deviations of the noise. Humps, holes
    and edges are found without them. Each may be a rock anyway: keep clear of it. On steep broken
    ground rock may be listed. Options as `humps`; with a significance of 0 none is doubtful.
    """
    return in_memory(DoubtfulSoundings(), grid, NoiseSettings.of(significance, noise_m))


@dataclass(frozen=True, slots=True)
class DoubtfulSoundings(Kind[gpd.GeoDataFrame]):
    """Doubtful soundings of a grid in blocks."""

    def margin(self, whole: Whole) -> int:
        """Cells about a sounding."""
        return REACH

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """List those of a chunk: ``cells``, row and column in the grid, and two ``depths`` each."""
        if block.ground is block.depth:
            return {"cells": np.empty((0, 2), np.int64), "depths": np.empty((0, 2))}
        zones = block.whole.field.zones(block.row, block.column, block.depth.shape)
        cells, medians = doubtful_by_zone(contiguous(block.depth), zones)
        depths = np.column_stack([block.depth[cells[:, 0], cells[:, 1]], medians]).astype(float)
        cells += np.array([block.row, block.column])
        chunk = block.chunk
        own = (cells >= (chunk.row, chunk.column)).all(axis=1)
        own &= (cells < (chunk.row + chunk.rows, chunk.column + chunk.columns)).all(axis=1)
        return {"cells": cells[own], "depths": depths[own]}

    def join(self, results: Results, whole: Whole) -> gpd.GeoDataFrame:
        """Put those of all chunks together; as `doubtful_soundings`."""
        row, column = np.concatenate([result["cells"] for result in results]).T
        depth, around = np.concatenate([result["depths"] for result in results]).T
        order = np.lexsort((column, row, -np.abs(around - depth)))
        row, column, depth, around = (one[order] for one in (row, column, depth, around))
        columns = {
            "sounding_id": np.arange(len(order)),
            "depth_m": depth,
            "around_m": around,
            "off_m": around - depth,
            "geometry": shapely.points(
                whole.frame["x"].values[column], whole.frame["y"].values[row]
            ),
        }
        return DOUBTFUL.frame(columns, crs=crs_of(whole.frame))
