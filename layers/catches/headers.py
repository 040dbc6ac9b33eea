"""Which columns a catch log has."""

from __future__ import annotations

import difflib
from typing import Final

from seabed.errors import CatchError
from seabed.tables.headings import ENGLISH, plain, read_heading
from seabed.tables.text_table import TextTable

__all__ = ["CATCH_HEADINGS", "columns_of"]

CATCH_HEADINGS: Final = (
    "time", "date", "species", "length", "kept", "released", "rod", "note", "latitude", "longitude",
)  # fmt: skip
"""Meanings of columns that are looked for; see `seabed.tables.headings`."""


def columns_of(table: TextTable) -> dict[str, int]:
    """Find which column means what.

    Returns
    -------
    dict
        From meaning to the column's number.

    Raises
    ------
    CatchError
        At a column that means nothing, one meaning in two columns, or no time.
    """
    columns: dict[str, int] = {}
    for number, (heading, meaning) in enumerate(zip(table.headings, table.meanings, strict=True)):
        if not heading:
            continue
        if meaning is None:
            raise _unknown(heading, table)
        same = {"kept", "released"} & columns.keys() if meaning in ("kept", "released") else set()
        for other in {meaning} & columns.keys() | same:
            raise CatchError(
                f"two columns say the same: {table.headings[columns[other]]!r} and {heading!r}",
                file=table.file,
                do="Rename or remove one.",
            )
        columns[meaning] = number
    if "time" not in columns:
        raise CatchError(
            "no column says when a fish came",
            file=table.file,
            do="Head one column 'time', with times like 2031-06-14 08:30.",
        )
    return columns


def _unknown(heading: str, table: TextTable) -> CatchError:
    known = [name for meaning in CATCH_HEADINGS for name in ENGLISH[meaning]]
    near = difflib.get_close_matches(plain(read_heading(heading).name), known, n=1)
    hint = f"Did you mean {near[0]!r}? " if near else ""
    return CatchError(
        f"unknown column {heading!r}",
        file=table.file,
        where=f"{table.line_word} {table.heading_line}",
        do=f"{hint}Columns that are read: {', '.join(CATCH_HEADINGS)}. Rename it, or head it "
        "'note'.",
    )
