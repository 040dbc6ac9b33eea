"""Tables as CSV that spreadsheets open safely."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.cautions import CAUTIONS, NOT_A_CHART
from seabed.files import write_text
from seabed.markup import FORMULA
from seabed.schema import for_files

_NEW_CELL: Final = re.compile(r"(?<=[;\t\n])(?=\s*[=+\-@\uff1d\uff0b\uff0d\uff20])")
"""Where a spreadsheet that is set to another separator would begin a cell with a formula."""
_BYTE_ORDER_MARK: Final = "\ufeff"


def write_table_csv(path: str | Path, table: pd.DataFrame) -> None:
    """Write a table as UTF-8 CSV, whole or not at all.

    Parameters
    ----------
    path : str or Path
    table : DataFrame or GeoDataFrame
        Columns keep their names (SI).  Points become ``longitude`` and ``latitude``, lines their
        start and end, in degrees, WGS 84; areas a point within.  Text that a spreadsheet would run
        as a formula gets a ``'`` before it, headings too.  Times are ISO 8601, UTC.  The file
        begins with a byte order mark, which spreadsheets need to read accents.  A ``README.txt``
        beside it has the cautions.

    Raises
    ------
    OutputError
        If it can't be written.

    Examples
    --------
    >>> from pathlib import Path
    >>> from seabed import example_grid, humps
    >>> write_table_csv("humps.csv", humps(example_grid()))
    >>> Path("humps.csv").read_text(encoding="utf-8-sig")[:30]
    'feature_id,kind,crest_depth_m,'
    """
    write_text(path, _BYTE_ORDER_MARK + csv_text(table))
    caution_beside(path)


def caution_beside(path: str | Path) -> None:
    """Write the cautions beside a table, if missing; ``CAUTIONS.txt`` beside another's README."""
    file = Path(path).with_name("README.txt")
    if file.exists() and NOT_A_CHART not in file.read_text(encoding="utf-8", errors="replace"):
        file = file.with_name("CAUTIONS.txt")
    if not file.exists():
        write_text(file, f"{CAUTIONS}\n")


def csv_text(table: pd.DataFrame) -> str:
    """Give the text of `write_table_csv`, without the byte order mark."""
    plain = for_files(_places(table) if isinstance(table, gpd.GeoDataFrame) else table)
    for name in plain.columns:
        plain[name] = _cells(plain[name])
    plain.columns = [_safe(str(name)) for name in plain.columns]
    text: str = plain.to_csv(index=False, lineterminator="\n")
    return text


def _places(table: gpd.GeoDataFrame) -> pd.DataFrame:
    """Put columns of degrees in place of the geometry."""
    plain = pd.DataFrame(table.drop(columns=table.geometry.name))
    shape = table.geometry if table.crs is None else table.geometry.to_crs("EPSG:4326")
    if not len(table) or "longitude" in plain:
        return plain
    if (shape.geom_type == "Point").all():
        return plain.assign(longitude=shape.x, latitude=shape.y)
    if (shape.geom_type == "LineString").all():
        ends = np.array([[*line.coords[0][:2], *line.coords[-1][:2]] for line in shape])
        names = ("start_longitude", "start_latitude", "end_longitude", "end_latitude")
        return plain.assign(**dict(zip(names, ends.T, strict=True)))
    inside = shape.representative_point()
    return plain.assign(longitude=inside.x, latitude=inside.y)


def _cells(column: pd.Series) -> pd.Series:
    if isinstance(column.dtype, pd.DatetimeTZDtype):
        return column.dt.tz_convert("UTC").dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    if pd.api.types.is_numeric_dtype(column):
        return column
    return column.map(_safe)


def _safe(value: Any) -> Any:
    """Defuse a formula; and a lone carriage return, which the writer leaves unquoted."""
    if not isinstance(value, str):
        return value
    plain = _NEW_CELL.sub("'", value.replace("\r\n", "\n").replace("\r", "\n"))
    return f"'{plain}" if FORMULA.match(value) else plain
