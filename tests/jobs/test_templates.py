"""The empty tables are read back once they are filled in."""

from __future__ import annotations

import openpyxl
import pytest

from layers import jobs
from layers.catches import read_catches
from layers.jobs.requests import AreaRequest
from layers.water import read_currents, read_heights, read_wind

ROWS = {
    "catches": [["2031-06-14", "08:30", "dab", "14.5", "yes", "1", "big"]],
    "tide_heights": [["2031-06-14 03:12", "6.2", "high"], ["2031-06-14 09:30", "0.3", "low"]],
    "currents": [["2031-06-14 03:12", "slack", ""], ["2031-06-14 06:30", "flood", "1.2"],
                 ["2031-06-14 09:30", "slack", "0"]],
    "wind": [["2031-06-14 06:00", "8", "SW", "12"], ["2031-06-14 12:00", "10", "W", ""]],
}  # fmt: skip


def read(name, path):
    if name == "catches":
        return len(read_catches(path))
    if name == "currents":
        return len(read_currents(path, flood_toward=40).times)
    return len((read_heights if name == "tide_heights" else read_wind)(path).times)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    out = tmp_path_factory.mktemp("new") / "area.toml"
    return jobs.run(AreaRequest(out=out, templates=True)).files


@pytest.mark.parametrize("name", ROWS)
def test_filled_in_they_are_read(files, name, tmp_path):
    text = files[f"{name}_csv"].read_text(encoding="utf-8")
    assert text.count("\n") == 1
    table = tmp_path / f"{name}.csv"
    table.write_text(text + "\n".join(map(",".join, ROWS[name])), encoding="utf-8")
    assert read(name, table) == len(ROWS[name])
    book = openpyxl.load_workbook(files[f"{name}_xlsx"])
    for row in ROWS[name]:
        book.active.append(row)
    book.save(tmp_path / f"{name}.xlsx")
    assert read(name, tmp_path / f"{name}.xlsx") == len(ROWS[name])
