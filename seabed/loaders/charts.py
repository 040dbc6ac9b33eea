"""Official vector charts (S-57 cells): what a drifting boat must keep clear of, and chart depths.

Object classes and attributes are those of the *IHO Transfer Standard for Digital Hydrographic
Data*, S-57 edition 3.1 (2000), appendix A.  Depths in a cell are metres (appendix B.1).
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError

from seabed.errors import GridError
from seabed.grid import Bounds
from seabed.loaders.chart_words import HAZARD_KINDS, RESTRICTION, WATER_LEVEL

__all__ = [
    "ChartReport",
    "describe_chart",
    "is_chart",
    "read_chart_contours",
    "read_chart_soundings",
    "read_hazards",
]

DRYING: Final = "drying ground"
UNKNOWN: Final = "unknown"
_DEPTH_CLASSES: Final = ("DEPCNT", "SOUNDG", "DEPARE")
_UNKNOWN_CLASS: Final = "Generic"
"""Layer in which the reader puts objects of classes that its catalogue doesn't have."""
_COLUMNS: Final = [
    "kind", "chart_class", "name", "description", "depth_m", "water_level", "restriction", "file",
]  # fmt: skip
_OPTIONS: Final = {
    "RETURN_PRIMITIVES": "OFF",
    "RETURN_LINKAGES": "OFF",
    "LNAM_REFS": "OFF",
    "SPLIT_MULTIPOINT": "ON",
    "ADD_SOUNDG_DEPTH": "ON",
}


@dataclass(frozen=True, slots=True)
class ChartReport:
    """What a chart cell holds.

    Attributes
    ----------
    file, kind, format : str
    hazards : dict
        Count by our kind.
    contours, soundings : int
    other_classes : dict
        Count by object class of what is neither hazard nor depth.
    bounds : Bounds or None
        Degrees, WGS 84.
    depth_min_m, depth_max_m : float
        Of the soundings; NaN without any.
    """

    file: str
    kind: str
    format: str
    hazards: dict[str, int]
    contours: int
    soundings: int
    other_classes: dict[str, int]
    bounds: Bounds | None
    depth_min_m: float
    depth_max_m: float

    def as_dict(self) -> dict[str, Any]:
        """As plain values that JSON can hold: NaN becomes None."""
        found = asdict(self)
        return {
            key: None if isinstance(value, float) and np.isnan(value) else value
            for key, value in found.items()
        }


def is_chart(path: str | Path) -> bool:
    """Whether a file is named as an S-57 cell or one of its updates (``.000``, ``.001``…)."""
    suffix = Path(path).suffix
    return len(suffix) == 4 and suffix[1:].isdigit()


def read_hazards(
    paths: str | Path | Sequence[str | Path], *, box: Bounds | None = None
) -> gpd.GeoDataFrame:
    """Read what a drifting boat must keep clear of.

    Parameters
    ----------
    paths : path, or several
        S-57 cells; updates beside a cell are applied by the reader.
    box : Bounds, optional
        Degrees, WGS 84.

    Returns
    -------
    GeoDataFrame
        EPSG:4326, one row an object: kind, chart_class, name, description, depth_m (least depth,
        negative where it dries; NaN unknown), water_level, restriction (words, ``""`` where not
        given), file, geometry.  Objects of a class that the reader doesn't know are kept, of kind
        ``unknown``.  ``attrs["other_classes"]`` counts those, and the objects of each class that
        is neither hazard nor depth, so that nothing in the cell goes unsaid.

    Raises
    ------
    GridError
        If a file is missing or no S-57 cell.
    """
    tables: list[gpd.GeoDataFrame] = []
    others: Counter[str] = Counter()
    for path in _paths(paths):
        for layer, count in _layers(path).items():
            if layer in HAZARD_KINDS:
                tables.append(_hazards(path, layer, HAZARD_KINDS[layer], box))
            elif layer == "DEPARE":
                tables.append(_drying(path, box))
            elif layer == _UNKNOWN_CLASS:
                tables.append(_hazards(path, layer, UNKNOWN, box))
                others.update(tables[-1]["chart_class"])
            elif layer not in _DEPTH_CLASSES:
                others[layer] += count
    table = _joined(tables, _COLUMNS)
    table.attrs["other_classes"] = dict(others)
    return table


def read_chart_contours(
    paths: str | Path | Sequence[str | Path], *, box: Bounds | None = None
) -> gpd.GeoDataFrame:
    """Read the depth contours of charts.

    Parameters
    ----------
    paths, box
        As for `read_hazards`.

    Returns
    -------
    GeoDataFrame
        EPSG:4326, a row a line: ``depth_m`` (positive down; NaN where the chart gives none),
        ``file``, ``geometry``.  Charts without contours give no rows.

    Raises
    ------
    GridError
        If a file is missing or no S-57 cell.
    """
    return _depths(paths, "DEPCNT", "VALDCO", box)


def read_chart_soundings(
    paths: str | Path | Sequence[str | Path], *, box: Bounds | None = None
) -> gpd.GeoDataFrame:
    """Read the soundings of charts.

    Parameters, columns and errors as for `read_chart_contours`; a row a point.
    """
    return _depths(paths, "SOUNDG", "DEPTH", box)


def describe_chart(path: str | Path) -> ChartReport:
    """Say what a chart cell holds.

    Returns
    -------
    ChartReport
        Counts of hazards by kind, of contours and soundings, and of what else is in it; depths are
        NaN where there is no sounding.

    Raises
    ------
    GridError
        If the file is missing or no S-57 cell.
    """
    hazards, contours = read_hazards(path), read_chart_contours(path)
    soundings = read_chart_soundings(path)
    depths = soundings["depth_m"]
    edges = [table.total_bounds for table in (hazards, contours, soundings) if len(table)]
    box = None
    if edges:
        low, high = np.min(edges, axis=0), np.max(edges, axis=0)
        box = Bounds(float(low[0]), float(low[1]), float(high[2]), float(high[3]))
    return ChartReport(
        file=str(path),
        kind="chart",
        format="S-57",
        hazards={str(k): int(n) for k, n in hazards["kind"].value_counts().sort_index().items()},
        contours=len(contours),
        soundings=len(soundings),
        other_classes=hazards.attrs["other_classes"],
        bounds=box,
        depth_min_m=float(depths.min()) if len(depths) else float("nan"),
        depth_max_m=float(depths.max()) if len(depths) else float("nan"),
    )


def _paths(paths: str | Path | Sequence[str | Path]) -> list[Path]:
    named = [paths] if isinstance(paths, str | Path) else list(paths)
    found = list({os.path.realpath(path): Path(path) for path in named}.values())  # each but once
    for path in found:
        if not path.exists():
            raise GridError("there is no such file", file=path, do="Check the name and the folder.")
    return found


def _layers(path: Path) -> dict[str, int]:
    """Object classes of a cell and how many objects each has."""
    if not _is_iso_8211(path):
        raise _no_cell(path)  # the vector library would follow what other files name
    try:
        names = [str(name) for name, _ in pyogrio.list_layers(path)]
        infos = {
            name: pyogrio.read_info(path, layer=name, force_feature_count=True) for name in names
        }
    except (DataSourceError, DataLayerError) as error:
        raise _no_cell(path) from error
    if any(info["driver"] != "S57" for info in infos.values()):
        raise _no_cell(path)  # the library opens tables, tracks and the like just as gladly
    counts = {name: int(info["features"]) for name, info in infos.items()}
    return {name: count for name, count in counts.items() if count and name != "DSID"}


def _is_iso_8211(path: Path) -> bool:
    """Whether a file begins with a leader of ISO/IEC 8211: a length of five digits, then ``L``."""
    try:
        with path.open("rb") as stream:
            leader = stream.read(7)
    except OSError:
        return False
    return leader[:5].isdigit() and leader[6:] == b"L"


def _no_cell(path: Path) -> GridError:
    return GridError(
        "this is no S-57 chart cell, or it is damaged",
        file=path,
        do="Give the .000 file of the cell; fetch it again if it is one.",
    )


def _table(path: Path, layer: str, box: Bounds | None) -> gpd.GeoDataFrame:
    try:
        table = pyogrio.read_dataframe(
            path,
            layer=layer,
            bbox=None if box is None else (box.west, box.south, box.east, box.north),
            **_OPTIONS,
        )
    except (DataSourceError, DataLayerError, ValueError) as error:
        raise GridError(
            f"its {layer} objects can't be read ({error})", file=path, do="Fetch the cell again."
        ) from error
    if not isinstance(table, gpd.GeoDataFrame):
        return gpd.GeoDataFrame(table, geometry=gpd.GeoSeries([None] * len(table)), crs=4326)
    return table.to_crs(4326) if table.crs else table.set_crs(4326)


def _hazards(path: Path, layer: str, kind: str, box: Bounds | None) -> gpd.GeoDataFrame:
    table = _table(path, layer, box)
    table = table[table.geometry.notna()]
    return gpd.GeoDataFrame(
        {
            "kind": kind,
            "chart_class": _classes(table, layer),
            "name": _texts(table, "OBJNAM"),
            "description": _texts(table, "INFORM"),
            "depth_m": _numbers(table, "VALSOU"),
            "water_level": [_words(code, WATER_LEVEL) for code in _raw(table, "WATLEV")],
            "restriction": [_words(codes, RESTRICTION) for codes in _raw(table, "RESTRN")],
            "file": str(path),
        },
        geometry=table.geometry.to_numpy(),
        crs=4326,
        index=range(len(table)),
    )


def _drying(path: Path, box: Bounds | None) -> gpd.GeoDataFrame:
    """Depth areas that fall dry: both limits at or over the datum."""
    table = _table(path, "DEPARE", box)
    low, high = _numbers(table, "DRVAL1"), _numbers(table, "DRVAL2")
    dry = (high <= 0) & table.geometry.notna().to_numpy()
    return gpd.GeoDataFrame(
        {
            "kind": DRYING,
            "chart_class": "DEPARE",
            "name": "",
            "description": "",
            "depth_m": low[dry],
            "water_level": WATER_LEVEL[4],
            "restriction": "",
            "file": str(path),
        },
        geometry=table.geometry.to_numpy()[dry],
        crs=4326,
        index=range(int(dry.sum())),
    )


def _depths(
    paths: str | Path | Sequence[str | Path], layer: str, column: str, box: Bounds | None
) -> gpd.GeoDataFrame:
    tables = []
    for path in _paths(paths):
        if layer in _layers(path):
            table = _table(path, layer, box)
            table = table[table.geometry.notna()]
            tables.append(
                gpd.GeoDataFrame(
                    {"depth_m": _numbers(table, column), "file": str(path)},
                    geometry=shapely.force_2d(table.geometry.to_numpy()),
                    crs=4326,
                    index=range(len(table)),
                )
            )
    return _joined(tables, ["depth_m", "file"])


def _joined(tables: Iterable[gpd.GeoDataFrame], columns: list[str]) -> gpd.GeoDataFrame:
    full = [table for table in tables if len(table)]
    if not full:
        empty = {name: pd.Series(dtype=float if name == "depth_m" else object) for name in columns}
        return gpd.GeoDataFrame(empty, geometry=gpd.GeoSeries([], crs=4326), crs=4326)
    joined = pd.concat(full, ignore_index=True)
    return gpd.GeoDataFrame(joined, geometry="geometry", crs=4326)


def _raw(table: gpd.GeoDataFrame, column: str) -> list[Any]:
    return list(table[column]) if column in table else [None] * len(table)


def _texts(table: gpd.GeoDataFrame, column: str) -> list[str]:
    return [str(value).strip() if isinstance(value, str) else "" for value in _raw(table, column)]


def _numbers(table: gpd.GeoDataFrame, column: str) -> Any:
    values = pd.to_numeric(pd.Series(_raw(table, column), dtype=object), errors="coerce")
    return values.to_numpy(float)


def _classes(table: gpd.GeoDataFrame, layer: str) -> list[str]:
    if layer != _UNKNOWN_CLASS:
        return [layer] * len(table)
    return [f"object class {code}" for code in _raw(table, "OBJL")]


def _codes(value: Any) -> list[int]:
    """Codes of an attribute that holds one or a list, as number, text or array."""
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return []
    if isinstance(value, str):
        return [int(part) for part in value.strip("()").split(",") if part.strip().isdigit()]
    return [int(part) for part in np.ravel(value)]


def _words(value: Any, words: dict[int, str]) -> str:
    return ", ".join(words.get(code, f"code {code}") for code in _codes(value))
