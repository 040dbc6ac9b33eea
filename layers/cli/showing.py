"""What commands print."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layers.cautions import CAUTIONS, CAUTIONS_SHORT

if TYPE_CHECKING:
    import pandas as pd

    from layers.area import Area

__all__ = [
    "counted",
    "print_json",
    "print_places",
    "print_ranking",
    "records",
    "say_length",
    "table_text",
]


def print_json(answer: Mapping[str, Any]) -> None:
    """Print an answer for machines, with the cautions; NaN becomes null."""
    text = json.dumps(
        _plain({**answer, "cautions": CAUTIONS}), ensure_ascii=True, allow_nan=False, indent=1
    )
    print(text)


def counted(count: int, what: str) -> str:
    """Write how many there are: ``"1 hole"``, ``"3 holes"``."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def say_length(area: Area) -> Any:
    """Give a function that writes short lengths in the reader's unit, feet or metres."""
    from seabed.units import format_quantity

    unit = "m" if area.units.depth == "m" else "ft"
    return partial(format_quantity, unit=unit)


def print_places(files: Mapping[str, Path], labels: Mapping[str, str]) -> None:
    """Print where files are, then the cautions in one line."""
    wide = max(len(label) for label in labels.values())
    for name, label in labels.items():
        print(f"{label:<{wide}}  {files[name]}")
    print(f"\n{CAUTIONS_SHORT}")


def print_ranking(lines: pd.DataFrame, area: Area, *, most: int = 10) -> None:
    """Print the best lines, in the area's units."""
    from seabed.units import convert

    if not len(lines):
        print("No lines: the tracks hold no drift.")
        return
    depth, unit = f"depth {area.units.depth}", area.units.depth
    headers = ["rank", "line", "drifts", "rod-h", "kept", "short", "kept/rod-h", "80 %", "course",
               depth]  # fmt: skip
    rows = [
        [
            str(line.rank), str(line.line), str(line.drifts), f"{line.rod_hours:.1f}",
            str(line.kept), str(line.short), f"{line.rate:.2f}",
            f"{line.rate_low:.2f}-{line.rate_high:.2f}", _degrees(line.course_deg),
            _number(convert(line.depth_mean_m, unit)),
        ]
        for line in lines.sort_values("rank").head(most).itertuples()
    ]  # fmt: skip
    print(table_text(headers, rows))
    if len(lines) > most:
        print(f"and {len(lines) - most} more in the file")


def table_text(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Set out a table in columns, text to the left and numbers to the right."""
    columns = list(zip(headers, *rows, strict=True))
    widths = [max(map(len, column)) for column in columns]
    left = [not all(_numeric(cell) for cell in column[1:]) for column in columns]
    return "\n".join(
        "  ".join(
            f"{cell:<{wide}}" if to_left else f"{cell:>{wide}}"
            for cell, wide, to_left in zip(row, widths, left, strict=True)
        ).rstrip()
        for row in (headers, *rows)
    )


def records(table: pd.DataFrame, columns: Sequence[str] | None = None) -> list[dict[str, Any]]:
    """Give rows as plain values, without geometry."""
    wanted = [name for name in (columns or table.columns) if name != "geometry"]
    return [dict(row) for row in table[wanted].to_dict("records")]


def _numeric(cell: str) -> bool:
    return all(letter in "0123456789.-%+ " for letter in cell)


def _degrees(value: float) -> str:
    return "" if math.isnan(value) else f"{value % 360:03.0f}"


def _number(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.0f}"


def _plain(value: Any) -> Any:
    """Turn a value into what JSON can hold."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if hasattr(value, "item"):  # a number of numpy's
        value = value.item()
    if isinstance(value, datetime | date):
        return value.isoformat() if value == value else None  # noqa: PLR0124 (NaT)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, bool | int | float | str | None) else str(value)
