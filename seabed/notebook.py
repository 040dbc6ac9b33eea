"""Results set out as a table where a notebook shows them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Final

from seabed.markup import markup_text

_DEEPEST: Final = 3
_MOST: Final = 12


class NotebookTable:
    """A dataclass that a notebook shows as a table of its fields.

    Grids show by their size and range, tables by their rows and columns; dataclasses and
    mappings in it are tables of their own, down to the third.  Text is escaped.
    """

    __slots__ = ()

    def _repr_html_(self) -> str:
        return f"<strong>{markup_text(type(self).__name__)}</strong>{_table(_parts(self), 1)}"


def _parts(value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping):
        yield from ((str(name), part) for name, part in value.items())
    else:
        yield from ((field.name, getattr(value, field.name)) for field in fields(value))


def _table(parts: Iterator[tuple[str, Any]], level: int) -> str:
    rows = "".join(
        f'<tr><th style="text-align:left;vertical-align:top">{markup_text(name)}</th>'
        f'<td style="text-align:left">{_cell(part, level)}</td></tr>'
        for name, part in parts
    )
    return f"<table>{rows}</table>"


def _cell(value: Any, level: int) -> str:
    if (is_dataclass(value) or isinstance(value, Mapping)) and not isinstance(value, type):
        if level < _DEEPEST:
            return _table(_parts(value), level + 1)
        return markup_text(type(value).__name__)
    if isinstance(value, (tuple, list)):
        cells = [_cell(part, _DEEPEST) for part in value[:_MOST]]
        return "<br>".join([*cells, *(["..."] if len(value) > _MOST else [])])
    return markup_text(_words(value))


def _words(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    if hasattr(value, "columns"):
        return f"{len(value)} rows: {', '.join(map(str, value.columns))}"
    if hasattr(value, "shape") and len(value.shape):
        return f"{' x '.join(map(str, value.shape))} values{_range(value)}"
    return str(value)


def _range(values: Any) -> str:
    """Least and greatest, unless it would take reading them first."""
    if getattr(values, "chunks", None) or values.dtype.kind not in "iuf":
        return ""
    import numpy as np  # noqa: PLC0415 (an area file must load quickly)

    array = np.asarray(values, np.float64)
    known = array[np.isfinite(array)]
    return f", {known.min():.6g} to {known.max():.6g}" if known.size else ", none known"
