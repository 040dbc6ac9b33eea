"""Typed tables: what is wrong is named by its cell, and what is right is read as it was typed."""

from pathlib import Path

import pytest

from layers.desk.typed_tables import faults, rows_of, typed_text
from layers.water import read_heights

AREA = str(Path(__file__).parents[2] / "demo_area" / "area.toml")
RIGHT = [
    ["2031-06-14", "6:38", "0.4", "low"],
    ["2031-06-14", "12:48", "6.1", "high"],
    ["", "", "", ""],
    ["2031-06-14", "18:44", "0.9", "low"],
]


def changed(row, column, words):
    rows = [list(one) for one in RIGHT]
    rows[row][column] = words
    return rows


def test_nothing_is_wrong_with_what_is_right(tmp_path):
    answer = faults("heights", AREA, RIGHT, "ft")
    assert answer["faults"] == []
    file = tmp_path / "typed.csv"
    file.write_text(answer["text"])
    table = read_heights(file, timezone="Etc/GMT+2")
    assert table.heights_m.tolist() == pytest.approx([0.4 * 0.3048, 6.1 * 0.3048, 0.9 * 0.3048])


@pytest.mark.parametrize(
    ("row", "column", "words"), [(1, 1, "25:10"), (3, 2, "deep"), (0, 0, "31 June 2031")]
)
def test_a_wrong_cell_is_named(row, column, words):
    wrong = faults("heights", AREA, changed(row, column, words), "ft")["faults"]
    assert [(one["row"], one["column"]) for one in wrong] == [(row, column)]
    assert words in wrong[0]["words"]


def test_a_row_without_its_time_is_no_midnight():
    wrong = faults("heights", AREA, changed(1, 1, ""), "ft")["faults"]
    assert [(one["row"], one["column"]) for one in wrong] == [(1, 1)]


@pytest.mark.parametrize("rows", [[], [["", " ", "", ""]]])
def test_an_empty_table_is_no_table(rows):
    wrong = faults("heights", AREA, rows, "ft")["faults"]
    assert [(one["row"], one["column"]) for one in wrong] == [(None, None)]
    assert "empty" in wrong[0]["words"]


def test_all_wrong_cells_are_named():
    rows = changed(1, 1, "25:10")
    rows[3][2] = "deep"
    wrong = faults("heights", AREA, rows, "ft")["faults"]
    assert [(one["row"], one["column"]) for one in wrong] == [(1, 1), (3, 2)]


def test_a_row_that_does_not_follow_is_named():
    wrong = faults("heights", AREA, changed(1, 3, "low"), "ft")["faults"]
    assert [(one["row"], one["column"]) for one in wrong] == [(1, None)]
    assert "a low water follows a low water" in wrong[0]["words"]


def test_currents_are_typed_too():
    rows = [["2031-06-14", "6:00", "", "slack"], ["2031-06-14", "9:00", "1.2", "sideways"]]
    wrong = faults("currents", AREA, rows, "kn")["faults"]
    assert [one["row"] for one in wrong] == [1]
    rows[1][3] = "flood"
    assert faults("currents", AREA, rows, "kn")["faults"] == []


def test_an_agencys_lines_become_rows():
    text = "Sat 14 June 2031\n3:12 AM  High Tide 6.2 ft\n9:30 AM Low 0.4 ft\n"
    assert rows_of("heights", AREA, text)["rows"] == [
        ["2031-06-14", "03:12", "6.20", "high"],
        ["2031-06-14", "09:30", "0.40", "low"],
    ]
    assert "no line holds" in rows_of("heights", AREA, "Moby Dick")["wrong"]


def test_the_areas_own_table_comes_back_the_same(tmp_path):
    """What is shown and saved unchanged is the table that it was, to half a hundredth of a foot."""
    given = rows_of("heights", AREA)
    file = tmp_path / "again.csv"
    file.write_text(typed_text("heights", given["rows"], given["unit"]))
    before = read_heights(Path(AREA).parent / "tide_table.csv", timezone="Etc/GMT+2")
    after = read_heights(file, timezone="Etc/GMT+2")
    assert (before.times == after.times).all()
    assert abs(before.heights_m - after.heights_m).max() <= 0.005 * 0.3048 + 1e-9
