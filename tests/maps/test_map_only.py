"""Showing only some trips and fish: map, list and counts follow; thousands of them stay quick."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
import xarray as xr
from browser_waits import until
from map_content import SIZES, content_of
from pyproj import Transformer
from shapely.geometry import LineString, Point

from layers.maps import write_map

pytestmark = pytest.mark.browser

DRIFTS = [
    # id, line, start, stage, hours from high water, rod-hours
    ("2030-05-01 #1", "Hollow Reach", "2030-05-01 09:00", "flood", -3.0, 1.0),
    ("2031-06-14 #1", "Hollow Reach", "2031-06-14 12:00", "ebb", 1.0, 0.5),
    ("2031-06-14 #2", "S1", "2031-06-14 13:00", "ebb", 2.5, 0.4),
]
FISH = [
    # drift, species, kept
    ("2030-05-01 #1", "dab", True),
    ("2031-06-14 #1", "dab", False),
    ("2031-06-14 #1", "brindle flounder", True),
    ("", "dab", True),
]


def drifts() -> gpd.GeoDataFrame:
    columns = ["drift_id", "line", "start", "stage", "hours_from_high", "rod_hours"]
    table = pd.DataFrame(DRIFTS, columns=columns)
    table["start"] = pd.to_datetime(table["start"], utc=True)
    lines = [LineString([(620300 + 60 * i, 5117800), (620310 + 60 * i, 5117400)]) for i in range(3)]
    return gpd.GeoDataFrame(
        table.assign(duration_s=900.0, sog_mps=0.3, course_deg=180.0), geometry=lines, crs=32624
    )


def fish() -> gpd.GeoDataFrame:
    table = pd.DataFrame(FISH, columns=["drift_id", "species", "kept"])
    starts = {row[0]: row[2] for row in DRIFTS} | {"": "2031-07-01 10:00"}
    table["time"] = pd.to_datetime([starts[name] for name in table["drift_id"]], utc=True)
    table["kept"] = table["kept"].astype("boolean")
    places = [Point(620650 + 60 * i, 5117300) for i in range(4)]
    return gpd.GeoDataFrame(table, geometry=places, crs=32624)


@pytest.fixture(scope="module")
def season_map(small_grid: xr.DataArray, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("season") / "map.html"
    write_map(path, content_of(small_grid, drifts=drifts(), catches=fish(), timezone="UTC"))
    return path


def unfold(page: Any) -> None:
    if "shut" in (page.get_attribute("#side", "class") or ""):
        page.click("#side-open")


def choose(page: Any, name: str, words: str) -> None:
    page.get_by_label(name, exact=True).select_option(label=words)


def shown(page: Any) -> tuple[list[str], int, list[str]]:
    """Drifts drawn, how many fish are, and lines in the list."""
    drawn = page.evaluate(
        "bulkLayers().flatMap((l) => l.shown).map((i) => i.row)"
        ".filter((r) => r.hours_from_high !== undefined).map((r) => r.drift_id)"
    )
    count = page.evaluate("bulkLayers().find((l) => l.marks).shown.length")
    return sorted(drawn), count, page.locator("#lines .name").all_inner_texts()


@pytest.mark.parametrize("size", SIZES)
def test_map_list_and_counts_follow_what_is_chosen(
    open_map: Callable[..., Any], season_map: Path, size: Any
) -> None:
    page = open_map(season_map, size)
    unfold(page)
    names = [row[0] for row in DRIFTS]
    both = ["Hollow Reach", "S1"]
    assert shown(page) == (names, 4, both)
    choose(page, "Season", "2031")
    assert shown(page) == (names[1:], 3, both)
    assert "2 of 3 drifts, 3 of 4 fish" in page.inner_text("#only")
    # one drift of half a rod-hour, with one fish kept and one short, is left of the first line
    assert "1 kept, 1 short · 0.5 h · 1 drift" in page.locator("#lines .facts").first.inner_text()
    choose(page, "Fish of", "dab")
    assert shown(page) == (names[1:2], 2, ["Hollow Reach"])
    choose(page, "Fate", "kept")
    assert shown(page) == ([], 1, [])
    page.get_by_role("button", name="Show all").click()
    assert shown(page) == (names, 4, both)
    choose(page, "Stage of tide", "flood")
    assert shown(page) == (names[:1], 1, ["Hollow Reach"])
    choose(page, "Stage of tide", "every stage")
    choose(page, "Hours from high water", "2 to 4 h after it")
    assert shown(page) == (names[2:], 0, ["S1"])
    page.get_by_role("button", name="Show all").click()
    page.get_by_label("To day", exact=True).fill("2030-12-31")
    assert shown(page) == (names[:1], 1, ["Hollow Reach"])
    badges = page.locator(".sign.rank").all_inner_texts()
    assert badges == ["1"]  # the line without drifts is off the map too


def test_choosing_needs_no_pointer(open_map: Callable[..., Any], season_map: Path) -> None:
    page = open_map(season_map)
    page.get_by_label("Stage of tide", exact=True).focus()
    page.keyboard.press("ArrowDown")
    assert shown(page)[0] == ["2031-06-14 #1", "2031-06-14 #2"]
    for _ in range(2):
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Show all"
    page.keyboard.press("Enter")
    assert len(shown(page)[0]) == 3


def test_a_drift_is_found_among_many_and_tells_itself(
    open_map: Callable[..., Any], season_map: Path
) -> None:
    page = open_map(season_map)
    to_degrees = Transformer.from_crs(32624, 4326, always_xy=True)
    longitude, latitude = to_degrees.transform(620425, 5117600)
    page.evaluate(
        "(at) => seabedMap.map.setView(at, 17, { animate: false })", [latitude, longitude]
    )
    x, y = page.evaluate(
        "(at) => { const p = seabedMap.map.latLngToContainerPoint(at); return [p.x, p.y]; }",
        [latitude, longitude],
    )
    page.mouse.click(x, y)
    said = page.inner_text(".leaflet-popup-content")
    assert "Drift 2031-06-14 #2" in said and "0.4 rod-hours" in said
    choose(page, "Season", "2030")
    page.keyboard.press("Escape")
    page.evaluate("seabedMap.map.closePopup()")
    until(page, "!document.querySelector('.leaflet-popup-content')")  # it fades
    page.mouse.click(x, y)
    assert page.locator(".leaflet-popup-content").count() == 0


@pytest.mark.parametrize("size", SIZES)
def test_labels_on_the_map_keep_apart(
    open_map: Callable[..., Any], season_map: Path, size: Any
) -> None:
    page = open_map(season_map, size)
    page.evaluate("seabedMap.map.setZoom(13, { animate: false })")  # everything crowds together
    page.wait_for_timeout(300)
    boxes = page.evaluate(
        "[...document.querySelectorAll('.sign.contour, .sign.feature')]"
        ".filter((s) => s.style.visibility !== 'hidden')"
        ".map((s) => s.firstChild.getBoundingClientRect())"
        ".map((b) => [b.left, b.top, b.right, b.bottom])"
    )
    every = page.locator(".sign.contour, .sign.feature").count()
    assert 0 < len(boxes) < every
    for i, (left, top, right, bottom) in enumerate(boxes):
        for other in boxes[:i]:
            apart = left >= other[2] or other[0] >= right or top >= other[3] or other[1] >= bottom
            assert apart, (boxes[i], other)
    assert page.locator(".sign.rank").evaluate_all("all => all.every((s) => !s.style.visibility)")


INKED = """async ([latitude, longitude]) => {
  const layer = bulkLayers().find((one) => one.looks.drift);
  await layer.drawing;
  const canvas = layer._container.firstChild;
  const box = canvas.getBoundingClientRect();
  const map = seabedMap.map.getContainer().getBoundingClientRect();
  const at = seabedMap.map.latLngToContainerPoint([latitude, longitude]);
  const [x, y] = [at.x + map.left - box.left, at.y + map.top - box.top].map(Math.round);
  return [canvas.getContext("2d").getImageData(x, y, 1, 1).data[3], layer.shown.length];
}"""
"""How opaque the drifts' picture is at a place, and how many drifts are shown."""


WITHIN = """async () => {
  await Promise.all(bulkLayers().map((layer) => layer.drawing));
  return bulkLayers().map((layer) => {
    const { width, height } = layer._container.firstChild;
    const context = layer._container.firstChild.getContext("2d");
    const sides = [[0, 0, width, 1], [0, height - 1, width, 1], [0, 0, 1, height], [width - 1, 0, 1, height]];
    const inked = sides.some((side) => context.getImageData(...side).data.some((byte) => byte));
    const all = layer._bounds.getSize();
    return [inked, (width * height) / (all.x * all.y)];
  });
}"""  # noqa: E501 (a row of sides)
"""Whether ink touches the edge of a picture; its share of the view and its margin."""


def test_a_picture_is_no_larger_than_what_is_drawn_in_it(
    open_map: Callable[..., Any], season_map: Path
) -> None:
    """The map is zoomed to all there is, so that nothing reaches its edge."""
    pictures = open_map(season_map).evaluate(WITHIN)
    assert len(pictures) >= 3
    assert not any(inked for inked, _ in pictures), pictures
    assert max(share for _, share in pictures) < 0.5, pictures


def test_drifts_are_where_they_belong_when_the_map_has_moved(
    open_map: Callable[..., Any], season_map: Path
) -> None:
    page = open_map(season_map)
    to_degrees = Transformer.from_crs(32624, 4326, always_xy=True)
    # on the middle of the second drift, and between the second and the third
    on, off = (to_degrees.transform(x, 5117600)[::-1] for x in (620365, 620395))
    page.evaluate("(at) => seabedMap.map.setView(at, 18, { animate: false })", on)
    canvas = "bulkLayers().find((one) => one.looks.drift)._container.firstChild"
    assert page.evaluate(INKED, on)[0] == 255 and page.evaluate(INKED, off)[0] == 0
    page.evaluate(f"window.was = {canvas}")
    page.evaluate("seabedMap.map.panBy([200, 100], { animate: false })")
    assert page.evaluate(INKED, on)[0] == 255
    assert page.evaluate(f"window.was === {canvas}")  # it reaches so far: not drawn again
    page.evaluate("seabedMap.map.panBy([900, 100], { animate: false })")
    page.evaluate("seabedMap.map.panBy([-700, 0], { animate: false })")
    assert page.evaluate(INKED, on)[0] == 255 and page.evaluate(INKED, off)[0] == 0
    assert not page.evaluate(f"window.was === {canvas}")
    page.evaluate("seabedMap.map.setZoom(17, { animate: false })")
    assert page.evaluate(INKED, on)[0] == 255 and page.evaluate(INKED, off)[0] == 0
    choose(page, "Season", "2030")
    assert page.evaluate(INKED, on) == [0, 1]
