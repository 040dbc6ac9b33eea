"""The folium map for notebooks: every table a layer, in the reader's units, loading nothing."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from map_content import HOSTILE, content_of

import layers
from layers.area import Units
from layers.maps import Basemap
from seabed import contours, edges, example_grid, humps


def layer_names(chart: Any) -> list[str]:
    return [one.layer_name for one in chart._children.values() if hasattr(one, "layer_name")]


def rendered(chart: Any) -> str:
    return str(chart.get_root().render())


def test_grid_and_tables_are_layers_where_they_are():
    grid = example_grid()
    chart = layers.explore(grid=grid, edges=edges(grid), features=humps(grid),
                           contours=contours(grid, [8]), units=Units(depth="ft"))  # fmt: skip
    assert layer_names(chart) == ["depth", "contours", "edges", "features"]
    # the corners of 400 m by 300 m, half a cell further out than its centres, at 46 N
    (south, west), (north, east) = next(iter(chart._children.values())).bounds
    assert (north - south) * 111_195 == pytest.approx(300, rel=0.01)
    assert (east - west) * 111_195 * 0.694 == pytest.approx(400, rel=0.01)
    page = rendered(chart)
    assert '"Top ft": "20"' in page  # 6.07 m are 19.92 ft
    assert '"Deepens toward \\u00b0": "090"' in page


def test_it_loads_nothing_and_takes_no_text_for_markup(small_grid):
    page = rendered(layers.explore(content_of(small_grid, HOSTILE)))
    tags = re.findall(r"<(?:script|link|img)[^>]*(?:src|href)=[\"']?([^\"'> ]+)", page)
    assert not [address for address in tags if not address.startswith("data:")]
    assert "<img src=x" not in page
    assert "\\u003cimg src=x" not in page


def test_a_base_map_is_the_one_that_is_named():
    basemap = Basemap("https://tiles.example/{z}/{x}/{y}.png", "Land <b>by</b> the Example")
    page = rendered(layers.explore(basemap=basemap))
    assert "https://tiles.example/{z}/{x}/{y}.png" in page
    assert "Land &amp;lt;b" in page or "Land &lt;b" in page or "Land \\u0026lt;b" in page


def test_nothing_gives_an_empty_map(tmp_path: Path):
    chart = layers.explore()
    assert layer_names(chart) == []
    chart.save(str(tmp_path / "map.html"))
    assert (tmp_path / "map.html").stat().st_size > 100_000  # Leaflet is in it
