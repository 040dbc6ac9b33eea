"""Layers of vector files, by the drivers of the published chart and package formats alone.

The library asks every driver that it has, by content, whether a file is of its kind; some kinds are
instructions to read something else, over the network too.  Here two drivers are left.
"""

from __future__ import annotations

import os
import sys
from typing import Any, Final

NOT_NEEDED: Final = ("geopandas", "pandas", "pyarrow", "shapely")
"""What the library would load, and does without."""
DRIVERS: Final = {"S57", "GPKG"}


def _library(others: str, offline: dict[str, str]) -> Any:
    """Load it without the `others`."""
    os.environ["GDAL_SKIP"] = others
    sys.modules.update({name: sys.modules.get(name) for name in NOT_NEEDED})  # type: ignore[misc]
    import pyogrio.raw  # noqa: PLC0415  (after what it is not to load)

    os.environ.pop("GDAL_SKIP")
    pyogrio.set_gdal_config_options(offline)
    if set(pyogrio.list_drivers()) != DRIVERS:
        raise RuntimeError("other drivers are left")
    return pyogrio


def layers(path: str, others: str, offline: dict[str, str]) -> dict[str, int]:
    """Names of the layers, and how many objects each has."""
    library = _library(others, offline)
    return {
        str(name): int(library.read_info(path, layer=name, force_feature_count=True)["features"])
        for name in library.list_layers(path)[:, 0]
    }


def read(
    path: str, others: str, offline: dict[str, str], layer: str, how: dict[str, Any]
) -> tuple[Any, ...]:
    """CRS, names of fields and their kinds, columns, and geometries as WKB.

    `how` has the library's own options.
    """
    library = _library(others, offline)
    about, _, shapes, columns = library.raw.read(path, layer=layer, datetime_as_string=True, **how)
    return about["crs"], list(about["fields"]), about["ogr_types"], columns, shapes
