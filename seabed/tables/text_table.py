"""The one reader of text tables and spreadsheets.

A table may be UTF-8, UTF-16 or cp1252; parted by comma, semicolon, tab or ``|`` (a first line
``sep=;`` may say which), or by blanks where it holds numbers only; end its lines in any way; have
title lines above its heading, units below it and notes below its rows, blank rows and columns,
comments after ``#``, and decimal commas.  Of a spreadsheet the sheet is read whose headings fit
best, or the one that is named: ``log.xlsx#June``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NoReturn
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Mask
from seabed.errors import Question, SeabedError
from seabed.files import plain_file
from seabed.tables.clocks import TwoWaysError, day_first, has_time, read_clock, read_time, utc_of
from seabed.tables.headings import read_heading
from seabed.tables.spreadsheets import ENDINGS, sheets_of, split_sheet
from seabed.tables.text_layout import (
    HEAD_LINES,
    Meanings,
    best_heading,
    decoded,
    layout_of,
    rows_of,
)
from seabed.tables.zones import zone_named

HOW_TIMES: Final = (
    "Write it like 2031-06-14 08:30 (year-month-day), or in two columns, date and time."
)

_RULE: Final = re.compile(r"[\s|:=+]*--[\s|:=+-]*|[\s|:=+-]*==[\s|:=+-]*")
"""A line drawn with signs, under headings or above a sum."""

_TOTALS: Final = {
    "total", "totals", "sum", "summe", "gesamt", "somme", "totaal", "som", "i alt", "totalt",
    "suma", "soma", "totale", "somma",
}  # fmt: skip

HOW_ORDER: Final = "Set with {date_order} which comes first, the day or the month."

HOW_ZONES: Final = (
    "Write it with its offset, like 2031-11-02T01:30-05:00, or name the zone that the table is in "
    "(many tables keep standard time all year)."
)

Rows = Iterable[tuple[int, int, list[str]]]
"""First and last line of each row, and its cells."""

_FORM: Final = re.compile(r"[dtjaymhsu]{1,4}(?:[.:/-][dtjaymhsu]{1,4})+", re.IGNORECASE)
"""How dates and times are written, as spreadsheets say under a heading: TT.MM.JJJJ, hh:mm."""

_NOTE: Final = re.compile(r"[^\W\d_]{2,}\W+[^\W\d_]{2,}|\*")
_BLANK: Final = ',;|" \t\r\n'


@dataclass(frozen=True, slots=True)
class TextTable:
    """A table as it is written: text, cell by cell.

    file: with its sheet, as messages name it.
    headings, meanings: as written, "" where blank; what they mean to the reader that asked.
    heading_line, lines: the line, or row of the sheet, of the headings and that each row ends on.
    rows: a cell for each heading, without blanks around it.
    uneven: rows with more or fewer cells than headings.
    notes: what was taken for a title or a note, in plain sentences.
    error: type of SeabedError; what `refuse` raises.
    title: the lines above the headings.
    """

    file: str
    headings: list[str]
    heading_line: int
    meanings: list[str | None]
    rows: list[list[str]]
    lines: list[int]
    uneven: int
    notes: list[str]
    error: type[SeabedError]
    title: str = ""

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.rows)

    @property
    def line_word(self) -> str:
        """What a line is called: a row, in a spreadsheet."""
        return "row" if Path(self.file.rpartition("#")[0]).suffix.lower() in ENDINGS else "line"

    def column(self, meaning: str) -> int | None:
        """Give the number of the first column of a meaning; None if there is none."""
        return self.meanings.index(meaning) if meaning in self.meanings else None

    def words(self, meaning: str) -> list[str] | None:
        """Cells of the first column of a meaning; None if there is none."""
        at = self.column(meaning)
        return None if at is None else [row[at] for row in self.rows]

    def unit(self, meaning: str) -> str:
        """Give the unit in the heading of a meaning's first column, "" if none."""
        at = self.column(meaning)
        return "" if at is None else read_heading(self.headings[at]).unit

    def refuse(
        self,
        row: int,
        what: str,
        *,
        meaning: str | None = None,
        do: str | None = None,
        question: Question | None = None,
    ) -> NoReturn:
        """Raise an error about a cell of a row."""
        where = f"{self.line_word} {self.lines[row]}"
        at = None if meaning is None else self.column(meaning)
        if at is not None:
            where += f", column {self.headings[at]!r}"
        raise self.error(what, file=self.file, where=where, do=do, question=question)

    def moments(
        self, zone: ZoneInfo, *, need_time: bool = False, date_order: str | None = None
    ) -> tuple[NDArray[np.datetime64], Mask]:
        """Read the moments of all rows, UTC, from a column of times or from dates and times.

        zone: of times without an offset, unless the heading names UTC.
        need_time: whether a date without a time of day is refused.
        date_order: ``"dmy"`` or ``"mdy"``: of dates like 3/4/2025 that the column itself does not
            decide.
        Returned: also whether each row named its offset.
        """
        words, only_date = self._moment_words()
        if any(self.unit(name) in ("utc", "gmt") for name in ("time", "date")):
            zone = ZoneInfo("UTC")
        at = (self.column(name) for name in ("time", "date"))
        heads = (self.headings[column] for column in at if column is not None)
        place = zone_named("\n".join([self.title, *heads]), zone) or zone
        if place is not zone:
            self.notes.append(f"{self.file}: its times are read as {place}, which the table names")
        first = None if date_order is None else date_order == "dmy"
        if first is None:
            first = self._day_first(words)
        times = np.empty(len(words), "datetime64[ns]")
        placed = np.zeros(len(words), bool)
        for row, word in enumerate(words):
            missing = only_date[row] or not word
            if need_time and (missing or not has_time(word)):
                only = f": {word!r} is only a day" if word else ""
                self.refuse(row, f"there is no time{only}", meaning="time", do=HOW_TIMES)
            what, how, question = f"can't read the time {word!r}", HOW_TIMES, None
            try:
                try:
                    clock = read_clock(word, day_first=first)
                except TwoWaysError as problem:
                    how, question = HOW_ORDER, Question("date_order", problem.choices)
                    raise
                what, how = f"the time {word!r} is not one moment", HOW_ZONES
                times[row] = utc_of(clock, place)
            except ValueError as problem:
                self.refuse(row, f"{what}: {problem}", meaning="time", do=how, question=question)
            placed[row] = clock.tzinfo is not None
        return times, placed

    def _moment_words(self) -> tuple[list[str], list[bool]]:
        """Date and time of each row, and whether its time is missing."""
        dates, times = self.words("date"), self.words("time")
        if dates is None or times is None:
            words = dates or times or []
            return words, [False] * len(words)
        days = self._filled_down(dates, times)
        both = zip(days, times, strict=True)
        return [f"{day} {clock}".strip() for day, clock in both], [not clock for clock in times]

    def _filled_down(self, dates: list[str], times: list[str]) -> list[str]:
        """Give a row that has a time and no date the date above, as where cells are merged."""
        days: list[str] = []
        for day, clock in zip(dates, times, strict=True):
            days.append(days[-1] if not day and days and _is_time(clock) else day)
        filled = sum(day != own for day, own in zip(days, dates, strict=True))
        if filled:
            self.notes.append(f"{self.file}: {filled} rows have no date and take that above them")
        return days

    def _day_first(self, words: list[str]) -> bool | None:
        try:
            return day_first(words)
        except ValueError as problem:
            raise self.error(
                f"its dates can't be read: {problem}", file=self.file, do=HOW_TIMES
            ) from problem


def read_text_table(
    name: str | Path, known: Meanings, *, error: type[SeabedError], lenient: bool = False
) -> TextTable:
    """Read a table of text, or of a spreadsheet's best or named sheet, ``log.xlsx#June``.

    known: what headings mean.  The heading is the line of which most is known.
    lenient: whether rows with more cells than headings are counted, and not refused.
    Returned: without blank rows.
    """
    path, sheet = split_sheet(name)
    plain_file(path)
    if path.suffix.lower() in ENDINGS:
        file, line, headings, body, title = _of_sheet(path, sheet, known, error)
    else:
        layout = layout_of(path, known, error)
        file, line, headings = str(path), layout.line, layout.headings
        text = decoded(path, error)[0]
        body = rows_of(layout, text, error)
        title = "\n".join(text.splitlines()[: line - 1])
    meanings = list(known(headings))
    rows, lines, uneven = _squared(file, headings, body, error, lenient)
    if rows and (both := _two_lines(headings, rows[0], known)) is not None:
        headings, meanings, rows, lines = both, list(known(both)), rows[1:], lines[1:]
    word = "row" if path.suffix.lower() in ENDINGS else "line"
    notes = [f"{file}: the heading is {word} {line}, under a title"] if line > 1 else []
    while rows and _is_note(rows[-1]):
        notes.append(
            f"{file}, line {lines.pop()}: taken for a note: {' '.join(filter(None, rows.pop()))!r}"
        )
    return TextTable(file, headings, line, meanings, rows, lines, uneven, notes, error, title=title)


def headings_of(
    name: str | Path, known: Meanings, *, error: type[SeabedError]
) -> tuple[list[str], list[str | None]]:
    """Read the headings of a table, and what they mean; as `read_text_table`."""
    path, sheet = split_sheet(name)
    if path.suffix.lower() in ENDINGS:
        headings = _of_sheet(path, sheet, known, error)[2]
    else:
        headings = layout_of(path, known, error).headings
    return headings, list(known(headings))


def _of_sheet(
    path: Path, sheet: str | None, known: Meanings, error: type[SeabedError]
) -> tuple[str, int, list[str], Rows, str]:
    """Name, row of the headings, headings, rows and title of the sheet whose headings fit best."""
    best: tuple[int, str, int, list[list[str]]] | None = None
    for name, rows in sheets_of(path, sheet, error):
        filled = ((at, "", row) for at, row in enumerate(rows[:HEAD_LINES], 1) if any(row))
        heading = best_heading(filled, known)
        if heading is not None:
            meant = len({one for one in known(heading[2]) if one is not None})
            if best is None or meant > best[0]:
                best = meant, name, heading[0], rows
    if best is None:
        raise error("the spreadsheet is empty", file=path)
    _, name, line, rows = best
    body = [(at, at, row) for at, row in enumerate(rows[line:], line + 1)]
    title = "\n".join(" ".join(filter(None, row)) for row in rows[: line - 1])
    return f"{path}#{name}", line, rows[line - 1], body, title


def _squared(
    file: str, headings: list[str], body: Rows, error: type[SeabedError], lenient: bool
) -> tuple[list[list[str]], list[int], int]:
    """Rows that are not blank, with a cell for each heading; their lines; how many were uneven."""
    width, rows, lines, uneven = len(headings), [], [], 0
    for start, end, cells in body:
        if not any(cell.strip(_BLANK) for cell in cells) or _RULE.fullmatch("".join(cells)):
            continue
        if not lenient and any(cell.strip() for cell in cells[width:]):
            raise error(
                f"{len(cells)} cells under {width} headings",
                file=file,
                where=f"line {start}",
                do='Put text that holds the separator in quotes, "like, this".',
            )
        uneven += len(cells) != width
        rows.append([cell.strip() for cell in cells[:width]] + [""] * (width - len(cells)))
        lines.append(end)
    return rows, lines, uneven


def _two_lines(headings: list[str], row: list[str], known: Meanings) -> list[str] | None:
    """Join headings with a second line of them, as units or merged cells make it; None if none.

    It has no digit, and each of its cells is a unit, the form of a date, or a heading that the
    first line lacks.
    """
    if not any(row) or any(letter.isdigit() for cell in row for letter in cell):
        return None
    cells = ["" if _FORM.fullmatch(cell) else cell for cell in row]
    joined = [f"{head} {cell}".strip() for head, cell in zip(headings, cells, strict=True)]
    before, after = known(headings), known(joined)
    for cell, head, both, old, new in zip(cells, headings, joined, before, after, strict=True):
        if cell and (new is None or old != (new if head else None)):
            return None
        if cell and head and not read_heading(both).unit:
            return None
    return joined if any(after) else None


def _is_time(word: str) -> bool:
    try:
        read_time(word)
    except ValueError:
        return False
    return True


def _is_note(row: list[str]) -> bool:
    """Whether a last row is below the table: one cell alone, of several words; or a sum."""
    filled = [cell for cell in row if cell]
    if filled and filled[0].strip(" :").casefold() in _TOTALS:
        return True
    return (
        len(row) > 1 and len(filled) == 1 and bool(_NOTE.match(filled[0])) and filled[0] == row[0]
    )
