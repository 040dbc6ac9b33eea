"""How sure the grid is of a feature."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr

from seabed.grid import transform_of

__all__ = ["with_uncertainty"]


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
        A copy with ``uncertainty_m``, the median under the vertices of the feature (NaN where none
        is known), and ``doubtful``, whether its drop or height is less than that.
    """
    points, owner = shapely.get_coordinates(features.geometry.values, return_index=True)
    affine = transform_of(uncertainty)
    column = np.floor((points[:, 0] - affine.c) / affine.a).astype(int)
    row = np.floor((points[:, 1] - affine.f) / affine.e).astype(int)
    rows, columns = uncertainty.shape
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    under = pd.Series(np.asarray(uncertainty.values)[row[inside], column[inside]].astype(float))
    middle = under.groupby(owner[inside]).median().reindex(range(len(features)))
    height = features["drop_m" if "drop_m" in features else "height_m"].to_numpy()
    return features.assign(
        uncertainty_m=middle.to_numpy(float), doubtful=height < middle.to_numpy(float)
    )
