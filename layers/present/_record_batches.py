"""Tables as record batches of Arrow, without the large library of that name.

Layout of the buffers: Arrow columnar format 1.4 (validity bitmaps from the least bit on, offsets of
32 bits).
"""

from __future__ import annotations

from typing import Any, Final

import nanoarrow as na
import numpy as np
import pandas as pd
from nanoarrow.c_array import CArray

_POINT: Final = np.dtype([("order", "u1"), ("kind", "<u4"), ("x", "<f8"), ("y", "<f8")])
_NUMBERS: Final = {
    "f4": na.float32(), "f8": na.float64(),
    "i1": na.int8(), "i2": na.int16(), "i4": na.int32(), "i8": na.int64(),
}  # fmt: skip


def record_batch(table: pd.DataFrame) -> CArray:
    """Give a table with columns ``longitude`` and ``latitude`` as a batch of points.

    Numbers, categories of text and times; unknown values are null.  The points come last, as
    well-known binary in the column ``geometry``.
    """
    columns = {name: _column(table[name]) for name in table.columns.drop(["longitude", "latitude"])}
    columns["geometry"] = _points(table["longitude"].to_numpy(), table["latitude"].to_numpy())
    kinds = na.struct({name: array.schema for name, array in columns.items()})
    return na.c_array_from_buffers(kinds, len(table), [None], children=columns.values())


def _column(values: pd.Series) -> CArray:
    if isinstance(values.dtype, pd.CategoricalDtype):
        words = [str(word).encode() for word in values.cat.categories]
        return _texts(words, values.cat.codes.to_numpy())
    if isinstance(values.dtype, pd.DatetimeTZDtype):
        numbers = values.dt.as_unit("ms").to_numpy("datetime64[ms]").view("i8")
        return _fixed(na.timestamp("ms", timezone="UTC"), numbers, values.isna().to_numpy())
    numbers = values.to_numpy()
    kind = _NUMBERS[numbers.dtype.str[1:]]
    return _fixed(kind, numbers, np.isnan(numbers))


def _fixed(kind: Any, numbers: np.ndarray[Any, Any], unknown: np.ndarray[Any, Any]) -> CArray:
    buffers = [_validity(unknown), np.ascontiguousarray(numbers)]
    return na.c_array_from_buffers(kind, len(numbers), buffers)


def _validity(unknown: np.ndarray[Any, Any]) -> np.ndarray[Any, Any] | None:
    return np.packbits(~unknown, bitorder="little") if unknown.any() else None


def _texts(words: list[bytes], codes: np.ndarray[Any, Any]) -> CArray:
    """Give the word of each code; null for -1."""
    words = [*words, b""]  # the last one for -1
    lengths = np.array([len(word) for word in words])[codes]
    longest = max(1, *map(len, words))
    octets = np.array(words, f"S{longest}")[codes].view("u1").reshape(-1, longest)
    used = np.arange(longest) < lengths[:, None]
    return _varied(na.string(), lengths, octets[used].tobytes(), codes < 0)


def _points(x: np.ndarray[Any, Any], y: np.ndarray[Any, Any]) -> CArray:
    """Give points as well-known binary (OGC 06-103r4): byte order, kind 1, x, y."""
    unknown = np.isnan(x) | np.isnan(y)
    points = np.empty(len(x), _POINT)
    points["order"], points["kind"], points["x"], points["y"] = 1, 1, x, y
    lengths = np.where(unknown, 0, _POINT.itemsize)
    return _varied(na.binary(), lengths, points[~unknown].tobytes(), unknown)


def _varied(
    kind: Any, lengths: np.ndarray[Any, Any], octets: bytes, unknown: np.ndarray[Any, Any]
) -> CArray:
    offsets = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
    return na.c_array_from_buffers(kind, len(lengths), [_validity(unknown), offsets, octets])
