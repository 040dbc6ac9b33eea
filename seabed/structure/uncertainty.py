"""How sure the grid is of a feature."""

from __future__ import annotations

from typing import Final, Protocol

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from affine import Affine
from numpy.typing import NDArray

from seabed.grid import transform_of
from seabed.grid.arrays import as_layer
from seabed.schema import Table
from seabed.structure.edges import EDGES
from seabed.structure.highs import FEATURES

UNCERTAINTY: Final = Table.of(
    "uncertainty",
    "seabed.structure.uncertainty.with_uncertainty",
    """
    uncertainty_m ["Grid's own doubt" depth empty .2] the median under the vertices of the feature;
        NaN where none is known
    doubtful [bool "Doubtful"] the drop or height is less than that
    """,
)


_TILE: Final = 1024


class StoredDoubt(Protocol):
    """Uncertainties that are read a block at a time, such as `seabed.loaders.StoredGrid` has."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        ...

    @property
    def transform(self) -> Affine:
        """From (column, row) of a cell's corner to CRS coordinates, north-up."""
        ...

    def uncertainties(self, row: int, column: int, rows: int, columns: int) -> NDArray[np.float32]:
        """Read a block: metres, NaN where it is not known."""
        ...


def with_uncertainty(
    features: gpd.GeoDataFrame, uncertainty: xr.DataArray | StoredDoubt
) -> gpd.GeoDataFrame:
    """Say how uncertain the depths along each feature are, and whether it drowns in that.

    features: with ``drop_m`` or ``height_m``. uncertainty: metres, on the grid they were found on.
    """
    height = next((name for name in ("drop_m", "height_m") if name in features), "drop_m")
    (EDGES if height == "drop_m" else FEATURES).check(features, height, "geometry")
    points, owner = shapely.get_coordinates(features.geometry.values, return_index=True)
    if isinstance(uncertainty, xr.DataArray):
        uncertainty = as_layer(uncertainty)
        affine = transform_of(uncertainty)
    else:
        affine = uncertainty.transform
    column = np.floor((points[:, 0] - affine.c) / affine.a).astype(int)
    row = np.floor((points[:, 1] - affine.f) / affine.e).astype(int)
    rows, columns = uncertainty.shape
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    row, column = row[inside], column[inside]
    if isinstance(uncertainty, xr.DataArray):
        values = np.asarray(uncertainty.values)[row, column]
    else:
        values = _by_tile(uncertainty, row, column)
    under = pd.Series(values.astype(float))
    middle = under.groupby(owner[inside]).median().reindex(range(len(features)))
    spread = middle.to_numpy(float)
    return features.assign(uncertainty_m=spread, doubtful=features[height].to_numpy() < spread)


def _by_tile(
    stored: StoredDoubt, row: NDArray[np.intp], column: NDArray[np.intp]
) -> NDArray[np.float32]:
    """Look up cells, reading each part of the grid once."""
    out = np.empty(len(row), np.float32)
    tile = (row // _TILE) * (stored.shape[1] // _TILE + 1) + column // _TILE
    for number in np.unique(tile):
        at = np.flatnonzero(tile == number)
        top, left = int(row[at].min()), int(column[at].min())
        rows, columns = int(row[at].max()) - top + 1, int(column[at].max()) - left + 1
        block = stored.uncertainties(top, left, rows, columns)
        out[at] = block[row[at] - top, column[at] - left]
    return out
