"""Rows of a CSV table of water: forgiving about header names, unforgiving about values."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from layers.water.times import Times, hours_between, read_times
from seabed.errors import UnitError, WaterError

__all__ = ["Table", "read_table", "stretches"]

APART_HOURS: Final = 72.0
"""Rows further apart than this are stretches of their own, not one with a hole."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column's words, as written, and the unit its header named ("" if none)."""

    header: str
    unit: str
    words: list[str]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows at moments.

    Attributes
    ----------
    file : Path
    rows : list of int
        The line of the file that each row stands in.
    times : ndarray of datetime64[ns], shape (n,)
        UTC, rising.
    columns : dict of str to Column
        By lower-case name without its unit: ``height_ft`` and ``Height (ft)`` are ``height``.
    """

    file: Path
    rows: list[int]
    times: Times
    columns: dict[str, Column]

    def column(self, *names: str) -> Column | None:
        """Give the first column under one of `names`, or None."""
        return next((self.columns[name] for name in names if name in self.columns), None)

    def needed(self, *names: str, like: str) -> Column:
        """Give the first column under one of `names`; WaterError if there is none."""
        found = self.column(*names)
        if found is None:
            raise WaterError(
                f"no column named {names[0]}",
                file=self.file,
                where="line 1",
                do=f"Name the columns in the first line, like {like}.",
            )
        return found

    def quantities(self, column: Column, parse: Callable[[str], float]) -> NDArray[np.float64]:
        """Read a column whose values, or whose header, carry a unit.  WaterError at a bad one."""
        values = np.empty(len(column.words))
        for i, word in enumerate(column.words):
            try:
                values[i] = parse(_with_unit(word, column.unit))
            except UnitError as error:
                name = column.header
                cure = f"Name the unit in the header, like {name}_m or {name}_ft."
                self.refuse(i, f"{error.what} in column {name}", "" if column.unit else cure)
            if not np.isfinite(values[i]):
                self.refuse(i, f"{word!r} in column {column.header} is not a number", "")
        return values

    def refuse(self, i: int, what: str, do: str) -> NoReturn:
        """Raise a WaterError about row `i`."""
        raise WaterError(what, file=self.file, where=f"line {self.rows[i]}", do=do or None)


def read_table(path: str | Path, *, timezone: str) -> Table:
    """Read a CSV of rows at moments, in order of time.

    Parameters
    ----------
    path : str or Path
        UTF-8; comma, semicolon or tab between columns; ``#`` starts a comment line.  The moment
        stands in a column ``time`` (or ``date time``), or in two, ``date`` and ``time``.
    timezone : str
        The zone of times without an offset.

    Raises
    ------
    WaterError
        If the file is missing, empty or not a table, has no time column, or has a time that can't
        be read or is not after the one before.
    """
    path = Path(path)
    rows, names, body = _read_rows(path)
    columns = {}
    for i, header in enumerate(names):
        name, unit = _split_header(header)
        columns[name] = Column(header.strip(), unit, [line[i].strip() for line in body])
    words = _moments(columns, path)
    times = read_times(words, timezone=timezone, file=path, rows=rows)
    back = np.flatnonzero(np.diff(times) <= np.timedelta64(0, "ns"))
    if back.size:
        raise WaterError(
            f"the time {words[int(back[0]) + 1]} is not after the one before",
            file=path,
            where=f"line {rows[int(back[0]) + 1]}",
            do="Put the rows in order of time, each once; mind am and pm.",
        )
    return Table(path, rows, times, columns)


def stretches(times: Times) -> list[slice]:
    """Rows that belong together: runs with no more than three days between neighbours."""
    breaks = np.flatnonzero(hours_between(times[:-1], times[1:]) > APART_HOURS) + 1
    edges = [0, *breaks.tolist(), len(times)]
    return [slice(a, b) for a, b in pairwise(edges) if b > a]


def _read_rows(path: Path) -> tuple[list[int], list[str], list[list[str]]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise WaterError("no such file", file=path, do="Check the name.") from error
    except (OSError, UnicodeDecodeError) as error:
        raise WaterError(
            "can't be read as text", file=path, do="Save the table as CSV in UTF-8."
        ) from error
    numbered = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if len(numbered) < 2:
        raise WaterError("the table has no rows", file=path)
    delimiter = max(",;\t", key=numbered[0][1].count)
    split = [_cells(line, delimiter, path, number) for number, line in numbered]
    for (number, _), row in zip(numbered, split, strict=True):
        if len(row) != len(split[0]):
            raise WaterError(
                f"this row has {len(row)} columns, the header {len(split[0])}",
                file=path,
                where=f"line {number}",
                do="Give every row the header's columns.",
            )
    return [number for number, _ in numbered[1:]], split[0], split[1:]


def _cells(line: str, delimiter: str, path: Path, number: int) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True, strict=True))
    except csv.Error as error:
        raise WaterError(
            f"this row is not CSV: {error}",
            file=path,
            where=f"line {number}",
            do="Close or remove the quotes; a row is one line.",
        ) from error


def _with_unit(word: str, unit: str) -> str:
    """Add the header's unit to a plain number, which may be written as ``8e-05``."""
    if not unit:
        return word
    try:
        return f"{float(word.replace(',', '.')):.9f} {unit}"
    except ValueError:
        return word


def _split_header(header: str) -> tuple[str, str]:
    """``Height (ft)`` and ``height_ft`` to ``("height", "ft")``."""
    name = header.strip().lower()
    match = re.fullmatch(r"(.+?)\s*[\[(]\s*([^\])]+?)\s*[\])]", name) or re.fullmatch(
        r"(.+)_(m|ft|cm|kn|kt|kts|mps|mph|kmh|deg)", name
    )
    if match is None:
        return name, ""
    return match.group(1).strip(), match.group(2)


def _moments(columns: dict[str, Column], path: Path) -> list[str]:
    if "date" in columns and "time" in columns:
        date, time = columns.pop("date"), columns.pop("time")
        return [f"{d} {t}" for d, t in zip(date.words, time.words, strict=True)]
    for name in ("time", "date time", "datetime", "date_time"):
        if name in columns:
            return columns.pop(name).words
    raise WaterError(
        f"no column named time among {', '.join(c.header for c in columns.values())}",
        file=path,
        where="line 1",
        do="Name the columns in the first line, like time,height_m,kind.",
    )
