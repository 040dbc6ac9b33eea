"""A small piece of invented water on a map, and a browser to open it in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
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


@pytest.fixture(scope="session")
def contexts(browser: Any) -> dict[str, Any]:
    """Contexts of the browser that serve test after test, by their options: a new one is dear."""
    return {}


@pytest.fixture
def open_map(browser: Any, contexts: dict[str, Any]) -> Iterator[Callable[..., Any]]:
    """``open_map(path, size)``: the page, ready.  Complaints and requests fail it.

    What a page keeps is cleared after the test.  With `options` of its own a test gets a context
    of its own.
    """
    pages: list[Any] = []
    own_contexts: list[Any] = []
    faults: list[str] = []

    def context_of(size: dict[str, int], options: dict[str, Any]) -> Any:
        phone = size["width"] < 800
        shape = {"viewport": size, "has_touch": phone, "is_mobile": phone}
        if options:
            own_contexts.append(browser.new_context(**shape, **options))
            return own_contexts[-1]
        if str(size) not in contexts:
            contexts[str(size)] = browser.new_context(**shape)
        return contexts[str(size)]

    def opened(path: Path, size: dict[str, int] = WIDE, **options: Any) -> Any:
        page = context_of(size, options).new_page()
        pages.append(page)
        page.set_default_timeout(180_000)  # a busy machine is no fault
        page.on("console", lambda m: faults.append(f"console {m.type}: {m.text}"))
        page.on("pageerror", lambda error: faults.append(f"error: {error}"))
        own = path.as_uri()

        def asked(request: Any) -> None:
            if request.url.split("#")[0] != own and not request.url.startswith(("data:", "blob:")):
                faults.append(f"request: {request.url}")

        page.on("request", asked)
        page.goto(own)
        page.wait_for_selector("body[data-ready]")
        return page

    yield opened
    for page in pages:
        page.evaluate("localStorage.clear()")
        page.close()
    for context in own_contexts:
        context.close()
    assert faults == []
