"""Tables packed for the browser: short GeoJSON with the few properties that the page shows."""

from __future__ import annotations

import math
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.catches.reading import CATCHES
from layers.catches.tying import TIES
from layers.planning import PLAN, RUNS
from layers.planning.day.line import AFLOAT
from layers.present.pictures.rose import ROSE
from layers.scoring.lines import ON_LINES
from layers.scoring.ranking import LINES
from layers.scoring.stretches import STRETCHES
from layers.tracks import CONDITIONS, PIECES
from seabed.change import CHANGES, MOVES
from seabed.geodesy import to_degrees
from seabed.loaders.charts import CHART_DEPTHS, HAZARDS
from seabed.schema import Table
from seabed.soundings.proposals.proposing import PROPOSALS
from seabed.structure.band import BAND
from seabed.structure.contours import CONTOURS
from seabed.structure.doubtful import DOUBTFUL
from seabed.structure.edges import EDGES
from seabed.structure.highs import FEATURES
from seabed.structure.ranking import RANKS
from seabed.structure.uncertainty import UNCERTAINTY

_WARNING: Final = Table.of("warning", "", 'warning [text empty "Warning"] in words')
SOUNDED: Final = Table.of(
    "sounded",
    "layers.jobs.soundings",
    """
    line [int] number of the run of the sounder, from 0
    soundings [int "Soundings"] good ones of it
    shoalest_m ["Shoalest" depth] reduced to the datum
    deepest_m ["Deepest" depth] reduced to the datum
    off_m ["Deeper than the open grid by" depth empty .1] median of the run; NaN off the grid
    agrees [bool] whether that is within two standard deviations of it
    geometry [LineString] through its good soundings
    """,
)
SHOWN: Final[dict[str, Table]] = {
    name: table.shown
    for name, table in {
        "contours": CONTOURS,
        "chart_contours": CHART_DEPTHS,
        "band": BAND,
        "edges": EDGES + RANKS + UNCERTAINTY,
        "features": FEATURES + RANKS + UNCERTAINTY,
        "pieces": PIECES,
        "drifts": ON_LINES + CONDITIONS,
        "lines": LINES,
        "stretches": STRETCHES,
        "rose": ROSE,
        "hazards": HAZARDS,
        "doubtful": DOUBTFUL,
        "changes": CHANGES,
        "moves": MOVES,
        "soundings": SOUNDED,
        "next_lines": PROPOSALS,
        "plan": PLAN + AFLOAT + _WARNING,
        "runs": RUNS,
        "catches": CATCHES + TIES,
    }.items()
}
"""What goes with each geometry, by table; columns that a table lacks are left out."""

PASS_PROPERTIES: Final = (
    "plan_id", "drift_s", "bearing_deg", "push_mps", "push_deg", "push_end_mps", "push_end_deg",
    "depth_min_m", "share_in_band", "fan_in_band",
)  # fmt: skip

THINNING: Final = ((50_000, 4e-6), (300_000, 1.5e-5), (math.inf, 4e-5))
"""Lines of a table of at most so many vertices are thinned by up to so many degrees (0.4, 1.7 and
4 m): a season of tracks stays quick to draw, and within the error of a receiver."""


def pack_features(name: str, table: gpd.GeoDataFrame, timezone: str) -> list[dict[str, Any]]:
    """Pack a table, a key of `SHOWN`, as a list of ``{"g": geometry, …}``.

    timezone: times are written in this zone, ``2031-06-14 08:30:05``.
    Returned: GeoJSON geometries of six decimals under ``g``; NaN and NA become None; rows without
        geometry are left out, but for catches, which keep ``"g": None``.  Lines of a plan have
        ``slot``, begin and end of their time in seconds since 1970.
    """
    placed = table.to_crs("EPSG:4326") if table.crs is not None else table
    columns = [column for column in SHOWN[name].names if column in placed.columns]
    geometry = placed.geometry.to_numpy()
    if name not in ("features", "catches", "hazards"):
        geometry = _thinned(geometry)
    values = {column: _plain_column(placed[column], timezone) for column in columns}
    for x, y in (("peak_x", "peak_y"), ("middle_x", "middle_y")):
        if x in table.columns:
            values["at"] = _places(table, x, y)
    if name == "plan":
        values["slot"] = _slots(table)
    values["g"] = _geometries(geometry)
    rows = [dict(zip(values, row, strict=True)) for row in zip(*values.values(), strict=True)]
    return rows if name == "catches" else [row for row in rows if row["g"] is not None]


def pack_passes(passes: pd.DataFrame | None) -> list[dict[str, Any]]:
    """Pack what changes from pass to pass of a plan's lines, in order of time, without tracks."""
    if passes is None or not len(passes):
        return []
    values = {name: _plain_column(passes[name], "UTC") for name in PASS_PROPERTIES}
    slots = zip(passes["start"], passes["end"], strict=True)
    values["slot"] = [[start.timestamp(), end.timestamp()] for start, end in slots]
    return [dict(zip(values, row, strict=True)) for row in zip(*values.values(), strict=True)]


def _thinned(geometry: NDArray[np.object_]) -> NDArray[np.object_]:
    vertices = int(shapely.get_num_coordinates(geometry).sum())
    tolerance = next(degrees for most, degrees in THINNING if vertices <= most)
    lines = shapely.get_dimensions(geometry) == 1
    thinned = geometry.copy()
    # a line may cross itself as it did before; areas must stay whole
    thinned[lines] = shapely.simplify(geometry[lines], tolerance, preserve_topology=False)
    thinned[~lines] = shapely.simplify(geometry[~lines], tolerance)
    return thinned


def _plain_column(values: pd.Series, timezone: str) -> list[Any]:
    """Do as `plain` does, a whole column at a time where it is of one kind."""
    if isinstance(values.dtype, pd.DatetimeTZDtype):
        text = values.dt.tz_convert(timezone).dt.strftime("%Y-%m-%d %H:%M:%S")
        return [value if isinstance(value, str) else None for value in text]
    if values.dtype.kind == "f" and isinstance(values.dtype, np.dtype):
        finite = np.isfinite(values.to_numpy()).tolist()
        pairs = zip(values.tolist(), finite, strict=True)
        return [float(f"{value:.6g}") if known else None for value, known in pairs]
    if values.dtype.kind in "iu" and isinstance(values.dtype, np.dtype):
        return list(values.tolist())
    return [value if type(value) is str else plain(value, timezone) for value in values]


def plain(value: Any, timezone: str) -> Any:
    """Give a value that JSON has: times as local text, NaN and NA as None, numbers of 6 digits."""
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, pd.Timestamp):
        return value.tz_convert(timezone).strftime("%Y-%m-%d %H:%M:%S")
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return None if not np.isfinite(value) else float(f"{value:.6g}")
    return str(value)


def _places(table: gpd.GeoDataFrame, x: str, y: str) -> list[list[float]]:
    """Longitude and latitude of each crest, floor or middle of an edge."""
    columns = table[x].to_numpy(float), table[y].to_numpy(float)
    longitude, latitude = to_degrees(table.crs).transform(*columns)
    return [[round(a, 6), round(b, 6)] for a, b in zip(longitude, latitude, strict=True)]


def _slots(table: gpd.GeoDataFrame) -> list[list[float]]:
    """Begin and end of each planned line's time, seconds since 1970."""
    ends = zip(table["slot_start"], table["slot_end"], strict=True)
    return [[begin.timestamp(), end.timestamp()] for begin, end in ends]


SIMPLE: Final = {0: "Point", 1: "LineString"}
"""Kinds whose coordinates stand in one run, by number of type (simple features, OGC 06-103r4)."""


def _geometries(shapes: NDArray[np.object_]) -> list[dict[str, Any] | None]:
    """GeoJSON geometries; None for those missing and empty."""
    kinds = shapely.get_type_id(shapes).tolist()
    counts = shapely.get_num_coordinates(shapes)
    every = _rounded(shapely.get_coordinates(shapes)).tolist()
    ends = np.cumsum(counts).tolist()
    made: list[dict[str, Any] | None] = []
    for shape, kind, count, end in zip(shapes, kinds, counts.tolist(), ends, strict=True):
        if count == 0:
            made.append(None)
        elif kind in SIMPLE:
            places = every[end - count : end]
            made.append({"type": SIMPLE[kind], "coordinates": places if kind else places[0]})
        else:
            made.append(shapely.geometry.mapping(shapely.transform(shape, _rounded)))
    return made


def _rounded(places: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.round(places, 6)
