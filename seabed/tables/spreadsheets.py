"""Cells of spreadsheets (.xlsx, .xls, .ods) as text, just as a table saved as text holds them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from seabed.errors import SeabedError
from seabed.guarded import ReadingError, ask

ENDINGS: Final = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods")


def split_sheet(name: str | Path) -> tuple[Path, str | None]:
    """Part ``log.xlsx#June`` into the file and the sheet; None where no sheet is named."""
    path = Path(name)
    whole, mark, sheet = str(name).rpartition("#")
    if mark and whole.lower().endswith(ENDINGS) and not path.exists():
        return Path(whole), sheet
    return path, None


def is_table_name(name: str | Path) -> bool:
    """Whether a name is that of a table: of text by its ending, or a spreadsheet."""
    path, _ = split_sheet(name)
    return path.suffix.lower() in (".csv", ".txt", ".tsv", ".dat", *ENDINGS)


def sheets_of(
    path: Path, sheet: str | None, error: type[SeabedError]
) -> Iterator[tuple[str, list[list[str]]]]:
    """Read the sheets of a workbook that are not hidden, or the one that is named.

    rows: from the first row and column of the sheet on, so that numbers of rows are the sheet's
        own.
    """
    if not path.exists():
        raise error("no such file", file=path, do="Check the name.")
    try:
        names, sheets = ask("sheets.read", path, sheet)
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise error(f"can't read it: {reason}", file=path) from problem
    except ReadingError as problem:
        raise error(
            "this spreadsheet can't be read",
            file=path,
            do="Save it again, without a password, or save the sheet as CSV.",
        ) from problem
    if sheet is not None and not sheets:
        raise error(
            f"there is no sheet {sheet!r}", file=path, do=f"Its sheets: {', '.join(names)}."
        )
    yield from sheets
