"""The map as a person uses it, in a real Chromium."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from browser_waits import until
from map_content import HOSTILE, NARROW, PHONE, SIZES, WIDE, content_of
from pyproj import Transformer
from thoroughness import THOROUGH

from layers.maps import MapContent, write_map
from seabed.grid.places import sample

pytestmark = pytest.mark.browser

OpenMap = Callable[..., Any]
BOTH = [pytest.param(WIDE, id="wide"), pytest.param(PHONE, id="phone")]
"""For how it opens."""


def on_screen(page: Any, longitude: float, latitude: float) -> tuple[float, float]:
    place = page.evaluate(
        "([lat, lon]) => { const p = seabedMap.map.latLngToContainerPoint([lat, lon]);"
        " return [p.x, p.y]; }",
        [latitude, longitude],
    )
    return place[0], place[1]


def degrees(x: float, y: float) -> tuple[float, float]:
    return Transformer.from_crs(32624, 4326, always_xy=True).transform(x, y)


def unfold(page: Any) -> None:
    if "shut" in (page.get_attribute("#side", "class") or ""):
        page.click("#side-open")


@pytest.mark.parametrize("size", BOTH)
def test_opens_and_says_the_cautions(open_map: OpenMap, map_file: Path, size: Any) -> None:
    page = open_map(map_file, size)
    assert page.title() == "Hollow Reach"
    assert page.inner_text("#caution").startswith("Not for navigation.")
    assert page.is_hidden("#caution-text")
    page.click("#caution")
    assert "Check official charts" in page.inner_text("#caution-text")


@pytest.mark.parametrize("size", BOTH)
def test_the_unfolded_cautions_cover_nothing(open_map: OpenMap, map_file: Path, size: Any) -> None:
    page = open_map(map_file, size)
    unfold(page)
    page.click("#caution")
    until(
        page,
        "['#side', '#tools'].every((name) => "
        "document.querySelector(name).getBoundingClientRect().top"
        " >= document.getElementById('top').getBoundingClientRect().bottom)",
    )
    folded = page.locator("#top").bounding_box()["height"]
    page.click("#caution")
    if size is WIDE:  # on a phone the tools are at the foot
        until(
            page,
            "least => document.querySelector('#tools').getBoundingClientRect().top < least",
            folded,
        )


def test_the_pointer_tells_depth_slope_and_place(
    open_map: OpenMap, map_file: Path, small_grid: xr.DataArray
) -> None:
    page = open_map(map_file)
    for x, y in ((620520.0, 5117555.0), (620600.0, 5117600.0), (620700.0, 5117420.0)):
        longitude, latitude = degrees(x, y)
        page.wait_for_timeout(300)  # a busy machine may still be settling the view
        at = on_screen(page, longitude, latitude)
        page.mouse.move(*at)
        page.evaluate("new Promise((done) => requestAnimationFrame(() => setTimeout(done, 100)))")
        # the pointer is on a whole pixel: ask for the depth there
        lat, lon = page.evaluate(
            "([x, y]) => { const p = seabedMap.map.containerPointToLatLng([x, y]);"
            " return [p.lat, p.lng]; }",
            [round(at[0]), round(at[1])],
        )
        truth = sample(small_grid, np.array([lon]), np.array([lat]))[0] / 0.3048
        told = page.inner_text("#readout .depth")
        assert float(told.split()[0]) == pytest.approx(truth, abs=0.15)
        assert told.endswith("ft")
        place = page.inner_text("#readout .place")
        found = re.fullmatch(r"(\d\d)°(\d\d\.\d{3})′N\s+(\d{3})°(\d\d\.\d{3})′W", place)
        assert found is not None, place
        d, m, east_d, east_m = (float(part) for part in found.groups())
        assert d + m / 60 == pytest.approx(latitude, abs=3e-5)
        assert -(east_d + east_m / 60) == pytest.approx(longitude, abs=3e-5)


def test_slope_is_the_planes_and_land_has_no_depth(open_map: OpenMap, map_file: Path) -> None:
    # away from the hump the bottom falls 10 m in 1000 m: atan(0.01) is 0.573 degrees
    page = open_map(map_file)
    longitude, latitude = degrees(620150, 5117250)
    slope = page.evaluate("([a, o]) => seabedMap.depths.slope(a, o)", [latitude, longitude])
    assert slope == pytest.approx(0.573, abs=0.06)  # numbers of 1 cm over 10 m
    longitude, latitude = degrees(620030, 5117960)
    assert page.evaluate(
        "([a, o]) => Number.isNaN(seabedMap.depths.depth(a, o))", [latitude, longitude]
    )


@pytest.mark.parametrize("size", SIZES)
def test_each_layer_goes_and_comes_back(open_map: OpenMap, map_file: Path, size: Any) -> None:
    page = open_map(map_file, size)
    unfold(page)
    names = page.locator("#shown label input + span").all_inner_texts()
    assert {"Depths in colour", "Contours", "Band outline", "Humps and holes", "Runs", "Drifts",
            "Holds", "Gaps", "Lines by rate", "Catches"} <= set(names)  # fmt: skip
    count = "() => Object.keys(seabedMap.map._layers).length"
    for name in names:
        box = page.get_by_label(name, exact=True)
        was, before = box.is_checked(), page.evaluate(count)
        box.set_checked(not was)
        between = page.evaluate(count)
        assert (between < before) if was else (between > before), name
        box.set_checked(was)
        assert page.evaluate(count) == before, name


@pytest.mark.parametrize("size", SIZES)
def test_list_and_map_are_tied_both_ways(open_map: OpenMap, map_file: Path, size: Any) -> None:
    page = open_map(map_file, size)
    unfold(page)
    page.click("#lines .line >> nth=1")
    assert page.inner_text("#card h2") == "2. Line S1"
    assert "more kept in the hours spent" in page.inner_text("#card")
    assert page.locator("#card svg path").count() >= 2
    assert page.locator(".line[aria-pressed=true] .name").all_text_contents() == ["S1"]
    page.click("#card .shut-card")
    assert page.is_hidden("#card")
    page.evaluate("seabedMap.map.setView([46.1981, -31.443], 15)")
    page.locator(".sign.rank").filter(has_text="1").dispatch_event("click")
    assert page.inner_text("#card h2") == "1. Line Hollow Reach"


def test_a_catch_tells_itself(open_map: OpenMap, map_file: Path) -> None:
    page = open_map(map_file)
    page.mouse.click(*on_screen(page, *degrees(620450, 5117500)))
    said = page.inner_text(".leaflet-popup-content")
    assert "Hollow Reach" in said
    assert "16.1 in" in said  # 0.41 m / 0.0254
    assert "2031-06-14 10:00:00" in said
    assert "kept" in said


APART = """() => {
  const card = document.querySelector('.leaflet-popup').getBoundingClientRect();
  return [...document.querySelectorAll('#side, #tools button, #readout, #top')].filter((part) => {
    const box = part.getBoundingClientRect();
    return box.width && card.left < box.right && box.left < card.right
      && card.top < box.bottom && box.top < card.bottom;
  }).map((part) => part.id);
}"""


@pytest.mark.parametrize(
    ("size", "at"),
    [
        pytest.param(PHONE, (222, 690), id="phone"),
        *([pytest.param(WIDE, (440, 130), id="wide")] if THOROUGH else []),
    ],
)
def test_a_popup_opens_clear_of_list_and_buttons(
    open_map: OpenMap, map_file: Path, size: Any, at: tuple[int, int]
) -> None:
    page = open_map(map_file, size)
    place = degrees(620450, 5117500)
    page.wait_for_timeout(300)
    x, y = on_screen(page, *place)
    page.evaluate("by => seabedMap.map.panBy(by, {animate: false})", [x - at[0], y - at[1]])
    page.mouse.click(*on_screen(page, *place))
    page.wait_for_selector(".leaflet-popup-content")
    until(page, f"() => !({APART})().length")  # the map moves to make room


@pytest.mark.parametrize("size", SIZES)
def test_hostile_words_run_nothing(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path, size: Any
) -> None:
    path = tmp_path / "hostile.html"
    write_map(path, content_of(small_grid, HOSTILE))
    page = open_map(path, size)
    unfold(page)
    page.click("#lines .line >> nth=0")
    assert page.inner_text("#card h2") == f"1. Line {HOSTILE}"
    page.evaluate(
        "seabedMap.map.eachLayer((layer) => { if (layer.getPopup && layer.getPopup())"
        " layer.openPopup(); })"
    )
    assert page.title() == HOSTILE
    assert page.evaluate("window.hit === undefined")
    assert page.locator("img").count() == 0


@pytest.mark.parametrize(
    "size",
    [pytest.param(NARROW, id="narrow"), *([pytest.param(PHONE, id="phone")] if THOROUGH else [])],
)
def test_a_phone_needs_no_sideways_scroll(open_map: OpenMap, map_file: Path, size: Any) -> None:
    page = open_map(map_file, size)
    unfold(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    small = page.evaluate(
        "[...document.querySelectorAll('button, .leaflet-bar a, #shown label')]"
        ".filter((e) => e.offsetParent).map((e) => [e.textContent, e.getBoundingClientRect()])"
        ".filter(([, box]) => box.height < 40 || box.width < 40).map(([text]) => text)"
    )
    assert small == []


def test_maps_with_little_on_them_open(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path
) -> None:
    write_map(tmp_path / "none.html", MapContent(title="Nothing"))
    assert "No depth grid" in open_map(tmp_path / "none.html").text_content("#depth-words")
    write_map(tmp_path / "void.html", MapContent(grid=small_grid * np.float32(np.nan)))
    open_map(tmp_path / "void.html")
    full = content_of(small_grid)
    write_map(tmp_path / "tracks.html", MapContent(pieces=full.pieces, lines=full.lines))
    page = open_map(tmp_path / "tracks.html")
    page.click("#lines .line >> nth=0")
    assert page.is_visible("#card")


def test_an_old_browser_says_what_it_lacks(browser: Any, map_file: Path) -> None:
    context = browser.new_context(viewport=WIDE)
    context.add_init_script("delete window.DecompressionStream")
    page = context.new_page()
    page.goto(map_file.as_uri())
    page.wait_for_selector("body[data-ready]")
    assert "too old to show the depths" in page.text_content("#depth-words")
    page.click("#lines .line >> nth=0")
    assert page.is_visible("#card")
    context.close()
