"""Official vector charts (S-57 cells): what a drifting boat must keep clear of, and chart depths.

Object classes and attributes are those of the *IHO Transfer Standard for Digital Hydrographic
Data*, S-57 edition 3.1 (2000), appendix A.  Depths in a cell are metres (appendix B.1).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from seabed.grid import Bounds
from seabed.loaders.charts._cells import (
    cells_of,
    classes_in,
    numbers_of,
    objects_of,
    texts_of,
    values_of,
    words_of,
)
from seabed.schema import Table, documented

DRYING: Final = "drying ground"
UNKNOWN: Final = "unknown"
_DEPTH_CLASSES: Final = ("DEPCNT", "SOUNDG", "DEPARE")
_UNKNOWN_CLASS: Final = "Generic"
"""Layer in which the reader puts objects of classes that its catalogue doesn't have."""
HAZARDS: Final = Table.of(
    "hazards",
    "seabed.loaders.read_hazards",
    """
    kind [text "Kind"] what it is; ``unknown`` for an object of a class that the reader doesn't know
    chart_class [text] class of S-57
    name [text empty "Name"] ``""`` where not given
    description [text empty "Description"] ``""`` where not given
    depth_m ["Depth" empty] least depth, negative where it dries; NaN unknown
    water_level [text empty "Water level"] in words; ``""`` where not given
    restriction [text empty "Restriction"] in words; ``""`` where not given
    file [text] the cell
    geometry [Point] or LineString, Polygon
    """,
)
CHART_DEPTHS: Final = Table.of(
    "chart_depths",
    "seabed.loaders.charts.read_chart_contours",
    """
    depth_m ["Depth" empty] positive down; NaN where the chart gives none
    file [text] the cell
    geometry [LineString] or Point, of soundings
    """,
)

HAZARD_KINDS: Final[dict[str, str]] = {
    "UWTROC": "rock", "WRECKS": "wreck", "OBSTRN": "obstruction", "PILPNT": "pile",
    "WATTUR": "water turbulence", "SNDWAV": "sand waves", "WEDKLP": "weed or kelp",
    "CBLSUB": "submarine cable", "CBLARE": "cable area", "CBLOHD": "overhead cable",
    "PIPSOL": "pipeline", "PIPARE": "pipeline area", "PIPOHD": "overhead pipeline",
    "RESARE": "restricted area", "CTNARE": "caution area", "PRCARE": "precautionary area",
    "DMPGRD": "dumping ground", "MIPARE": "military practice area", "SPLARE": "sea-plane area",
    "FAIRWY": "fairway", "DWRTPT": "deep water route", "DWRTCL": "deep water route",
    "TSSLPT": "traffic lane", "TSEZNE": "traffic separation zone",
    "TSELNE": "traffic separation line", "TSSBND": "traffic separation boundary",
    "TSSCRS": "traffic crossing", "TSSRON": "traffic roundabout", "ISTZNE": "inshore traffic zone",
    "TWRTPT": "two-way route", "RCRTCL": "recommended route", "RECTRC": "recommended track",
    "FERYRT": "ferry route", "SUBTLN": "submarine transit lane", "DRGARE": "dredged area",
    "ACHARE": "anchorage", "ACHBRT": "anchor berth", "MORFAC": "mooring",
    "MARCUL": "marine farm", "FSHFAC": "fishing gear fixed in place", "FSHGRD": "fishing ground",
    "FSHZNE": "fishery zone", "OFSPLF": "platform", "OSPARE": "production area",
    "OILBAR": "oil barrier", "FLODOC": "floating dock", "HULKES": "hulk", "PONTON": "pontoon",
    "DAMCON": "dam", "BRIDGE": "bridge", "GATCON": "gate", "DYKCON": "dyke",
    "SLCONS": "shore works", "LNDARE": "land",
}  # fmt: skip
"""Our word for each object class that matters to a drifting boat."""

WATER_LEVEL: Final = {
    1: "partly under water at high water", 2: "always dry", 3: "always under water",
    4: "covers and uncovers", 5: "awash", 6: "may flood", 7: "floating",
}  # fmt: skip
RESTRICTION: Final = {
    1: "anchoring prohibited", 2: "anchoring restricted", 3: "fishing prohibited",
    4: "fishing restricted", 5: "trawling prohibited", 6: "trawling restricted",
    7: "entry prohibited", 8: "entry restricted", 9: "dredging prohibited",
    10: "dredging restricted", 11: "diving prohibited", 12: "diving restricted", 13: "no wake",
    14: "to be avoided", 15: "construction prohibited", 16: "discharging prohibited",
    17: "discharging restricted", 18: "industrial or mineral work prohibited",
    19: "industrial or mineral work restricted", 20: "drilling prohibited",
    21: "drilling restricted", 22: "removal of historical objects prohibited",
    23: "cargo transfer prohibited", 24: "dragging prohibited", 25: "stopping prohibited",
    26: "landing prohibited", 27: "speed restricted",
}  # fmt: skip


@documented(HAZARDS)
def read_hazards(
    paths: str | Path | Sequence[str | Path],
    *,
    box: Bounds | Sequence[float] | None = None,
) -> gpd.GeoDataFrame:
    """Read what a drifting boat must keep clear of.

    Parameters
    ----------
    paths : path, or several
        S-57 cells; updates beside a cell are applied by the reader.
    box : Bounds, or west, south, east, north, optional
        Degrees, WGS 84.

    Returns
    -------
    GeoDataFrame
        EPSG:4326, a row an object.  ``attrs["other_classes"]`` counts the objects of unknown
        classes, and those of each class that is neither hazard nor depth.

        {hazards}

    Raises
    ------
    GridError
        If a file is missing or no S-57 cell.

    Examples
    --------
    >>> hazards = read_hazards("XX5TOLLI.000")
    >>> sorted(hazards["kind"])[:2]
    ['restricted area', 'rock']
    """
    around = Bounds.of(box)
    tables: list[gpd.GeoDataFrame] = []
    others: Counter[str] = Counter()
    for path in cells_of(paths):
        for layer, count in classes_in(path).items():
            if layer in HAZARD_KINDS:
                tables.append(_hazards(path, layer, HAZARD_KINDS[layer], around))
            elif layer == "DEPARE":
                tables.append(_drying(path, around))
            elif layer == _UNKNOWN_CLASS:
                tables.append(_hazards(path, layer, UNKNOWN, around))
                others.update(tables[-1]["chart_class"])
            elif layer not in _DEPTH_CLASSES:
                others[layer] += count
    table = _joined(tables, HAZARDS)
    table.attrs["other_classes"] = dict(others)
    return table


def read_chart_contours(
    paths: str | Path | Sequence[str | Path],
    *,
    box: Bounds | Sequence[float] | None = None,
) -> gpd.GeoDataFrame:
    """Read the depth contours of charts, as `CHART_DEPTHS`; the rest as `read_hazards`."""
    return _depths(paths, "DEPCNT", "VALDCO", Bounds.of(box))


def read_chart_soundings(
    paths: str | Path | Sequence[str | Path],
    *,
    box: Bounds | Sequence[float] | None = None,
) -> gpd.GeoDataFrame:
    """Read the soundings of charts, a row a point; the rest as `read_chart_contours`."""
    return _depths(paths, "SOUNDG", "DEPTH", Bounds.of(box))


def _hazards(path: Path, layer: str, kind: str, box: Bounds | None) -> gpd.GeoDataFrame:
    table = objects_of(path, layer, box)
    table = table[table.geometry.notna()]
    return gpd.GeoDataFrame(
        {
            "kind": kind,
            "chart_class": _classes(table, layer),
            "name": texts_of(table, "OBJNAM"),
            "description": texts_of(table, "INFORM"),
            "depth_m": numbers_of(table, "VALSOU"),
            "water_level": words_of(table, "WATLEV", WATER_LEVEL),
            "restriction": words_of(table, "RESTRN", RESTRICTION),
            "file": str(path),
        },
        geometry=table.geometry.to_numpy(),
        crs=4326,
        index=range(len(table)),
    )


def _drying(path: Path, box: Bounds | None) -> gpd.GeoDataFrame:
    """Depth areas that fall dry: both limits at or over the datum."""
    table = objects_of(path, "DEPARE", box)
    low, high = numbers_of(table, "DRVAL1"), numbers_of(table, "DRVAL2")
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
    for path in cells_of(paths):
        if layer in classes_in(path):
            table = objects_of(path, layer, box)
            table = table[table.geometry.notna()]
            tables.append(
                gpd.GeoDataFrame(
                    {"depth_m": numbers_of(table, column), "file": str(path)},
                    geometry=shapely.force_2d(table.geometry.to_numpy()),
                    crs=4326,
                    index=range(len(table)),
                )
            )
    return _joined(tables, CHART_DEPTHS)


def _joined(tables: Iterable[gpd.GeoDataFrame], columns: Table) -> gpd.GeoDataFrame:
    full = [table for table in tables if len(table)]
    joined = pd.concat(full, ignore_index=True) if full else columns.empty()
    return gpd.GeoDataFrame(joined, geometry="geometry", crs=4326)


def _classes(table: gpd.GeoDataFrame, layer: str) -> list[str]:
    if layer != _UNKNOWN_CLASS:
        return [layer] * len(table)
    return [f"object class {code}" for code in values_of(table, "OBJL")]


@dataclass(frozen=True, slots=True)
class ChartReport:
    """What a chart cell holds: hazards by our kind, others by class, least and most depth."""

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
        counts = asdict(self)
        return {
            key: None if isinstance(value, float) and np.isnan(value) else value
            for key, value in counts.items()
        }


def describe_chart(path: str | Path) -> ChartReport:
    """Say what a chart cell holds; GridError if the file is missing or no S-57 cell."""
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
