"""Access: axe-core's rules, the keyboard, print; pictures of the map are kept as artefacts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2 as pdfium
import pytest
import xarray as xr
from axe_playwright_python.sync_playwright import Axe
from browser_waits import until
from map_content import NARROW, PHONE, WIDE, content_of
from thoroughness import THOROUGH

from layers.maps import water_of_day, write_map
from layers.water import FixedCurrent, FixedWind

pytestmark = pytest.mark.browser

OpenMap = Callable[..., Any]
ARTEFACTS = Path(__file__).parents[2] / "test_artefacts"
SIZES_AND_VIEWS = [  # each size once and each view once: colours don't hang on the size
    pytest.param(PHONE, "sun", id="phone-sun"),
    *(
        [
            pytest.param(WIDE, "day", id="wide-day"),
            pytest.param(NARROW, "night", id="narrow-night"),
        ]
        if THOROUGH
        else []
    ),
]


@pytest.fixture(scope="module")
def full_map(small_grid: xr.DataArray, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("full") / "map.html"
    day = water_of_day(
        np.datetime64("2031-06-14T00:00", "ns"),
        np.datetime64("2031-06-15T00:00", "ns"),
        heights=None,
        currents=FixedCurrent(0.4, 20.0),
        wind=FixedWind(3.0, 200.0),
    )
    write_map(path, content_of(small_grid, water=day))
    return path


def faults_of(page: Any, part: str | None = None) -> list[str]:
    """What axe-core finds on the page, or in what a selector matches."""
    options = {"resultTypes": ["violations"]}
    found = Axe().run(page, context=part, options=options).response["violations"]
    return [
        f"{one['id']} ({one['impact']}): {node['target']} {node['failureSummary']}"
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


@pytest.mark.parametrize(("size", "view"), SIZES_AND_VIEWS)
def test_axe_finds_no_serious_fault(
    open_map: OpenMap, full_map: Path, size: Any, view: str
) -> None:
    page = open_map(full_map, size)
    page.evaluate("(view) => { document.body.dataset.view = view; }", view)
    side = "document.getElementById('side').classList.contains('shut')"
    if page.evaluate(side):
        page.click("#side-open")
    ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_{view}_list.png")
    assert faults_of(page) == []
    page.click("#lines .line >> nth=0")
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_{view}_line.png")
    assert faults_of(page, "#card") == []
    for tool in ("section", "drift", "fish"):
        page.click("#card .shut-card")
        page.click(f"#tool-{tool}")
        page.screenshot(path=ARTEFACTS / f"map_{size['width']}_{view}_{tool}.png")
        assert faults_of(page, "#card") == []


def test_the_keyboard_is_enough(open_map: OpenMap, full_map: Path) -> None:
    page = open_map(full_map)
    page.focus("#lines .line >> nth=1")
    page.keyboard.press("Enter")
    assert page.inner_text("#card h2") == "2. Line S1"
    # the card takes the focus, and Escape gives it back
    assert page.evaluate("document.activeElement.className") == "shut-card"
    page.keyboard.press("Escape")
    assert page.is_hidden("#card")
    assert page.evaluate("document.activeElement.className") == "line"
    page.focus("#tool-section")
    page.keyboard.press("Enter")
    for _ in range(2):
        page.get_by_text("Add the centre").focus()
        page.keyboard.press("Enter")
        page.focus("#map")
        middle = page.evaluate("seabedMap.map.getCenter().lng")
        page.keyboard.press("ArrowRight")
        until(page, "middle => seabedMap.map.getCenter().lng !== middle", middle)
    assert "Length" in page.inner_text("#card")


def test_text_is_16_pixels_and_up(open_map: OpenMap, full_map: Path) -> None:
    page = open_map(full_map)
    page.click("#lines .line >> nth=0")
    small = page.evaluate(
        "[...document.querySelectorAll('#top *, #side *, #card *, #readout *, #tools *')]"
        ".filter((e) => e.offsetParent && e.firstChild?.nodeType === 3 && e.textContent.trim())"
        ".filter((e) => parseFloat(getComputedStyle(e).fontSize) < 16).map((e) => e.outerHTML)"
    )
    assert small == []


def test_print_leaves_the_controls_out(open_map: OpenMap, full_map: Path) -> None:
    page = open_map(full_map)
    page.emulate_media(media="print")
    for hidden in ("#tools", "#readout", "#side-open", "#band", "#units", ".leaflet-control-zoom"):
        assert page.locator(hidden).bounding_box() in (None, {}) or page.is_hidden(hidden), hidden
    assert page.is_visible("#caution-text")
    assert page.is_visible("#lines")
    ARTEFACTS.mkdir(exist_ok=True)
    page.emulate_media(media="screen")
    page.evaluate("document.body.dataset.view = 'night'")  # paper is white whatever the screen is
    page.pdf(path=ARTEFACTS / "map.pdf", prefer_css_page_size=True)
    sheet = pdfium.PdfDocument(ARTEFACTS / "map.pdf")
    drawn = np.asarray(sheet[0].render(scale=0.5).to_pil().convert("RGB"), int)
    # the small grid covers a good part of the map, in colours; the rest of the page is white
    assert (np.ptp(drawn, axis=2) > 40).mean() > 0.08
    assert (drawn.min(axis=2) > 240).mean() > 0.3
    assert "Lines, best first" in "".join(part.get_textpage().get_text_range() for part in sheet)
