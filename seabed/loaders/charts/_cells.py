"""Cells of official vector charts (S-57) opened: the objects of a class, and their attributes.

Attributes are those of the *IHO Transfer Standard for Digital Hydrographic Data*, S-57 edition 3.1
(2000), appendix A.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from seabed.errors import GridError
from seabed.files import plain_file
from seabed.grid import Bounds
from seabed.guarded import ReadingError
from seabed.loaders.vector_layers import layers_in, read_layer

_OPTIONS: Final = {
    "RETURN_PRIMITIVES": "OFF",
    "RETURN_LINKAGES": "OFF",
    "LNAM_REFS": "OFF",
    "SPLIT_MULTIPOINT": "ON",
    "ADD_SOUNDG_DEPTH": "ON",
}


def is_chart(path: str | Path) -> bool:
    """Whether a file is named as an S-57 cell or one of its updates (``.000``, ``.001``…)."""
    suffix = Path(path).suffix
    return len(suffix) == 4 and suffix[1:].isdigit()


def cells_of(paths: str | Path | Sequence[str | Path]) -> list[Path]:
    """Give the cells that are named, each but once.

    Raises GridError if one is missing.
    """
    named = [paths] if isinstance(paths, str | Path) else list(paths)
    files = list({os.path.realpath(path): Path(path) for path in named}.values())
    for path in files:
        plain_file(path)
        if not path.exists():
            raise GridError("there is no such file", file=path, do="Check the name and the folder.")
    return files


def classes_in(path: Path) -> dict[str, int]:
    """Object classes of a cell and how many objects each has.

    Raises GridError if it is no S-57 cell, or damaged.
    """
    if not _is_iso_8211(path):
        raise _no_cell(path)
    try:
        counts = layers_in(path)
    except ReadingError as error:
        raise _no_cell(path) from error
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
        "this is not an S-57 chart cell, or it is damaged",
        file=path,
        do="Give the .000 file of the cell; fetch it again if it is one.",
    )


def objects_of(path: Path, layer: str, box: Bounds | None) -> gpd.GeoDataFrame:
    """Read the objects of a class, EPSG:4326; their attributes as the cell has them.

    Raises GridError if they can't be read.
    """
    try:
        table = read_layer(path, layer, box=box, options=_OPTIONS)
    except ReadingError as error:
        raise GridError(
            f"its {layer} objects can't be read ({error})", file=path, do="Fetch the cell again."
        ) from error
    return table.to_crs(4326) if table.crs else table.set_crs(4326)


def values_of(table: gpd.GeoDataFrame, column: str) -> list[Any]:
    """Values of an attribute, None where the class has no such attribute."""
    return list(table[column]) if column in table else [None] * len(table)


def texts_of(table: gpd.GeoDataFrame, column: str) -> list[str]:
    """Text of an attribute, ``""`` where it is not given."""
    return [
        str(value).strip() if isinstance(value, str) else "" for value in values_of(table, column)
    ]


def numbers_of(table: gpd.GeoDataFrame, column: str) -> Any:
    """Numbers of an attribute, NaN where it is not given."""
    values = pd.to_numeric(pd.Series(values_of(table, column), dtype=object), errors="coerce")
    return values.to_numpy(float)


def words_of(table: gpd.GeoDataFrame, column: str, words: dict[int, str]) -> list[str]:
    """Words for an attribute's codes, several with commas between; ``""`` where it is not given.

    A code that has no word, or is damaged, is shown as it is: a restriction must not vanish.
    """
    return [
        ", ".join(_word(code, words) for code in _codes(value))
        for value in values_of(table, column)
    ]


def _word(code: str, words: dict[int, str]) -> str:
    known = words.get(int(code)) if code.isascii() and code.isdecimal() else None
    return known or f"code {code[:12]}"


def _codes(value: Any) -> list[str]:
    """Codes of an attribute that holds one or a list, as number, text or array."""
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return []
    parts = value.strip("()").split(",") if isinstance(value, str) else np.ravel(value)
    codes = (f"{part:g}" if isinstance(part, float) else str(part).strip() for part in parts)
    return [code for code in codes if code]
