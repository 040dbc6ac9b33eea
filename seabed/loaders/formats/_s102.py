"""S-102 bathymetric surfaces, by their published structure.

International Hydrographic Organization, *S-102 Bathymetric Surface Product Specification*,
editions 2.0 to 3.0: an HDF5 file whose feature ``BathymetryCoverage`` holds instances ``.01``,
``.02``…, each with a regular grid of depth (positive down) and uncertainty, row 0 in the south,
1e6 for no depth.
"""

from __future__ import annotations

from functools import partial
from typing import Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from seabed.errors import GridError
from seabed.guarded import ask
from seabed.loaders.hdf5 import Hdf5, Part
from seabed.loaders.layer import Cells, Layer, blank

VOID: Final = 1e6
FEATURE: Final = "BathymetryCoverage"

DATUMS: Final[dict[int, str]] = {
    1: "MLWS", 2: "mean lower low water springs", 3: "MSL", 4: "lowest low water", 5: "MLW",
    6: "lowest low water springs", 7: "approximate MLWS", 8: "Indian spring low water",
    9: "low water springs", 10: "approximate LAT", 11: "nearly lowest low water", 12: "MLLW",
    13: "low water", 14: "approximate MLW", 15: "approximate MLLW", 16: "MHW", 17: "MHWS",
    18: "high water", 19: "approximate MSL", 20: "high water springs", 21: "MHHW",
    22: "equinoctial spring low water", 23: "LAT", 24: "local datum",
    25: "International Great Lakes Datum 1985", 26: "mean water level",
    27: "lower low water large tide", 28: "higher high water large tide",
    29: "nearly highest high water", 30: "HAT",
}  # fmt: skip
"""Codes of the vertical datum (IHO S-100, the same as the attribute VERDAT of S-57)."""


def is_s102(data: Hdf5) -> bool:
    """Whether an open HDF5 file is an S-102 product."""
    return FEATURE in data.parts


def open_s102(source: str, *, data: Hdf5, variable: str | None = None) -> Layer:
    """Read the header of an S-102 file, whose tree is `data`, as a layer.

    variable: instance, such as ``"BathymetryCoverage.02"``; the first if not given.
    """
    instances = [name for name in data.names(FEATURE) if name.startswith(f"{FEATURE}.")]
    name = variable or instances[0]
    if name not in instances:
        raise GridError(
            f"no instance {name!r}", file=source, do=f"Its instances: {', '.join(instances)}."
        )
    grid = data.parts[f"{FEATURE}/{name}"]
    group = min(key for key in data.names(grid.name) if key.startswith("Group"))
    values = data.parts[f"{grid.name}/{group}/values"]
    rows, columns = values.shape or ()
    west, south = float(grid.attrs["gridOriginLongitude"]), float(grid.attrs["gridOriginLatitude"])
    width = float(grid.attrs["gridSpacingLongitudinal"])
    height = float(grid.attrs["gridSpacingLatitudinal"])
    read = partial(_read, source=source, path=values.name)
    return Layer(
        source=source,
        format="S-102",
        variable=name,
        shape=(rows, columns),
        transform=Affine(width, 0.0, west - width / 2, 0.0, height, south - height / 2),
        crs=_crs(data),
        read=partial(read, field="depth"),
        firm_sign="depth",
        firm_from="the S-102 format",
        unit="m",
        vertical_datum=_datum(grid, data),
        uncertainty=partial(read, field="uncertainty") if "uncertainty" in values.fields else None,
        others=tuple(instances),
    )


def _read(cells: Cells, *, source: str, path: str, field: str) -> NDArray[np.float32]:
    count = cells.rows * cells.columns
    ((values,),) = ask("hdf5.read", source, [path], [field], cells.slices, cells=count)
    array: NDArray[np.float32] = np.require(values, np.float32, ["C", "W"])
    blank(array, VOID)
    return array


def _crs(data: Hdf5) -> CRS | None:
    for key in ("horizontalCRS", "horizontalDatumValue"):
        code = data.root.attrs.get(key)
        if code is not None and int(code) > 0:
            try:
                return CRS.from_epsg(int(code))
            except CRSError:
                continue
    return None


def _datum(grid: Part, data: Hdf5) -> str:
    """Datum of the instance, else of the file."""
    for holder in (grid, data.root):
        code = holder.attrs.get("verticalDatum")
        if code is not None:
            return DATUMS.get(int(code), "")
    return ""
