"""Which columns a catch log has."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from seabed.errors import CatchError
from seabed.tables.headings import CATCH_MEANINGS, ENGLISH, meanings_of, plain, read_heading
from seabed.tables.text_table import TextTable

_ASKED: Final = ("kept", "released")
"""Two columns that answer one question."""


@dataclass(slots=True)
class CatchColumns:
    """Columns of a catch log.

    at: number of the column of each meaning but notes.
    notes: columns that are notes.
    unknown: columns without a known meaning, which become notes, each with its heading.
    """

    at: dict[str, int] = field(default_factory=dict)
    notes: list[int] = field(default_factory=list)
    unknown: list[int] = field(default_factory=list)

    def note_of(self, cells: Sequence[str], headings: Sequence[str]) -> str:
        """Join the notes of a row."""
        named = (f"{headings[at]}: {cells[at]}" for at in self.unknown if cells[at])
        return "; ".join([*(cells[at] for at in self.notes if cells[at]), *named])


def meanings_with(headings: Sequence[str], own: Mapping[str, str]) -> list[str | None]:
    """Tell what headings mean, those that the area file names first."""
    known = meanings_of(headings, CATCH_MEANINGS)
    return [own.get(read_heading(one).name, known[at]) for at, one in enumerate(headings)]


def columns_of(table: TextTable) -> CatchColumns:
    """Find which column means what; CatchError for one meaning in two columns, or no time."""
    columns = CatchColumns()
    for number, (heading, meaning) in enumerate(zip(table.headings, table.meanings, strict=True)):
        if meaning == "note":
            columns.notes.append(number)
        elif meaning is None:
            if heading:
                columns.unknown.append(number)
        else:
            _hold_single(columns, meaning, number, table)
            columns.at[meaning] = number
    if "time" not in columns.at:
        raise CatchError(
            "no column says when a fish came",
            file=table.file,
            where=f"{table.line_word} {table.heading_line}",
            do="Head one column 'time', with times like 2031-06-14 08:30, or say which it is with "
            "{catches.columns}.",
        )
    table.notes.extend(_unknown(table.headings[at], table.file) for at in columns.unknown)
    return columns


def _hold_single(columns: CatchColumns, meaning: str, number: int, table: TextTable) -> None:
    same = [one for one in (_ASKED if meaning in _ASKED else (meaning,)) if one in columns.at]
    for one in same:
        first, second = table.headings[columns.at[one]], table.headings[number]
        raise CatchError(
            f"two columns have the same meaning: {first!r} and {second!r}",
            file=table.file,
            do="Rename or remove one.",
        )


def _unknown(heading: str, file: str) -> str:
    known = {name: meaning for meaning in CATCH_MEANINGS for name in ENGLISH[meaning]}
    near = difflib.get_close_matches(plain(read_heading(heading).name), known, n=1)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    meaning = known[near[0]] if near else "bait"
    return (
        f"{file}: the column {heading!r} is kept as a note.{hint} To read it as something else, "
        f'say so with {{catches.columns}}, like "{heading}: {meaning}".'
    )
