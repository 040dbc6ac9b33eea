"""Tables of tide and current that are typed or pasted on a page: their cells, and what is wrong."""

from __future__ import annotations

import csv
import io
import re
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from layers.area import Area, load_area
from layers.desk.texts import error_words, text
from layers.desk.waters import TYPED
from layers.water import CurrentTable, HighLowTable, read_currents, read_heights
from layers.water.currents.currents import EVENT_SIGNS
from layers.water.sources import needs_tide
from layers.water.times import to_local
from seabed.errors import SeabedError
from seabed.tables.spreadsheets import is_table_name
from seabed.units import convert

Row = list[str]

MOST_FAULTS: Final = 20
MOST_ROWS: Final = 6000
"""Of a table on a page: four turns a day of four years."""

_PLACE: Final = re.compile(r"\w+ (\d+)(?:, column '(.*)')?")
_NAME: Final = "table.csv"
_TIME: Final = 1
_VALUE: Final = 2
_OF_DATE: Final = re.compile(r"no date|\bday\b")


@dataclass(frozen=True)
class TypedTable:
    """One kind of table: what its columns are called."""

    value: str
    word: str

    def headings(self, unit: str) -> list[str]:
        """Head the columns as the readers know them."""
        return ["date", "time", f"{self.value}_{unit}", self.word]


TABLES: Final = {
    "heights": TypedTable("height", "kind"),
    "currents": TypedTable("speed", "event"),
}


def typed_text(kind: str, rows: Sequence[Row], unit: str) -> str:
    """Write rows as CSV; a column of words that is empty is left out."""
    wide = 4 if any(row[3].strip() for row in rows) else 3
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerow(TABLES[kind].headings(unit)[:wide])
    writer.writerows(row[:wide] for row in rows)
    return lines.getvalue()


def rows_of(kind: str, area_file: str, pasted: str = "", unit: str = "") -> dict[str, Any]:
    """Give the rows of a water's own table, or of a text that was pasted, as they are shown.

    Returned: ``rows`` of day, time, value and word; ``unit`` of the values; ``wrong`` in words,
        where a text can't be read.  No rows where the water's source is no table.
    """
    area = load_area(area_file)
    unit = unit or _unit(kind, area)
    source = getattr(area.water, kind)
    try:
        if pasted:
            table = _of_text(pasted, lambda file: _read(kind, file, area, unit))
        elif (
            source is None
            or not is_table_name(source)
            or (kind == "currents" and needs_tide(source))
        ):
            table = None
        else:
            table = _read(kind, source, area, area.water.heights_unit)
    except SeabedError as error:
        return {
            "rows": [],
            "unit": unit,
            "wrong": error_words(SeabedError(error.what, where=error.where, do=error.do)),
        }
    return {"rows": [] if table is None else _rows(table, area, unit), "unit": unit, "wrong": ""}


def faults(kind: str, area_file: str, rows: list[Row], unit: str) -> dict[str, Any]:
    """Say what is wrong with typed rows, cell by cell.

    Returned: ``text`` of the table; ``faults``: ``row`` and ``column`` from 0 (None: of no row, of
        no one column) and ``words``.
    """
    area = load_area(area_file)
    if unit not in TYPED[kind] or len(rows) > MOST_ROWS:
        raise SeabedError("no such unit, or too many rows", do=f"Give {MOST_ROWS} rows at most.")
    left = {number: row for number, row in enumerate(rows) if any(cell.strip() for cell in row)}
    wrong: list[dict[str, Any]] = [
        {"row": number, "column": column, "words": text("typed.no_" + name)}
        for number, row in left.items()
        for column, name in _lacking(kind, row, first=number == min(left))
    ]
    if not left:
        wrong.append({"row": None, "column": None, "words": text("typed.empty")})
    for fault in wrong:
        left.pop(fault["row"], None)
    while left and len(wrong) < MOST_FAULTS:
        try:
            _of_text(
                typed_text(kind, list(left.values()), unit),
                lambda file: _read(kind, file, area, unit),
            )
            break
        except SeabedError as error:
            place = _PLACE.fullmatch(error.where or "")
            numbers = list(left)
            at = (
                numbers[int(place[1]) - 2] if place and 2 <= int(place[1]) < len(left) + 2 else None
            )
            named = TABLES[kind].headings(unit)
            column = named.index(place[2]) if place and place[2] in named else None
            if column == _TIME and _OF_DATE.search(error.what):
                column = 0
            if wrong and column is None:
                break  # without rows that are wrong in themselves, others seem wrong that are not
            cure = error.do or ("" if column != _VALUE else text("typed.value"))
            if column in (0, _TIME) and "date_order" not in cure:
                cure = text("typed.like")
            words = error_words(SeabedError(error.what, do=cure))
            wrong.append({"row": at, "column": column, "words": words})
            if at is None or column is None:
                break
            del left[at]
    whole = [row for row in rows if any(cell.strip() for cell in row)]
    return {"faults": wrong, "text": typed_text(kind, whole, unit)}


def _lacking(kind: str, row: Row, *, first: bool) -> Iterator[tuple[int, str]]:
    """Name the cells that a row needs and lacks; a day holds for the rows below it."""
    if first and not row[0].strip():
        yield 0, "day"
    if not row[_TIME].strip():
        yield _TIME, "time"
    elif not row[_VALUE].strip(" -–—") and (kind == "heights" or _moves(row[3])):
        yield _VALUE, "value"


def _moves(event: str) -> bool:
    bare = event.casefold().strip(" .:-")
    return EVENT_SIGNS.get(bare, 1) != 0


def _of_text(words: str, read: Any) -> Any:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / _NAME
        file.write_text(words, encoding="utf-8")
        return read(file)


def _read(kind: str, file: Path, area: Area, unit: str) -> Any:
    about: Any = {"timezone": area.timezone, "date_order": area.date_order}
    if kind == "heights":
        return read_heights(file, unit=unit, **about)
    water = area.water
    flood = 0.0 if water.flood_toward_deg is None else water.flood_toward_deg
    return read_currents(
        file,
        unit=water.currents_unit,
        flood_toward=flood,
        ebb_toward=water.ebb_toward_deg,
        **about,
    )


def _rows(table: Any, area: Area, unit: str) -> list[Row]:
    match table:
        case HighLowTable():
            values = convert(table.heights_m, unit)
            words = np.where(table.high, "high", "low")
        case CurrentTable():
            values = convert(np.abs(table.along_mps), unit)
            words = np.where(table.slack, "slack", np.where(table.along_mps > 0, "flood", "ebb"))
        case _:
            return []
    return [
        [f"{time:%Y-%m-%d}", f"{time:%H:%M}", "" if word == "slack" else f"{value:.2f}", str(word)]
        for time, value, word in zip(
            to_local(table.times, area.timezone), values, words, strict=True
        )
    ]


def _unit(kind: str, area: Area) -> str:
    own = area.units.speed if kind == "currents" else area.units.depth
    return own if own in TYPED[kind] else TYPED[kind][0]
