"""Profiles across what is ranked: of all on a grid in memory, of the best on a stored one."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.jobs.parts.structure import Structure
from seabed.grid import CellSize
from seabed.loaders import StoredGrid
from seabed.structure import across_edges
from seabed.structure.profiles import across_features

PROFILES: Final = ["name", "kind", "offset_m", "depth_m", "mean_m", "spread_m"]
BEST_PROFILED: Final = 200


def profiles_of_all(
    grid: xr.DataArray,
    edges: gpd.GeoDataFrame,
    features: gpd.GeoDataFrame,
    ranking: gpd.GeoDataFrame,
) -> pd.DataFrame:
    """Cut profiles of everything ranked, by the names of the ranking."""
    tables: list[Any] = [across_edges(grid, edges).assign(kind="edge")]
    tables.append(across_features(grid, features))
    filled = [table for table in tables if len(table)]
    if not filled:
        return tables[0].assign(name="")
    names = ranking[["kind", "feature_id", "name", "rank"]]
    named = names.merge(pd.concat(filled, ignore_index=True), on=["kind", "feature_id"])
    return named.sort_values(["rank", "offset_m"], ignore_index=True)[PROFILES]


def profiles_of_best(
    structure: Structure, stored: StoredGrid, ranking: gpd.GeoDataFrame
) -> pd.DataFrame:
    """Cut profiles of the best, each on the part of the grid around it."""
    affine, size = stored.transform, structure.bottom.whole.size
    edges = structure.edges.set_index("edge_id", drop=False)
    features = structure.features.set_index(["kind", "feature_id"], drop=False)
    tables: list[pd.DataFrame] = []
    for row in ranking.head(BEST_PROFILED).itertuples(index=False):
        if row.kind == "edge":
            one = edges.loc[[row.feature_id]]
            place, reach = one[["middle_x", "middle_y"]], float(one["width_m"].iloc[0])
            cut: Any = across_edges
        else:
            one = features.loc[[(row.kind, row.feature_id)]]
            place, reach = one[["peak_x", "peak_y"]], float(one["short_axis_m"].iloc[0])
            cut = across_features
        x, y = place.to_numpy(float)[0]
        at = int((y - affine.f) / affine.e), int((x - affine.c) / affine.a)
        part = _around(stored, at, size, 2 * max(reach, 30.0) + 150.0)
        table = cut(part, one.reset_index(drop=True))
        tables.append(table.assign(kind=row.kind, name=row.name))
    if not tables:
        return pd.DataFrame({name: pd.Series(dtype=object) for name in PROFILES})
    return pd.concat(tables, ignore_index=True)[PROFILES]


def _around(
    stored: StoredGrid, at: tuple[int, int], size: CellSize, reach_m: float
) -> xr.DataArray:
    """Give the part of a grid within a reach of a cell, on every side."""
    rows, columns = stored.shape
    row, column = min(max(at[0], 0), rows - 1), min(max(at[1], 0), columns - 1)
    down, across = (int(reach_m / one[row]) + 2 for one in (size.northing, size.easting))
    top, left = max(row - down, 0), max(column - across, 0)
    bottom, right = min(row + down + 1, rows), min(column + across + 1, columns)
    return stored.read(top, left, bottom - top, right - left)
