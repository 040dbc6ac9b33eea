"""Values of a stored column as its own type: what another program has put there is not trusted."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from typing import Any, Final, NoReturn, TypeAlias

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from layers.logbook._blobs import BlobError, from_blobs
from layers.logbook.schema import UNUSABLE, BookTable
from seabed.errors import LogbookError

MOST: Final = 1e12
"""No length, time or count of a trip is greater."""
FIRST, END = pd.Timestamp("1900-01-01", tz="UTC"), pd.Timestamp("2200-01-01", tz="UTC")
_NEEDS_PLACE: Final = {"drifts", "lines"}
_PLAIN: Final = (str, int, float, bool)
Values: TypeAlias = pd.Series | NDArray[Any] | pd.api.extensions.ExtensionArray


def typed(table: BookTable, name: str, values: Sequence[Any], rows: Sequence[int]) -> Values:
    """Give a column in its own type; what is missing is NaN, NaT, NA or ``""``.

    values: as SQLite gives them, which lets any kind of value be in any column.
    rows: their numbers (fid).

    Raises LogbookError at a value of another type, or none where there must be one.
    """
    kind, _, rest = table.columns[name].partition(" ")
    known = [value is not None for value in values]
    if rest.startswith("NOT NULL") and not all(known):
        _refuse(table, name, rows[known.index(False)], "nothing is there")
    read: Callable[[Sequence[Any]], tuple[Values, NDArray[np.bool_]]] = _READERS[kind]
    column, good = read(values)
    wrong = np.array(known, bool) & ~good
    if wrong.any():
        at = int(np.argmax(wrong))
        _refuse(table, name, rows[at], f"{str(values[at])[:40]!r} is not {_WORDS[kind]}")
    return column


def known_shapes(table: BookTable, blobs: Sequence[Any], rows: Sequence[int]) -> NDArray[Any]:
    """Decode the geometries of a table.

    Raises LogbookError at one that is damaged, of another type, off the Earth, or missing where
    there must be one.
    """
    try:
        shapes = from_blobs(blobs)
    except BlobError as error:
        _refuse(table, "geom", rows[error.at], "it is damaged")
    missing = shapely.is_missing(shapes)
    empty = shapely.is_empty(shapes) | missing
    reach = np.abs(shapely.bounds(shapes)).reshape(-1, 2, 2).max(axis=1, initial=0)
    kind = str(table.geometry).lower()
    other = shapely.get_type_id(shapes) != {"linestring": 1, "point": 0}[kind]
    wrong = {
        f"it is not a {kind}": ~missing & other,
        "it is off the Earth": ~empty & ~((reach[:, 0] <= 360) & (reach[:, 1] <= 90)),
        "nothing is there": empty & (table.name in _NEEDS_PLACE),
    }
    for what, at in wrong.items():
        if at.any():
            _refuse(table, "geom", rows[int(np.argmax(at))], what)
    return shapes


def more_of(table: BookTable, texts: Sequence[Any], rows: Sequence[int]) -> list[dict[str, Any]]:
    """Read the JSON of columns that the schema does not name, a dictionary a row."""
    taken = {*table.columns, "geometry", "geom", "fid", "more"}
    read = []
    for text, row in zip(texts, rows, strict=True):
        try:
            more = json.loads(text) if text else {}
        except (ValueError, TypeError, RecursionError):
            more = None
        if not isinstance(more, dict) or not all(isinstance(one, _PLAIN) for one in more.values()):
            _refuse(table, "more", row, "it is not a JSON object of plain values")
        if taken & more.keys():
            _refuse(table, "more", row, f"it names {min(taken & more.keys())}, a column of its own")
        if more.get("stage") == "slack":  # what 0.1 called the stand of the tide
            more["stage"] = "stand"
        read.append(more)
    return read


def names_of_files(text: str) -> tuple[str, ...]:
    """Read the names of the files of a trip; LogbookError if they are no list of names."""
    try:
        names = json.loads(text or "[]")
    except (ValueError, RecursionError):
        names = None
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise LogbookError("files: it is not a JSON list of names", where="trips", do=UNUSABLE)
    return tuple(names)


def _times(values: Sequence[Any]) -> tuple[Values, NDArray[np.bool_]]:
    texts = np.array([value if isinstance(value, str) else None for value in values], object)
    times = pd.to_datetime(texts, utc=True, format="ISO8601", errors="coerce")
    good = (times >= FIRST) & (times < END)
    return times.where(good).as_unit("ns").array, good


def _numbers(values: Sequence[Any]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    plain = [
        float(value) if type(value) in {int, float} and abs(value) <= MOST else np.nan
        for value in values
    ]
    numbers = np.array(plain, np.float64)
    return numbers, np.isfinite(numbers)


def _counts(values: Sequence[Any]) -> tuple[Values, NDArray[np.bool_]]:
    numbers, good = _numbers(values)
    good &= numbers == np.floor(numbers)
    whole = np.where(good, numbers, 0).astype(np.int64)
    return whole if good.all() else pd.arrays.IntegerArray(whole, ~good), good


def _answers(values: Sequence[Any]) -> tuple[Values, NDArray[np.bool_]]:
    good = np.array([type(value) is int and value in {0, 1} for value in values], bool)
    plain = np.array([value == 1 for value in values], bool)
    return pd.arrays.BooleanArray(plain & good, ~good), good


def _texts(values: Sequence[Any]) -> tuple[Values, NDArray[np.bool_]]:
    good = np.array([isinstance(value, str) for value in values], bool)
    plain = [value if fine else "" for value, fine in zip(values, good, strict=True)]
    return pd.Series(plain, dtype=object), good


_READERS: Final = {
    "DATETIME": _times,
    "DOUBLE": _numbers,
    "INTEGER": _counts,
    "BOOLEAN": _answers,
    "TEXT": _texts,
}
_WORDS: Final = {
    "DATETIME": "a time of this century or the last",
    "DOUBLE": "a number of a trip",
    "INTEGER": "a count",
    "BOOLEAN": "yes or no (1 or 0)",
    "TEXT": "text",
}


def _refuse(table: BookTable, name: str, row: int, what: str) -> NoReturn:
    raise LogbookError(
        f"{name}: {what}",
        where=f"{table.name}, row {row}",
        do="Correct it in the program that wrote it, or restore a backup.",
    )
