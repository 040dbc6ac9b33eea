"""What commands print."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from layers.cautions import CAUTIONS_SHORT
from layers.jobs.parts.answers import json_text

if TYPE_CHECKING:
    import pandas as pd

    from layers.area import Area
    from layers.scoring import Scores


MOST_PRINTED: Final = 10
"""Rows of a ranking."""


def print_json(answer: Mapping[str, Any]) -> None:
    """Print an answer for machines, with the cautions; NaN becomes null."""
    print(json_text(answer))


def print_places(files: Mapping[str, Path], labels: Mapping[str, str]) -> None:
    """Print where files are, then the cautions in one line."""
    wide = max(len(label) for label in labels.values())
    for name, label in labels.items():
        print(f"{label:<{wide}}  {files[name]}")
    print(f"\n{CAUTIONS_SHORT}")


def print_ranking(lines: pd.DataFrame, area: Area) -> None:
    """Print the best lines, in the area's units, with the digits of the map's cards."""
    from layers.scoring import LINES
    from seabed.units import convert

    if not len(lines):
        print("No lines: the tracks hold no drift.")
        return
    depth, unit = f"depth {area.units.depth}", area.units.depth
    headers = ["rank", "line", "drifts", "rod-h", "kept", "short", "kept/rod-h", "80 %", "best",
               "course", depth]  # fmt: skip

    def words(line: Any, name: str) -> str:
        return LINES.words(line, name, {})

    rows = [
        [
            str(line.rank), str(line.line), str(line.drifts), words(line, "rod_hours"),
            str(line.kept), str(line.short), words(line, "rate"),
            f"{words(line, 'rate_low')}-{words(line, 'rate_high')}", words(line, "chance_best"),
            _degrees(line.course_deg), _number(convert(line.depth_mean_m, unit)),
        ]
        for line in lines.sort_values("rank").head(MOST_PRINTED).itertuples()
    ]  # fmt: skip
    print(table_text(headers, rows))
    if len(lines) > MOST_PRINTED:
        print(f"and {len(lines) - MOST_PRINTED} more in the file")


def print_scores(scores: Scores) -> None:
    """Print what the scores show beside the lines."""
    from layers.jobs.parts.scores import sentences_of

    for sentence in sentences_of(scores):
        print(sentence)


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


def _numeric(cell: str) -> bool:
    return all(letter in "0123456789.-%+ " for letter in cell)


def _degrees(value: float) -> str:
    return "" if math.isnan(value) else f"{value % 360:03.0f}"


def _number(value: float) -> str:
    from seabed.units import rounded

    return "" if math.isnan(value) else rounded(value)
