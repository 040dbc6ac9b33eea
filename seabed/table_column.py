"""A column of a table: its name, type, unit, digits, label and meaning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from seabed.units import convert, percent, rounded, rounded_down

GEOMETRY: Final = "geometry"
_DTYPES: Final = {
    "float": "float64", "int": "int64", "bool": "bool", "maybe": "boolean", "text": "object",
    "time": "datetime64[ns, UTC]", "Point": GEOMETRY, "LineString": GEOMETRY, "Polygon": GEOMETRY,
    "float32": "float32", "int32": "int32", "category": "category",
}  # fmt: skip
_QUANTITIES: Final = ("depth", "distance", "speed", "fish")
_RULES: Final = ("share", "least")
_UNITS: Final = {
    "m": ("m", 1), "m2": ("m²", 0), "m3": ("m³", 0), "deg": ("°", 0), "mps": ("m/s", 2),
    "s": ("s", 0), "c": ("°C", 1), "hours": ("h", 1), "longitude": ("°", 6), "latitude": ("°", 6),
}  # fmt: skip
"""Unit and digits by the last word of a column's name."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Attributes
    ----------
    name : str
        Its last word is its unit: ``depth_m``, ``sog_mps``, ``course_deg``.
    doc : str
        What it holds, and what an empty value means.
    dtype : str
        As pandas names it; "geometry" for geometries.
    empty : bool
        Whether it may hold NaN, NaT, None or ``""``.
    label : str
        What people call it.
    quantity : str
        "depth", "distance", "speed" or "fish", whose unit the reader chooses; else ``""``.
    digits : int
        Decimals that people read, of metres where it is a length: of feet one less.
    rule : str
        "share" if people read it as percent, "least" if it is rounded down; else ``""``.
    shown : bool
        Whether cards and maps show it: those whose label is given.
    """

    name: str
    doc: str
    dtype: str
    empty: bool
    label: str
    quantity: str
    digits: int
    rule: str
    shown: bool

    @classmethod
    def of(cls, name: str, options: Sequence[tuple[str, str]], doc: str) -> Column:
        """Make a column of the parts of its description; see `Table.of`."""
        word = name.rpartition("_")[2]
        stem = name.removesuffix(f"_{word}") if word in _UNITS else name
        words = [option for _, option in options if option]
        kinds = [one for one in words if one in _DTYPES]
        strange = [one for one in words if one not in (*_DTYPES, *_QUANTITIES, *_RULES, "empty")
                   and not one.startswith(".")]  # fmt: skip
        if strange:
            raise ValueError(f"unknown words in the description of {name}: {strange}")
        dtype = _DTYPES[kinds[0]] if kinds else "float64"
        quantity = "speed" if word == "mps" else "depth" if "depth" in name else ""
        digits = 0 if dtype.startswith("int") else _UNITS.get(word, ("", 2))[1]
        return cls(
            name,
            f"{kinds[0]}, {doc}" if dtype == GEOMETRY else doc,
            dtype,
            "empty" in words,
            next((label for label, _ in options if label), stem.replace("_", " ").capitalize()),
            next((one for one in words if one in _QUANTITIES), quantity),
            next((int(one[1:]) for one in words if one[0] == "."), digits),
            next((one for one in words if one in _RULES), ""),
            any(label for label, _ in options),
        )

    @property
    def unit(self) -> str:
        """Unit of its values, ``""`` for none."""
        return _UNITS.get(self.name.rpartition("_")[2], ("", 0))[0]

    @property
    def kind(self) -> str:
        """What it holds: "number", "truth", "text", "time" or "geometry"."""
        kinds = {"object": "text", "category": "text", "bool": "truth", "boolean": "truth"}
        kinds |= {_DTYPES["time"]: "time", GEOMETRY: GEOMETRY}
        return kinds.get(self.dtype, "number")

    @property
    def form(self) -> str:
        """How people read it: rule, quantity, "span" (of time), "direction", "angle", or kind."""
        if self.unit == "°" and self.kind == "number":
            return "angle" if self.digits else "direction"
        if self.rule:
            return " ".join(filter(None, (self.rule, self.quantity)))
        return self.quantity or ("span" if self.unit == "s" else self.kind)

    def shown_unit(self, units: Mapping[str, str]) -> str:
        """Give the unit that people read it in: minutes, or their choice for its quantity."""
        return "min" if self.unit == "s" else units.get(self.quantity, self.unit)

    def words(self, value: Any, units: Mapping[str, str]) -> str:
        """Write a value for people, without its unit; ``""`` for an empty one."""
        if value is None or pd.isna(value):
            return ""
        if self.kind != "number" or self.dtype.startswith("int"):
            return str(value)
        if self.rule == "share":
            return percent(value)
        if self.form == "direction":
            return f"{float(rounded(value)) % 360:03.0f}"
        amount, digits = self.amount(value, self.shown_unit(units))
        return (rounded_down if self.rule == "least" else rounded)(amount, digits)

    def amount(self, values: Any, unit: str) -> tuple[Any, int]:
        """Turn values into a unit that people read, and say with how many decimals."""
        if unit == "min" and self.unit == "s":
            return values / 60, self.digits
        if unit == self.unit:
            return values, self.digits
        return convert(values, unit), max(self.digits - (unit == "ft"), 0)  # a third of a metre


def holds(values: pd.Series, kind: str) -> bool:
    """Say whether a column's values are of a kind; an object's are checked one by one."""
    types, dtype = pd.api.types, values.dtype
    if types.is_object_dtype(dtype) and kind in ("text", "truth"):
        wanted = str if kind == "text" else (bool, np.bool_)
        return all(isinstance(value, wanted) for value in values.dropna())
    fits: dict[str, bool] = {
        "number": types.is_numeric_dtype(dtype) and not types.is_bool_dtype(dtype),
        "truth": types.is_bool_dtype(dtype),
        "text": types.is_string_dtype(dtype) or isinstance(dtype, pd.CategoricalDtype),
        "time": isinstance(dtype, pd.DatetimeTZDtype),
    }
    return fits[kind]
