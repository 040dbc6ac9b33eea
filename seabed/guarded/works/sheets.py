"""Cells of spreadsheets as text, just as a table saved as text holds them."""

from __future__ import annotations

import zipfile
from datetime import datetime, time, timedelta
from typing import Any, Final

import python_calamine

MOST_BYTES: Final = 1 << 30
"""A workbook that unpacks to more than this is refused."""

_EPOCH_ENDS: Final = 1905  # a time of day may come as a moment of the first days of the calendar

Rows = list[list[str]]


def read(path: str, sheet: str | None) -> tuple[list[str], list[tuple[str, Rows]]]:
    """Names of all sheets; and name and rows of those that are not hidden, or of the one named."""
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_BYTES:
                raise MemoryError
    book = python_calamine.load_workbook(path)
    visible = python_calamine.SheetVisibleEnum.Visible
    names = [one.name for one in book.sheets_metadata if one.visible == visible]
    if sheet is not None:
        names = [sheet] if sheet in book.sheet_names else []
    return book.sheet_names, [(name, _rows(book, name)) for name in names]


def _rows(book: Any, name: str) -> Rows:
    rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
    return [[_text(cell) for cell in row] for row in rows]


def _text(cell: Any) -> str:
    """Write a cell as text that the readers of text understand."""
    text = str(cell).strip()  # ISO 8601, for dates, times and both
    match cell:
        case bool():
            text = "yes" if cell else "no"
        case float():
            text = f"{cell:.15g}"
        case datetime() if cell.year < _EPOCH_ENDS:
            text = str(cell.time())
        case datetime() if cell.time() == time():
            text = str(cell.date())
        case timedelta():
            minutes, seconds = divmod(round(cell.total_seconds()), 60)
            text = f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}"
    return text
