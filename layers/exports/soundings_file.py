"""Soundings as a layer of a GeoPackage, a piece at a time."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio

from layers.cautions import CAUTIONS
from seabed.errors import OutputError
from seabed.files import replacing
from seabed.soundings.schema import as_points

__all__ = ["write_soundings"]

_AT_ONCE: Final = 500_000


def write_soundings(path: str | Path, soundings: pd.DataFrame) -> None:
    """Write every sounding, flagged ones too, as points of a GeoPackage, whole or not at all.

    Parameters
    ----------
    path : str or Path
        Ends in .gpkg.  Layer ``soundings``, EPSG:4326, the columns of
        `seabed.soundings.SOUNDING_COLUMNS` but for the position; what is not known is NULL.
        Without a spatial index, which programs offer to make.
    soundings : DataFrame
        Millions take a fourth of the time where pyarrow is installed.

    Raises
    ------
    OutputError
        If it can't be written.
    """
    with replacing(path) as partial:
        for start in range(0, max(len(soundings), 1), _AT_ONCE):
            part = _plain(soundings.iloc[start : start + _AT_ONCE])
            try:
                pyogrio.write_dataframe(
                    part,
                    partial,
                    layer="soundings",
                    driver="GPKG",
                    geometry_type="Point",
                    append=start > 0,
                    use_arrow=find_spec("pyarrow") is not None and len(part) > 0,
                    layer_options=None
                    if start
                    else {"DESCRIPTION": CAUTIONS, "SPATIAL_INDEX": "NO"},
                )
            except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
                raise OutputError(f"can't write the layer: {error}", file=Path(path)) from error


def _plain(soundings: pd.DataFrame) -> gpd.GeoDataFrame:
    """Points with words as text, and times in the milliseconds that the format holds."""
    points = as_points(soundings)
    for name in ("flag", "file"):
        words = points[name].cat
        kinds = np.array([str(word) for word in words.categories], dtype=object)
        points[name] = kinds[words.codes.to_numpy()] if len(kinds) else ""
    points["time"] = points["time"].dt.as_unit("ms")
    return points
