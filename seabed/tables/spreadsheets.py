"""Cells of spreadsheets (.xlsx, .xls, .ods) as text, just as a table saved as text holds them."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any, Final

import python_calamine

from seabed.errors import SeabedError

__all__ = ["ENDINGS", "sheets_of", "split_sheet"]

ENDINGS: Final = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods")

MOST_BYTES: Final = 1 << 30
"""A workbook that unpacks to more than this is refused."""

_EPOCH_ENDS: Final = 1905  # a time of day may come as a moment of the first days of the calendar


def split_sheet(name: str | Path) -> tuple[Path, str | None]:
    """Part ``log.xlsx#June`` into the file and the sheet; None where no sheet is named."""
    path = Path(name)
    whole, mark, sheet = str(name).rpartition("#")
    if mark and whole.lower().endswith(ENDINGS) and not path.exists():
        return Path(whole), sheet
    return path, None


def sheets_of(
    path: Path, sheet: str | None, error: type[SeabedError]
) -> Iterator[tuple[str, list[list[str]]]]:
    """Read the sheets of a workbook that are not hidden, or the one that is named.

    Yields
    ------
    name : str
    rows : list of list of str
        From the first row and column of the sheet on, so that numbers of rows are the sheet's own.

    Raises
    ------
    SeabedError
        Of the class `error`, if the file can't be read or has no such sheet.
    """
    if not path.exists():
        raise error("no such file", file=path, do="Check the name.")
    with _told(path, error):
        _check_size(path, error)
        book = python_calamine.load_workbook(str(path))
        visible = python_calamine.SheetVisibleEnum.Visible
        names = [one.name for one in book.sheets_metadata if one.visible == visible]
        if sheet is not None and sheet not in book.sheet_names:
            raise error(
                f"there is no sheet {sheet!r}",
                file=path,
                do=f"Its sheets: {', '.join(book.sheet_names)}.",
            )
        for name in names if sheet is None else [sheet]:
            rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            yield name, [[_text(cell) for cell in row] for row in rows]


@contextmanager
def _told(path: Path, error: type[SeabedError]) -> Iterator[None]:
    try:
        yield
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise error(f"can't read it: {reason}", file=path) from problem
    except (python_calamine.CalamineError, zipfile.BadZipFile) as problem:
        raise error(
            f"this spreadsheet can't be read ({problem})",
            file=path,
            do="Save it again, without a password, or save the sheet as CSV.",
        ) from problem


def _check_size(path: Path, error: type[SeabedError]) -> None:
    if not zipfile.is_zipfile(path):
        return
    with zipfile.ZipFile(path) as packed:
        if sum(part.file_size for part in packed.infolist()) > MOST_BYTES:
            raise error(
                "this spreadsheet is too large to be a table", file=path, do="Save it as CSV."
            )


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
