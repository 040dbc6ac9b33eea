"""Layers of vector files (S-57, GeoPackage), read in the guarded process."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyproj.exceptions import CRSError

from seabed.grid import Bounds
from seabed.guarded import ask
from seabed.guarded.errors import DAMAGED, ReadingError
from seabed.guarded.works.vector import DRIVERS
from seabed.loaders.layer import OFFLINE


def layers_in(path: str | Path) -> dict[str, int]:
    """Name the layers of a file, with how many objects each has, or raise ReadingError."""
    counts: dict[str, int] = _ask("layers", path)
    return counts


def read_layer(
    path: str | Path,
    layer: str,
    *,
    box: Bounds | None = None,
    options: dict[str, str] | None = None,
) -> gpd.GeoDataFrame:
    """Read a layer, in its CRS if it says one, with fields of time in UTC.

    box: only objects that touch it; in the layer's own CRS.  options: open options of the driver.
    Returned: a layer without geometry has None in each row.

    Raises ReadingError if it can't be read, or a geometry is damaged.
    """
    how: dict[str, Any] = dict(options or {})
    if box is not None:
        how["bbox"] = (box.west, box.south, box.east, box.north)
    crs, names, kinds, columns, binary = _ask("read", path, layer, how)
    try:
        return _table(crs, names, kinds, columns, binary)
    except (ValueError, TypeError, LookupError, shapely.errors.ShapelyError, CRSError) as error:
        raise ReadingError(DAMAGED, str(error)) from error


def _table(
    crs: str | None, names: list[str], kinds: list[str], columns: list[Any], binary: Any
) -> gpd.GeoDataFrame:
    table = pd.DataFrame(
        {
            name: pd.to_datetime(pd.Series(values), utc=True, format="ISO8601", errors="coerce")
            if kind == "OFTDateTime"
            else values
            for name, kind, values in zip(names, kinds, columns, strict=True)
        }
    )
    if binary is None:
        return gpd.GeoDataFrame(table, geometry=gpd.GeoSeries([None] * len(table)), crs=crs)
    shapes = shapely.from_wkb(binary, on_invalid="fix")
    lost = sum(one is None and of is not None for one, of in zip(shapes, binary, strict=True))
    if lost:
        raise ValueError(f"{lost} of the geometries are damaged")
    return gpd.GeoDataFrame(table, geometry=np.asarray(shapes, dtype=object), crs=crs)


def _ask(work: str, path: str | Path, *rest: Any) -> Any:
    try:
        return ask(f"vector.{work}", path, _others(), OFFLINE, *rest)
    except OSError as error:
        raise ReadingError(DAMAGED, str(error)) from error


@cache
def _others() -> str:
    """Drivers that are left out."""
    return ",".join(name for name in pyogrio.list_drivers() if name not in DRIVERS)
