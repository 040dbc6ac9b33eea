"""How a text table is written: its encoding, its separator, the row of its heading."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.errors import SeabedError
from seabed.files import plain_file

Line = tuple[int, str, list[str]]
"""Number of a line, the separator it was split at, its cells."""
Meanings = Callable[[Sequence[str]], Sequence[str | None]]
"""What each of a line of headings means; None for those that mean nothing."""

HEAD_LINES: Final = 60
"""The heading is within this many lines."""
HEAD_BYTES: Final = 1 << 16
SEPARATORS: Final = ";\t|,"
BLANKS: Final = " "
"""Separator of tables of numbers that are parted by any blanks."""

_NAMES_SEPARATOR: Final = re.compile(r'"?sep=([,;\t|])"?[,;\t|]*', re.IGNORECASE)
_COMMENT: Final = re.compile(r"\s*(#(?!\s*\d)|//|%)")
_NUMBER: Final = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?|nan|\*+", re.IGNORECASE)
_COMMA: Final = re.compile(r"[+-]?\d*,\d+")
_UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")
_OTHERS: Final = {
    b"<?xml": ("an XML file", ""),
    b"<gpx": ("a GPX file", ""),
    b"%PDF": ("a PDF", ""),
    b"\x89PNG": ("a picture", ""),
    b"\xff\xd8\xff": ("a picture", ""),
    b"PK\x03\x04": (
        "a zip archive, or a spreadsheet's workbook",
        "Unpack it, or name the workbook .xlsx or .ods.",
    ),
    b"\x1f\x8b": ("a gzip archive", "Unpack it first."),
}
_NO_TEXT: Final = re.compile(r"[\x00-\x06\x0e-\x1a\x1c-\x1f]")


@dataclass(frozen=True, slots=True)
class Layout:
    """How a table is written.

    separator: `BLANKS` for any run of blanks.
    line: the line of the headings; 0 if there are none.
    skip: lines before the first row.
    headings: as written; empty if the table has none.
    """

    path: Path
    encoding: str
    separator: str
    decimal: str
    line: int
    skip: int
    headings: list[str]


def decoded(path: Path, error: type[SeabedError], *, most: int = -1) -> tuple[str, str]:
    """Read the text of a file, or its beginning, and its encoding.

    UTF-8, UTF-16 with a byte order mark, or cp1252, which older spreadsheets write.
    """
    plain_file(path)
    try:
        with path.open("rb") as stream:
            raw = stream.read(most)
    except FileNotFoundError as problem:
        raise error("no such file", file=path, do="Check the name.") from problem
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise error(f"can't read it: {reason}", file=path) from problem
    encoding = "utf-16" if raw.startswith(_UTF_16) else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as problem:
        cut = most >= 0 and problem.start > len(raw) - 4  # within a letter
        encoding = encoding if cut else "cp1252"
        text = raw.decode(encoding, errors="replace")
    if _NO_TEXT.search(text[:HEAD_BYTES]):
        what, do = other_file(raw) or ("not text", "")
        raise error(f"this is {what}", file=path, do=do or "Save the table as CSV.")
    return text, encoding


def other_file(head: bytes) -> tuple[str, str] | None:
    """Say by a file's first bytes that it is not a table or grid; of an archive, what to do."""
    head = head.lstrip(b"\xef\xbb\xbf \r\n\t")
    return next((what for start, what in _OTHERS.items() if head.startswith(start)), None)


def layout_of(path: Path, known: Meanings, error: type[SeabedError]) -> Layout:
    """Find out from its beginning how a table is written.

    known: what headings mean.  The heading is the line of which most is known.
    """
    lines, encoding = _head(path, error)
    heading = best_heading(_split_lines(lines), known)
    if heading is None:
        raise error("the file is empty", file=path, do="Give it headings, and rows under them.")
    line, separator, headings = heading
    decimal = _decimal([_split(one, separator) for one in lines[line:]], separator)
    return Layout(path, encoding, separator, decimal, line, line, headings)


def layout_of_numbers(path: Path, known: Meanings, error: type[SeabedError]) -> Layout | None:
    """As `layout_of`, for a table of numbers; None if no line has three of them.

    It may have no headings, or commented ones, and blanks between its columns.
    """
    lines, encoding = _head(path, error)
    first = _first_numbers(lines)
    if first is None:
        return None
    line, separator, cells = first
    decimal = _decimal([cells], separator)
    above = _split_lines([_bare_line(one) for one in lines[: line - 1]], SEPARATORS + BLANKS)
    heading = best_heading(above, known)
    if heading is None or sum(one is not None for one in known(heading[2])) < 2:
        return Layout(path, encoding, separator, decimal, 0, line - 1, [])
    return Layout(path, encoding, separator, decimal, heading[0], line - 1, heading[2])


def best_heading(lines: Iterable[Line], known: Meanings) -> Line | None:
    """Choose the line of which most is known, the first of equals; None if there is no line."""
    best: tuple[tuple[int, int], Line] | None = None
    for line in lines:
        if best is not None and len(line[2]) <= best[0][0]:
            continue  # no more cells than are known of the best line
        meant = len({one for one in known(line[2]) if one is not None})
        of_line = best is not None and best[1][0] == line[0]
        rank = (meant, len(line[2]))
        if best is None or rank[0] > best[0][0] or (of_line and rank > best[0]):
            best = rank, line
    return None if best is None else best[1]


def rows_of(
    layout: Layout, text: str, error: type[SeabedError]
) -> Iterator[tuple[int, int, list[str]]]:
    """Give the rows under the headings, without comments: the lines of each, and its cells."""
    stream = io.StringIO(text, newline=None)
    for _ in islice(stream, layout.skip):
        pass
    if layout.separator == BLANKS:
        for number, line in enumerate(stream, layout.skip + 1):
            if not _COMMENT.match(line):
                yield number, number, _split(line, BLANKS)
        return
    reader = csv.reader(
        stream, delimiter=layout.separator, strict=True, skipinitialspace=layout.separator != "\t"
    )
    while True:
        start = layout.skip + reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as problem:
            raise error(
                f"this row is not CSV: {problem}",
                file=layout.path,
                where=f"line {start}",
                do='Close the quotes: text in quotes ends with one, and one within is written "".',
            ) from problem
        if not (cells and _COMMENT.match(cells[0])):
            yield start, layout.skip + reader.line_num, cells


def read_columns(
    layout: Layout, at: Sequence[int], error: type[SeabedError], *, texts: Sequence[int] = ()
) -> list[NDArray[Any]]:
    """Read columns of a large table quickly, by their numbers, and no others.

    texts: those of them that are text, "" where blank; of others NaN for what is no number.
    """
    width = max(len(layout.headings), *(one + 1 for one in at))
    try:
        table = pd.read_csv(
            layout.path,
            sep=r"\s+" if layout.separator == BLANKS else layout.separator,
            decimal=layout.decimal,
            skiprows=layout.skip,
            header=None,
            names=list(range(width)) if layout.headings else None,
            usecols=list(at),
            dtype=dict.fromkeys(texts, str),
            comment="#",
            encoding=layout.encoding,
            encoding_errors="replace",
            index_col=False,
            skipinitialspace=True,
            low_memory=False,
        )
    except (pd.errors.ParserError, ValueError) as problem:
        raise error(
            f"the table can't be read ({' '.join(str(problem).split())})",
            file=layout.path,
            do="Give every row the columns of the first.",
        ) from problem
    return [
        table[one].fillna("").to_numpy(object) if one in texts else numbers(table[one])
        for one in at
    ]


def is_regular(layout: Layout) -> bool:
    """Whether every row has a cell for each heading and no quotes, as `read_columns` needs it."""
    if layout.encoding == "utf-16" or layout.separator == BLANKS:
        return False
    body = layout.path.read_bytes().replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    for _ in range(layout.skip):
        body = body[body.find(b"\n") + 1 :]
    rows = body.count(b"\n") + (not body.endswith(b"\n"))
    parted = body.count(layout.separator.encode())
    return parted == rows * (len(layout.headings) - 1) and not any(map(body.count, (b'"', b"#")))


def number(text: str) -> float:
    """Read a number with a decimal point or comma; NaN where it is none."""
    try:
        return float(text.replace(",", ".") if text.count(",") == 1 else text)
    except ValueError:
        return float("nan")


def numbers(texts: Any) -> Floats:
    """Read numbers of a sequence or column, shape (n,); as `number`."""
    column = texts if isinstance(texts, pd.Series) else pd.Series(texts, dtype=object)
    values = np.array(pd.to_numeric(column, errors="coerce"), np.float64)
    if not pd.api.types.is_numeric_dtype(column):
        for at in np.flatnonzero(np.isnan(values)).tolist():
            values[at] = number(str(column.iloc[at]))
    return values


def _head(path: Path, error: type[SeabedError]) -> tuple[list[str], str]:
    """First lines of a file, and its encoding."""
    text, encoding = decoded(path, error, most=HEAD_BYTES)
    return list(islice(io.StringIO(text, newline=None), HEAD_LINES)), encoding


def _split_lines(lines: list[str], separators: str = SEPARATORS) -> Iterator[Line]:
    """Split lines at each separator that they may have; not blank ones and comments."""
    for number, line in enumerate(lines, 1):
        text = line.strip("\r\n\0")
        if match := _NAMES_SEPARATOR.fullmatch(text.strip()):
            separators = match[1]
        elif text.strip(SEPARATORS + '" ') and not _COMMENT.match(text):
            for separator in separators:
                yield number, separator, _split(text, separator)


def _bare_line(line: str) -> str:
    """Give a line without a comment's mark."""
    return line.lstrip("#%/ ") if _COMMENT.match(line) else line


def _first_numbers(lines: list[str]) -> Line | None:
    """First line of three numbers or more."""
    for number, line in enumerate(lines, 1):
        if _COMMENT.match(line):
            continue
        for separator in SEPARATORS + BLANKS:
            cells = _split(line, separator)
            filled = list(filter(None, cells))
            if len(filled) > 2 and all(_NUMBER.fullmatch(cell) for cell in filled[:3]):
                return number, separator, cells
    return None


def _split(line: str, separator: str) -> list[str]:
    if separator == BLANKS:
        return [word.strip('"') for word in line.split()]
    try:
        cells = next(
            csv.reader([line.strip("\r\n")], delimiter=separator, skipinitialspace=True), []
        )
    except csv.Error:
        cells = line.strip().split(separator)
    return [cell.strip() for cell in cells]


def _decimal(rows: Iterable[list[str]], separator: str) -> str:
    commas = separator != "," and any(_COMMA.fullmatch(cell) for row in rows for cell in row)
    return "," if commas else "."
