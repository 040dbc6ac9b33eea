"""NetCDF 3 and 4: a file's variables in plain values, and blocks of them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import h5netcdf
import numpy as np

from seabed.guarded.works.hdf5 import plain_attributes

MOST_VARIABLES: Final = 20_000
LONGEST_AXIS: Final = 5_000_000

Variable = tuple[tuple[str, ...], tuple[int, ...], Any, dict[str, Any], Any]


def header(path: str) -> tuple[dict[str, Any], dict[str, Variable]]:
    """Attributes; and of each variable dimensions, shape, dtype, attributes, and short values."""
    with _opened(path) as (data, attributes):
        if len(data.variables) > MOST_VARIABLES:
            raise ValueError("too many variables")
        return attributes(data), {
            str(name): (
                tuple(map(str, one.dimensions)),
                tuple(map(int, one.shape)),
                _kind(one),
                attributes(one),
                _values(one),
            )
            for name, one in data.variables.items()
        }


def _kind(variable: Any) -> Any:
    kind = np.dtype(variable.data.dtype if hasattr(variable, "data") else variable.dtype)
    return kind.newbyteorder("=") if kind.kind in "biuf" else np.dtype(object)


def _values(variable: Any) -> Any:
    if len(variable.shape) != 1 or _kind(variable).kind == "O":
        return None
    if variable.shape[0] > LONGEST_AXIS:
        raise ValueError("an axis is too long")
    return _native(np.asarray(variable[...]))


def _native(values: Any) -> Any:
    return values.astype(values.dtype.newbyteorder("="))


def read(path: str, name: str, block: dict[str, slice], order: tuple[str, ...]) -> Any:
    """Cells of a variable as float32, axes in `order`; of other dimensions the first step."""
    with _opened(path) as (data, _):
        variable = data.variables[name]
        dimensions = [str(dimension) for dimension in variable.dimensions]
        index = tuple(block.get(dimension, 0) for dimension in dimensions)
        values = np.asarray(variable[index])
        if [one for one in dimensions if one in block] != list(order):
            values = values.T
        return np.require(values, np.float32, ["C", "W", "O"])


@contextmanager
def _opened(path: str) -> Iterator[tuple[Any, Any]]:
    """Open either kind; with the file comes what reads attributes of it."""
    with Path(path).open("rb") as stream:
        classic = stream.read(3) == b"CDF"
    if classic:
        from scipy.io import netcdf_file  # noqa: PLC0415  (slow to import, and seldom needed)

        with netcdf_file(path, mmap=False) as data:
            yield data, _classic_attributes
    else:
        with h5netcdf.File(path, "r", phony_dims="access", decode_vlen_strings=True) as data:
            yield data, lambda holder: plain_attributes(holder.attrs)


def _classic_attributes(holder: Any) -> dict[str, Any]:
    return {
        name: value.decode("utf-8", errors="replace")
        if isinstance(value, bytes)
        else _native(np.asarray(value))[()]
        for name, value in holder._attributes.items()
    }
