"""The empty tables are read back once they are filled in."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import pytest

from layers import jobs
from layers.area import Units
from layers.catches import read_catches
from layers.jobs.area import EXAMPLES, headings_of
from layers.jobs.requests import AreaRequest
from layers.water import read_currents, read_heights
from layers.water.wind.wind_words import read_wind
from seabed.soundings import read_soundings

DOCS = Path(__file__).parents[2] / "docs"
SVG = "{http://www.w3.org/2000/svg}"
ROWS = {name: [row.split(",") for row in rows] for name, rows in EXAMPLES.items()}


def read(name, path):
    if name in {"catches", "soundings"}:
        return len(read_catches(path) if name == "catches" else read_soundings(path).soundings)
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


def test_every_kind_has_an_example_and_a_picture_that_is_drawn_from_it():
    """``python docs/draw_tables.py`` draws them again."""
    assert set(headings_of(Units())) == set(EXAMPLES)
    place = DOCS / "draw_tables.py"
    spec = importlib.util.spec_from_file_location("draw_tables", place)
    drawing = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(drawing)
    page = (DOCS / "tables.md").read_text(encoding="utf-8")
    for name in EXAMPLES:
        kept = (DOCS / "pictures" / f"table_{name}.svg").read_text(encoding="utf-8")
        assert kept == drawing.picture_of(name)
        words = [text.text for text in ElementTree.fromstring(kept).iter(f"{SVG}text")]
        assert [word or "" for word in words] == [
            cell for row in drawing.rows_of(name) for cell in row
        ]
        assert f"(pictures/table_{name}.svg)" in page
