"""What commands print and ask; it steers no terminal, whatever files say."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, redirect_stdout
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TextIO

from layers.cautions import CAUTIONS_SHORT
from layers.jobs.options import Request, options_of
from layers.jobs.result import json_text
from seabed.errors import Question, SeabedError, with_settings
from seabed.markup import TURNING

if TYPE_CHECKING:
    import pandas as pd

    from layers.area import Area
    from layers.scoring import Scores


_STEERING: Final = {
    code: "\ufffd"
    for code in (*range(0x20), *range(0x7F, 0xA0), *map(ord, TURNING))
    if chr(code) not in "\n\t"
}
"""Control characters of ISO/IEC 6429, sets C0 and C1, DEL, and what reverses text."""


def plain(text: str) -> str:
    r"""Put a mark in place of each character that would steer a terminal.

    Examples
    --------
    >>> plain("a\x1b[2J\n")
    'a�[2J\n'
    """
    return text.translate(_STEERING)


@contextmanager
def plain_output(names: Callable[[str], str]) -> Iterator[None]:
    """Pass all that is printed through `plain`, settings in braces called by their `names`."""
    with redirect_stdout(_Plain(sys.stdout, names)):
        yield


class _Plain:
    """A stream of text before another."""

    def __init__(self, stream: TextIO, names: Callable[[str], str]) -> None:
        self._stream, self._names = stream, names

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write the text, tamed."""
        return self._stream.write(plain(with_settings(text, self._names)))


MOST_PRINTED: Final = 10
"""Rows of a ranking."""


def print_json(answer: Mapping[str, Any]) -> None:
    """Print an answer for machines, with the cautions; NaN becomes null."""
    print(json_text(answer))


def print_places(files: Mapping[str, Path], labels: Mapping[str, str]) -> None:
    """Print where those files are that exist, then the cautions in one line."""
    shown = {name: label for name, label in labels.items() if name in files}
    wide = max(map(len, shown.values()))
    for name, label in shown.items():
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


def answered(request: Request, error: SeabedError, names: Callable[[str], str]) -> Request | None:
    """Ask what an error leaves open; give the request with the answer, None without one.

    Nothing is asked away from a terminal, or for a field that is missing or filled in already.
    """
    question = error.question
    if question is None or not _at_terminal():
        return None
    if getattr(request, question.setting, "") is not None:
        return None
    place = ", ".join(str(part) for part in (error.file, error.where) if part)
    _say(f"{place}: {error.what}." if place else f"{error.what}.")
    answer = _answer(question, options_of(type(request))[question.setting].help)
    if not answer:
        return None
    kind = next(one.type for one in fields(request) if one.name == question.setting)
    try:
        value = float(answer) if "float" in str(kind) else answer
    except ValueError:
        return None
    if getattr(request, "area", None) is None:
        option = f"{names(question.setting)} {value}"
        _say(f"No area file keeps this: next time say {option}, or name one with {names('area')}.")
    return replace(request, **{question.setting: value})


def _at_terminal() -> bool:
    return all(
        stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)
    )


def _answer(question: Question, about: str) -> str:
    """Read a word of the choices, or any where there are none; "" for none."""
    for word, meaning in question.choices.items():
        _say(f"  {word:<8} {meaning}")
    words = "/".join(question.choices) or about.rstrip(".")
    while True:
        _say(f"Which? [{words}; Enter to stop] ", end="")
        try:
            answer = input().strip()
        except EOFError:
            return ""
        if not answer or not question.choices or answer in question.choices:
            return answer


def _say(words: str, *, end: str = "\n") -> None:
    print(plain(words), end=end, file=sys.stderr, flush=True)
