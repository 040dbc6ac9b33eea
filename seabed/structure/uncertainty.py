"""How sure the grid is of a feature."""

from __future__ import annotations

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr

from seabed.grid import transform_of
from seabed.schema import Table, documented
from seabed.structure.edges import EDGES
from seabed.structure.highs import FEATURES

__all__ = ["with_uncertainty"]

UNCERTAINTY: Final = Table.of(
    "uncertainty",
    "seabed.structure.with_uncertainty",
    """
    uncertainty_m ["Grid's own doubt" depth empty] the median under the vertices of the feature; NaN
        where none is known
    doubtful [bool "Doubtful"] the drop or height is less than that
    """,
)


@documented(UNCERTAINTY)
def with_uncertainty(features: gpd.GeoDataFrame, uncertainty: xr.DataArray) -> gpd.GeoDataFrame:
    """Say how uncertain the depths along each feature are, and whether it drowns in that.

    Parameters
    ----------
    features : GeoDataFrame
        With a column ``drop_m`` or ``height_m``, as edges, humps, holes, banks and channels have.
    uncertainty : xarray.DataArray
        Vertical uncertainty, metres, positive, on the grid the features were found on.

    Returns
    -------
    GeoDataFrame
        A copy with two columns more.

        {uncertainty}
    """
    height = next((name for name in ("drop_m", "height_m") if name in features), "drop_m")
    (EDGES if height == "drop_m" else FEATURES).check(features, height, "geometry")
    points, owner = shapely.get_coordinates(features.geometry.values, return_index=True)
    affine = transform_of(uncertainty)
    column = np.floor((points[:, 0] - affine.c) / affine.a).astype(int)
    row = np.floor((points[:, 1] - affine.f) / affine.e).astype(int)
    rows, columns = uncertainty.shape
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    under = pd.Series(np.asarray(uncertainty.values)[row[inside], column[inside]].astype(float))
    middle = under.groupby(owner[inside]).median().reindex(range(len(features)))
    spread = middle.to_numpy(float)
    return features.assign(uncertainty_m=spread, doubtful=features[height].to_numpy() < spread)
