"""Spreadsheets, tables and tracks that other programs made, out of packages on the registry.

Of csvkit and agate-excel (both MIT) the example files are read and never copied; of gpxpy
(Apache 2.0) the tracks.  The outside truth is openpyxl for cells and csv of the standard library.
"""

from __future__ import annotations

import csv
from datetime import datetime, time
from functools import partial

import openpyxl
import pytest

from layers.area import default_area
from layers.jobs.check._checking import check_file
from seabed.errors import SeabedError
from seabed.tables.headings import meanings_of
from seabed.tables.spreadsheets import sheets_of
from seabed.tables.text_table import read_text_table

AGATE, CSVKIT, GPXPY = ("agate-excel", "0.4.2"), ("csvkit", "2.2.0"), ("gpxpy", "1.6.2")
SHEETS = [
    (*AGATE, "examples/test.xlsx"), (*AGATE, "examples/test_ambiguous_date.xlsx"),
    (*AGATE, "examples/test_skip_lines.xlsx"), (*AGATE, "examples/test_numeric_column_name.xlsx"),
    (*AGATE, "examples/test_sheets.xlsx"), (*CSVKIT, "examples/sheets.xlsx"),
    (*CSVKIT, "examples/realdata/ne_1033_data.xlsx"),
]  # fmt: skip


def words_of(value: object) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case float():
            return f"{value:.15g}"
        case datetime() if value.time() == time():
            return str(value.date())
    return str(value).strip()


@pytest.mark.parametrize("source", SHEETS, ids=lambda source: source[2].rpartition("/")[2])
def test_cells_are_those_that_another_reader_finds(registry_file, source):
    path = registry_file(*source)
    book = openpyxl.load_workbook(path, data_only=True, read_only=True)
    shown = dict(sheets_of(path, None, SeabedError))
    assert list(shown) == [sheet.title for sheet in book if sheet.sheet_state == "visible"]
    for name, rows in shown.items():
        wanted = [[words_of(cell) for cell in row] for row in book[name].values]
        width = max(map(len, wanted), default=0)
        padded = [[*row, *[""] * (width - len(row))] for row in rows]
        assert padded[: len(wanted)] == wanted[: len(padded)]
        assert not any(any(row) for row in wanted[len(padded) :])


@pytest.mark.parametrize(
    ("member", "encoding", "mark"),
    [
        ("examples/dummy.csv", "utf-8", ","), ("examples/dummy.tsv", "utf-8", "\t"),
        ("examples/mac_newlines.csv", "utf-8", ","), ("examples/test_latin1.csv", "latin-1", ","),
        ("examples/realdata/FY09_EDU_Recipients_by_State.csv", "utf-8", ","),
        ("examples/realdata/ks_1033_data.csv", "utf-8", ","),
    ],
    ids=lambda value: value.rpartition("/")[2] if "/" in value else None,
)  # fmt: skip
def test_rows_are_those_of_the_standard_library(registry_file, member, encoding, mark):
    path = registry_file(*CSVKIT, member)
    lines = path.read_text(encoding=encoding).splitlines(keepends=True)
    every = [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=mark)]
    table = read_text_table(
        path, lambda heads: [None] * len(heads), error=SeabedError, lenient=True
    )
    start = every.index(table.headings)
    wanted = [row for row in every[start + 1 :] if any(row)]
    rows = [row[: len(one)] for row, one in zip(table.rows, wanted, strict=False)]
    assert rows == wanted[: len(rows)]
    assert len(wanted) - len(rows) == sum("taken for a note" in note for note in table.notes)


@pytest.mark.parametrize(
    ("member", "points", "usable"),
    [
        ("korita-zbevnica.gpx", "871 in 3 tracks", True),
        ("cerknicko-jezero.gpx", "296 in 7 tracks", True),
        ("around-visnjan-with-car.gpx", "104 in 1 track", True),
        ("Mojstrovka.gpx", "184 in 1 track", False),  # all its times are of 1901
    ],
)
def test_tracks_are_checked(registry_file, member, points, usable):
    """Points as `grep -c "<trkpt"` counts them; tracks with any."""
    checked = check_file(str(registry_file(*GPXPY, f"test_files/{member}")), default_area())
    assert (checked.kind, checked.facts["points"], checked.usable) == ("GPX track", points, usable)


def test_headings_of_no_table_of_ours_are_no_catches(registry_file):
    known = partial(meanings_of, among=("species", "length", "height", "event"))
    path = registry_file(*CSVKIT, "examples/realdata/ks_1033_data.csv")
    table = read_text_table(path, known, error=SeabedError)
    assert not set(table.meanings) - {None}
