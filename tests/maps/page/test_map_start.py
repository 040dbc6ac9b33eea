"""What the map opens on, and how soon."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from affine import Affine
from browser_waits import until
from map_content import PHONE, WIDE, content_of
from pyproj import Transformer

from layers.maps import MapContent, write_map
from seabed.grid import make_grid

pytestmark = pytest.mark.browser

OpenMap = Callable[..., Any]
SIZES = [pytest.param(WIDE, id="wide"), pytest.param(PHONE, id="phone")]
FREE = """() => {
  const box = (id) => document.getElementById(id).getBoundingClientRect();
  const low = window.innerWidth < 1000 ? "tools" : "foot";
  const [size, top, foot] = [seabedMap.map.getSize(), box("top").bottom, box(low).top];
  const shut = document.getElementById("side").classList.contains("shut");
  return [window.innerWidth >= 800 && !shut ? box("side").right : 0, top, size.x, foot];
}"""
"""Left, top, right and bottom of the map that nothing covers."""


def on_screen(page: Any, x: float, y: float) -> tuple[float, float]:
    longitude, latitude = Transformer.from_crs(32624, 4326, always_xy=True).transform(x, y)
    place = page.evaluate(
        "(at) => { const p = seabedMap.map.latLngToContainerPoint(at); return [p.x, p.y]; }",
        [latitude, longitude],
    )
    return place[0], place[1]


@pytest.mark.parametrize("size", SIZES)
def test_it_opens_on_the_lines(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path, size: Any
) -> None:
    write_map(tmp_path / "map.html", content_of(small_grid))
    page = open_map(tmp_path / "map.html", size)
    left, top, right, bottom = page.evaluate(FREE)
    ends = [(620300, 5117700), (620310, 5117300), (620700, 5117300), (620705, 5117600)]
    places = np.array([on_screen(page, *end) for end in ends])
    assert left < places[:, 0].min() and places[:, 0].max() < right
    assert top < places[:, 1].min() and places[:, 1].max() < bottom
    # they fill the room one way or the other
    fill = np.ptp(places, axis=0) / (right - left, bottom - top)
    assert fill.max() > 0.55


@pytest.mark.parametrize("size", SIZES)
def test_without_lines_it_opens_on_what_was_surveyed(
    open_map: OpenMap, tmp_path: Path, size: Any
) -> None:
    depth = np.full((400, 400), np.nan)
    depth[200:380, 20:200] = 12.0  # a corner of the frame
    grid = make_grid(
        depth, transform=Affine(5, 0, 620000, 0, -5, 5118000), crs="EPSG:32624", source="invented"
    )
    write_map(tmp_path / "map.html", MapContent(grid=grid))
    page = open_map(tmp_path / "map.html", size)
    left, top, right, bottom = page.evaluate(FREE)
    ends = [(620100, 5117000), (621000, 5116100)]
    places = np.array([on_screen(page, *end) for end in ends])
    assert left - 2 < places[:, 0].min() and places[:, 0].max() < right + 2
    assert top - 2 < places[:, 1].min() and places[:, 1].max() < bottom + 2
    fill = np.abs(np.diff(places, axis=0))[0] / (right - left, bottom - top)
    assert fill.max() > 0.5


def test_the_first_picture_does_not_wait_for_every_cell(open_map: OpenMap, tmp_path: Path) -> None:
    y, x = np.mgrid[0:1500, 0:1500]
    depth = 20 + 15 * np.sin(x / 150) * np.cos(y / 170) + 0.1 * np.sin(x * y)
    grid = make_grid(
        depth, transform=Affine(4, 0, 6e5, 0, -4, 5.1e6), crs="EPSG:32624", source="invented"
    )
    write_map(tmp_path / "map.html", MapContent(grid=grid))
    page = open_map(tmp_path / "map.html")
    marks = page.evaluate(
        "Object.fromEntries(performance.getEntriesByType('mark').map((m) => [m.name, m.startTime]))"
    )
    assert marks["first picture"] < marks["controls"] < marks["whole picture"]
    # the small picture gave way
    assert page.locator("canvas.leaflet-image-layer").count() == 1
    assert page.evaluate("seabedMap.depths.numbers.length") > 2e6


def test_a_phones_readout_tells_what_is_under_the_cross(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path
) -> None:
    write_map(tmp_path / "map.html", content_of(small_grid))
    page = open_map(tmp_path / "map.html", PHONE)
    x, y = page.evaluate(
        "['left', 'top'].map((way) => parseFloat(document.getElementById('cross').style[way]))"
    )
    left, top, right, bottom = page.evaluate(FREE)
    assert (x, y) == pytest.approx(((left + right) / 2, (top + bottom) / 2), abs=1)
    told = float(page.inner_text("#readout .depth").split()[0])
    there = page.evaluate(
        "([x, y]) => { const p = seabedMap.map.containerPointToLatLng([x, y]);"
        " return seabedMap.depths.depth(p.lat, p.lng); }",
        [x, y],
    )
    assert told == pytest.approx(there / 0.3048, abs=0.06)
    page.click("#side-open")
    page.click("#lines .line >> nth=0")
    above_card = """top => {
        const y = parseFloat(document.getElementById('cross').style.top);
        return top < y && y < document.getElementById('card').getBoundingClientRect().top;
    }"""
    until(page, above_card, top)
