"""A small piece of invented water on a map, and a browser to open it in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from affine import Affine
from map_content import WIDE, content_of

from layers.maps import write_map
from seabed.grid import make_grid


@pytest.fixture(scope="session")
def small_grid() -> xr.DataArray:
    """A slope to the east, 5 to 15 m, with a hump and a corner of land; 5 m cells, UTM 24 north."""
    rows, columns = 160, 200
    y, x = np.mgrid[0:rows, 0:columns]
    depth = 5 + 10 * x / columns - 3 * np.exp(-((x - 120) ** 2 + (y - 80) ** 2) / 300)
    depth[:20, :20] = np.nan
    return make_grid(
        depth, transform=Affine(5, 0, 620000, 0, -5, 5118000), crs="EPSG:32624", source="invented"
    )


@pytest.fixture(scope="session")
def map_file(small_grid: xr.DataArray, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("map") / "map.html"
    write_map(path, content_of(small_grid))
    return path


@dataclass
class Screen:
    """A context of the browser for one size, and empty pages in it that wait for a test."""

    context: Any
    pages: list[Any] = field(default_factory=list)


@pytest.fixture(scope="session")
def screens() -> dict[tuple[int, int], Screen]:
    """Screens that serve test after test, by their size: new contexts and pages are dear."""
    return {}


@pytest.fixture
def open_map(browser: Any, screens: dict[tuple[int, int], Screen]) -> Iterator[Callable[..., Any]]:
    """``open_map(path, size)``: the page, ready.  Complaints and requests fail it.

    What a page keeps is cleared after the test, and the next test has the same page.  With
    `options` of its own a test gets a context of its own.
    """
    opened_pages: list[tuple[Any, Screen | None, dict[str, Any]]] = []
    faults: list[str] = []

    def screen_of(size: dict[str, int], options: dict[str, Any]) -> Screen:
        phone = size["width"] < 800
        key = (size["width"], size["height"])
        screen = None if options else screens.get(key)
        if screen is None:
            shape = {"viewport": size, "has_touch": phone, "is_mobile": phone}
            screen = Screen(browser.new_context(**shape, **options))
            if not options:
                screens[key] = screen
        return screen

    def opened(path: Path, size: dict[str, int] = WIDE, **options: Any) -> Any:
        screen = screen_of(size, options)
        page = screen.pages.pop() if screen.pages else screen.context.new_page()
        page.set_default_timeout(180_000)  # a busy machine is no fault
        own = path.as_uri()

        def asked(request: Any) -> None:
            if request.url.split("#")[0] != own and not request.url.startswith(("data:", "blob:")):
                faults.append(f"request: {request.url}")

        ears = {
            "console": lambda m: faults.append(f"console {m.type}: {m.text}"),
            "pageerror": lambda error: faults.append(f"error: {error}"),
            "request": asked,
        }
        for event, ear in ears.items():
            page.on(event, ear)
        opened_pages.append((page, None if options else screen, ears))
        page.goto(own)
        page.wait_for_selector("body[data-ready]")
        return page

    yield opened
    for page, screen, ears in opened_pages:
        if screen is None:
            page.context.close()
        elif not page.is_closed():
            _empty(page, ears)
            screen.pages.append(page)
    assert faults == []


def _empty(page: Any, ears: dict[str, Any]) -> None:
    """Leave nothing of a test on a page."""
    page.evaluate("localStorage.clear(), sessionStorage.clear()")
    for event, ear in ears.items():
        page.remove_listener(event, ear)
    page.mouse.move(-1, -1)  # the next map has no pointer over it
    page.goto("about:blank")
