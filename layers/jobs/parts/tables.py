"""Tables put together."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import pandas as pd

from layers.present import Tables


def together(tables: Sequence[gpd.GeoDataFrame]) -> gpd.GeoDataFrame:
    """Put tables of the same columns one below the other, empty ones too."""
    filled = [table for table in tables if len(table)]
    if not filled:
        return tables[0]
    return gpd.GeoDataFrame(pd.concat(filled, ignore_index=True), crs=tables[0].crs)


def one_table(tables: Tables) -> gpd.GeoDataFrame:
    """Give a table that may come in several as one."""
    return tables if isinstance(tables, gpd.GeoDataFrame) else together(list(tables))
