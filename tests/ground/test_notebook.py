"""What a notebook shows: read as XML, so that tags and text are as they should be."""

from dataclasses import dataclass, field, fields
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pandas as pd
import xarray as xr

from layers.area import load_area
from seabed.notebook import NotebookTable
from seabed.soundings.checks.lag import LagFit

AREA = Path(__file__).parents[2] / "demo_area" / "area.toml"


@dataclass(frozen=True)
class Inner:
    name: str


@dataclass(frozen=True, slots=True)
class Outer(NotebookTable):
    grid: xr.DataArray
    table: pd.DataFrame
    share: float
    inner: Inner
    counts: dict[str, int]
    notes: tuple[str, ...] = ()
    empty: np.ndarray = field(default_factory=lambda: np.full(3, np.nan))


def rows_of(shown):
    root = ET.fromstring(f"<div>{shown}</div>".replace("<br>", "<br/>"))
    rows = root.find("table").findall("tr")
    return {row.find("th").text: row.find("td") for row in rows}


def test_every_field_has_a_row():
    grid = xr.DataArray([[1.5, np.nan], [2.0, 7.25]])
    table = pd.DataFrame({"a": [1, 2, 3], "b<": 0})
    value = Outer(grid, table, 1 / 3, Inner("<script>&"), {"": 2, "spike": 1}, ("one", "two"))
    rows = rows_of(value._repr_html_())
    assert list(rows) == [one.name for one in fields(Outer)]
    assert rows["grid"].text == "2 x 2 values, 1.5 to 7.25"
    assert rows["table"].text == "3 rows: a, b<"
    assert rows["share"].text == "0.333333"
    assert rows["empty"].text == "3 values, none known"
    assert rows["inner"].find("table/tr/td").text == "<script>&"
    assert [row.find("td").text for row in rows["counts"].iter("tr")] == ["2", "1"]
    assert "".join(rows["notes"].itertext()) == "onetwo"


def test_a_grid_in_blocks_is_not_read():
    blocks = xr.DataArray(np.zeros((4, 4))).chunk(2)
    value = Outer(blocks, pd.DataFrame(), 0.0, Inner(""), {})
    assert rows_of(value._repr_html_())["grid"].text == "4 x 4 values"


def test_an_area_is_shown_whole():
    rows = rows_of(load_area(AREA)._repr_html_())
    assert rows["depths"].find("table") is not None
    assert "Tollivane Sound" in rows["name"].text


def test_a_fit_is_shown():
    rows = rows_of(LagFit(1.25, 0.06, 150)._repr_html_())
    assert [cell.text for cell in rows.values()] == ["1.25", "0.06", "150"]
