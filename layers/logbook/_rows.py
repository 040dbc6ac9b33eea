"""Between tables and rows of the logbook."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS

from layers.logbook._blobs import to_blobs
from layers.logbook._columns import known_shapes, more_of, typed
from layers.logbook.schema import LATER, BookTable

DEGREES: Final = CRS.from_epsg(4326)


def names_of(table: BookTable) -> list[str]:
    """Columns of a row, in order."""
    return [*(["geom"] if table.geometry else []), *table.columns, "more"]


def to_rows(table: BookTable, frame: pd.DataFrame) -> list[tuple[Any, ...]]:
    """Turn a frame into rows; what the schema does not name goes into ``more`` as JSON."""
    count = len(frame)
    columns: list[list[Any]] = []
    if table.geometry:
        columns.append(to_blobs(frame.geometry.to_numpy()))
    plain = {name: list(map(_stored, column)) for name, column in pd.DataFrame(frame).items()}
    plain.pop("geometry", None)
    columns += [plain.pop(name, [None] * count) for name in table.columns]
    columns.append(_more(plain, count))
    return list(zip(*columns, strict=True)) if count else []


def from_rows(table: BookTable, batches: Iterable[Sequence[tuple[Any, ...]]]) -> pd.DataFrame:
    """Turn rows, a number (fid) before what `names_of` says, back into a frame of typed columns.

    Rows come in batches, so that few geometries are in memory twice.  LogbookError for a value that
    is not of its column's type.
    """
    names = ["fid", *names_of(table)]
    place = names.index("geom") if table.geometry else len(names)
    names = [name for name in names if name != "geom"]
    rows: list[tuple[Any, ...]] = []
    shapes = [np.zeros(0, object)]
    for batch in batches:
        if table.geometry:
            shapes.append(
                known_shapes(table, [row[place] for row in batch], [row[0] for row in batch])
            )
        rows += [row[:place] + row[place + 1 :] for row in batch]
    values = dict(zip(names, zip(*rows, strict=True), strict=True)) if rows else {}
    numbers = values.get("fid", ())
    columns: dict[str, Any] = {
        name: typed(table, name, values.get(name, ()), numbers) for name in table.columns
    }
    more = more_of(table, values.get("more", ()), numbers)
    if any(more):
        columns |= pd.DataFrame(more)
    if not table.geometry:
        return pd.DataFrame(columns)
    places = gpd.array.from_shapely(np.concatenate(shapes), crs=DEGREES)
    return gpd.GeoDataFrame(columns | {"geometry": places})


def stored_time(time: pd.Timestamp) -> str:
    """Write a time as the logbook keeps it: UTC, milliseconds; sorted as text, in order of time."""
    return str(time.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%S.%f"))[:-3] + "Z"


def _stored(value: Any) -> Any:
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, pd.Timestamp):
        return stored_time(value)
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return int(value) if isinstance(value, bool) else value


def _more(columns: dict[str, list[Any]], count: int) -> list[str | None]:
    rows: list[dict[str, Any]] = [{} for _ in range(count)]
    for name, values in columns.items():
        for row, value in zip(rows, values, strict=True):
            if value is not None and (value != "" or name not in LATER):
                row[name] = value
    return [json.dumps(row, ensure_ascii=False, sort_keys=True) if row else None for row in rows]
