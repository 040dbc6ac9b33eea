"""An online base map: only where one is named, only when it is ticked, only from its own server."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import xarray as xr
from map_content import HOSTILE, SIZES, content_of

from layers.area import load_area
from layers.area._forms import tile_address
from layers.jobs.parts.results import basemap_of, basemap_warnings
from layers.maps import Basemap, write_map
from layers.maps.page import page_of

ADDRESS = "https://tiles.example/land/{z}/{x}/{y}.png"
DOT = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c4890000000d49444154789c6360606060000000050001a5f64540"
    "0000000049454e44ae426082"
)
"""A PNG of one empty pixel, written by hand (PNG, third edition, W3C)."""


@pytest.mark.parametrize(
    "address",
    [
        "tiles.example/{z}/{x}/{y}",
        "ftp://tiles.example/{z}/{x}/{y}",
        "https:///{z}/{x}/{y}",
        "https://tiles.example/{z}/{x}.png",
        "https://tiles.example/{s}/{z}/{x}/{y}",
        "https://{z}.example/{z}/{x}/{y}",
        "https://tiles.example; script-src *//{z}/{x}/{y}",
        'https://tiles.example/{z}/{x}/{y}"><script>',
        "https://tiles.example:port/{z}/{x}/{y}",
        7,
    ],
)
def test_what_is_no_tile_address_is_refused(address: Any) -> None:
    with pytest.raises(ValueError, match="Write an address like"):
        tile_address(address, Path())


def test_the_area_file_may_name_one_and_results_warn(tmp_path: Path) -> None:
    path = tmp_path / "area.toml"
    path.write_text(f'[map]\nbasemap = "{ADDRESS}"\nbasemap_credit = "Land by the Example"\n')
    assert basemap_of(load_area(path)) == Basemap(ADDRESS, "Land by the Example")
    (warning,) = basemap_warnings(load_area(path))
    assert "shows tiles.example where you fish" in warning and "where you fish" in warning
    path.write_text("[map]\n")
    assert basemap_of(load_area(path)) is None
    assert basemap_warnings(load_area(path)) == ()


def test_the_page_forbids_the_browser_all_other_servers(small_grid: xr.DataArray) -> None:
    policy = re.compile(r'http-equiv="Content-Security-Policy" content="([^"]+)"')
    without = policy.search(page_of(content_of(small_grid)))
    assert without is not None
    assert "default-src 'none'" in without[1] and "http" not in without[1]
    named = policy.search(page_of(content_of(small_grid, basemap=Basemap(ADDRESS))))
    assert named is not None
    assert re.findall(r"https?://[^ ;]+", named[1]) == ["https://tiles.example"]


def opened(browser: Any, path: Path, size: Any) -> tuple[Any, list[str]]:
    """Open a page with the network played: every address that it asks for is noted."""
    phone = size["width"] < 800
    context = browser.new_context(viewport=size, has_touch=phone, is_mobile=phone)
    asked: list[str] = []

    def answer(route: Any) -> None:
        if route.request.url.startswith("file:"):
            route.continue_()
            return
        asked.append(route.request.url)
        route.fulfill(body=DOT, content_type="image/png")

    context.route("**/*", answer)
    page = context.new_page()
    page.set_default_timeout(180_000)  # a busy machine is no fault
    page.goto(path.as_uri())
    page.wait_for_selector("body[data-ready]")
    if phone:
        page.click("#side-open")
    return page, asked


@pytest.mark.browser
@pytest.mark.parametrize("size", SIZES)
def test_the_server_is_asked_only_while_it_is_ticked(
    browser: Any, small_grid: xr.DataArray, tmp_path: Path, size: Any
) -> None:
    path = tmp_path / "map.html"
    write_map(path, content_of(small_grid, basemap=Basemap(ADDRESS, HOSTILE)))
    page, asked = opened(browser, path, size)
    page.wait_for_timeout(300)
    assert asked == []
    assert "shows tiles.example where you fish" in page.inner_text("#basemap-warning")
    box = page.get_by_label("Base map from tiles.example", exact=True)
    assert not box.is_checked()
    box.check()
    page.locator(".leaflet-tile-loaded").first.wait_for(state="attached")
    assert asked
    for url in asked:
        assert re.fullmatch(r"https://tiles\.example/land/\d+/\d+/\d+\.png", url), url
    assert page.inner_text("#credit") == HOSTILE
    assert page.evaluate("window.hit") is None
    # nothing else gets out, whatever runs in the page
    page.evaluate("new Image().src = 'https://elsewhere.example/x.png'")
    page.evaluate("fetch('https://tiles.example/told').catch(() => null)")
    page.wait_for_timeout(200)
    assert {url.split("/")[2] for url in asked} == {"tiles.example"}
    assert not [url for url in asked if url.endswith("told")]
    box.uncheck()
    assert page.is_hidden("#credit")
    page.context.close()
