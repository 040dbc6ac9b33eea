"""What a map can carry of a whole coast: the best, the longest and the largest, drawn simply."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr

from layers.jobs.parts.structure import Structure
from layers.jobs.scout.prospects import Prospects
from seabed.grid import cell_size, transform_of
from seabed.schema import joined_tables
from seabed.structure import Bottom

MOST_VERTICES: Final = 200_000
"""Of the map's contours together; of its band."""
LONG_SHAPE: Final = 2_000
"""Vertices from which an edge, hump or hole is drawn simply."""
SHORTEST_CELLS: Final = 10
"""Cells of the overview along a contour below which the map leaves it out."""
MAP_CELLS: Final = 4e6


class CoastLines:
    """The contours of a coast in several tables.

    Joining them takes long: one pass also counts them, and thins those that the map shows.
    """

    def __init__(self, bottom: Bottom) -> None:
        self._bottom = bottom
        self._count: int | None = None
        self._left_out = 0
        self._shown: gpd.GeoDataFrame | None = None

    def __iter__(self) -> Iterator[gpd.GeoDataFrame]:
        overview = self._bottom.overview
        step, metres = _step(overview), cell_size(overview).typical
        reduced = overview.attrs["reduced"] > 1
        kept: list[gpd.GeoDataFrame] = []
        count, points, left_out = 0, 0, 0
        for table in self._bottom.contours():
            yield table
            count += len(table)
            left_out += table.attrs["left_out"]
            long = table[table["length_m"] >= SHORTEST_CELLS * metres] if reduced else table
            kept.append(_simple(long, step / 2) if reduced else long)
            points += int(shapely.get_num_coordinates(kept[-1].geometry.to_numpy()).sum())
            if points > 4 * MOST_VERTICES:
                kept, points = [_most(joined_tables(kept), "length_m")], MOST_VERTICES
        self._count, self._left_out = count, left_out
        self._shown = _most(joined_tables(kept), "length_m").sort_values(
            "depth_m", ignore_index=True
        )

    def __len__(self) -> int:
        if self._count is None:
            self._go_through()
        return self._count or 0

    @property
    def attrs(self) -> dict[str, int]:
        """How many lines noise alone makes, and are left out: ``left_out``."""
        if self._count is None:
            self._go_through()
        return {"left_out": self._left_out}

    def shown(self) -> gpd.GeoDataFrame:
        """Give the longest, thinned to the cells of the overview, by depth."""
        if self._shown is None:
            self._go_through()
        assert self._shown is not None
        return self._shown

    def _go_through(self) -> None:
        for _ in self:
            pass


def shown_of(
    structure: Structure, prospects: Prospects, grid: xr.DataArray, *, best: int
) -> tuple[Structure, Prospects]:
    """Keep what map and marks can carry of a coast.

    structure: its contours are `CoastLines`.
    grid: of the map.
    best: the last rank of edges, humps and holes.
    """
    step = _step(grid)
    edges, features = (
        _lighter(table[table["rank"] <= best].reset_index(drop=True), step / 2)
        for table in (prospects.edges, prospects.features)
    )
    shown = replace(
        structure,
        grid=grid,
        band=_thinned(structure.band, "area_m2", step),
        edges=edges,
        features=features,
    )
    return shown, replace(prospects, edges=edges, features=features)


def _thinned(table: gpd.GeoDataFrame, by: str, step: float) -> gpd.GeoDataFrame:
    points = int(shapely.get_num_coordinates(table.geometry.to_numpy()).sum())
    return table if points <= MOST_VERTICES else _most(_simple(table, step), by)


def _lighter(table: gpd.GeoDataFrame, tolerance: float) -> gpd.GeoDataFrame:
    """Draw the few that run along half a coast simply, the others as they are."""
    shapes = table.geometry.to_numpy().copy()
    long = shapely.get_num_coordinates(shapes) > LONG_SHAPE
    shapes[long] = shapely.simplify(shapes[long], tolerance)
    return table.set_geometry(shapes, crs=table.crs)


def _simple(table: gpd.GeoDataFrame, tolerance: float) -> gpd.GeoDataFrame:
    shapes = shapely.simplify(table.geometry.to_numpy(), tolerance)
    return table.set_geometry(shapes, crs=table.crs)


def _most(table: gpd.GeoDataFrame, by: str) -> gpd.GeoDataFrame:
    """Keep the greatest, up to so many vertices in all."""
    table = table.sort_values(by, ascending=False, kind="stable", ignore_index=True)
    points = np.cumsum(shapely.get_num_coordinates(table.geometry.to_numpy()))
    return table[points <= MOST_VERTICES].reset_index(drop=True)


def _step(grid: xr.DataArray) -> float:
    """Width of a cell of the map's grid, in units of its CRS."""
    many = max(1.0, np.sqrt(grid.size / MAP_CELLS))
    return float(abs(transform_of(grid).a) * many)
