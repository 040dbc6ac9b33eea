"""Hot stretches on the map, and fish along a line's profile, at both sizes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
import xarray as xr
from axe_playwright_python.sync_playwright import Axe
from map_content import HOSTILE, PHONE, SIZES, content_of
from shapely.geometry import LineString

from layers.maps import write_map

pytestmark = pytest.mark.browser

ARTEFACTS = Path(__file__).parents[2] / "test_artefacts"
WHY = "12 of 14 fish in 20% of the hours (p 0.001): drift it shorter; each pass is 9 min shorter."


def stretches_of(names: list[str]) -> gpd.GeoDataFrame:
    """The first is hot, the others luck."""
    count = len(names)
    return gpd.GeoDataFrame(
        {
            "line": names,
            "hot": [True, False][:count],
            "start_m": 120.0,
            "end_m": 280.0,
            "line_length_m": 400.0,
            "fish": 12,
            "rate_here": 5.1,
            "rate_line": 2.2,
            "saves_s": 540.0,
            "why": [f"{name}: {WHY}" for name in names],
        },
        geometry=[
            LineString([(620303, 5117580), (620307, 5117420)]),
            LineString([(620702, 5117400), (620704, 5117500)]),
        ][:count],
        crs="EPSG:32624",
    )


def drifts_of(line: str) -> gpd.GeoDataFrame:
    start = pd.Timestamp("2031-06-14 12:00", tz="UTC")
    return gpd.GeoDataFrame(
        {"drift_id": ["2031-06-14 #1"], "line": [line], "start": [start]},
        geometry=[LineString([(620300, 5117700), (620310, 5117300)])],
        crs="EPSG:32624",
    )


@pytest.fixture(scope="module")
def map_of(
    small_grid: xr.DataArray, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str], Path]:
    def made(words: str) -> Path:
        path = tmp_path_factory.mktemp("scores") / "map.html"
        more = {"stretches": stretches_of([words, "S1"]), "drifts": drifts_of(words)}
        write_map(path, content_of(small_grid, words, **more))
        return path

    return made


@pytest.mark.parametrize("size", SIZES)
def test_only_hot_stretches_are_drawn_and_tell_why(
    open_map: Any, map_of: Callable[[str], Path], size: Any
) -> None:
    page = open_map(map_of("Hollow Reach"), size)
    mark = page.locator(".sign.stretch")
    assert mark.count() == 1 and mark.inner_text() == "hot"  # by a word, not by colour alone
    ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_stretch.png")
    mark.dispatch_event("click")
    said = page.inner_text(".leaflet-popup-content")
    assert "Hot stretch of Hollow Reach" in said and "drift it shorter" in said
    if size is PHONE:
        page.click("#side-open")
    box = page.get_by_label("Hot stretches", exact=True)
    assert box.is_checked()
    box.uncheck()
    assert mark.count() == 0
    box.check()
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []


@pytest.mark.parametrize("size", SIZES)
def test_fish_stand_along_the_profile_of_their_line(
    open_map: Any, map_of: Callable[[str], Path], size: Any
) -> None:
    page = open_map(map_of("Hollow Reach"), size)
    page.evaluate("seabedMap.set({ chosen: { kind: 'lines', thing: seabedMap.data.lines[0] } })")
    ticks = page.locator("#card .profile .fish-here")
    assert ticks.count() == 2  # the third fish has neither drift nor place
    # the line runs 400 m; fish at northings 5117500 and 5117520 of its 5117700 to 5117300.
    # Foot of the perpendicular, by hand: (200 x 400 + 150 x 10) / 400.1, (180 x 400 + 300 x 10)
    # / 400.1 metres along; the picture's water is 34 to 314 of 320 wide
    at = sorted(float(tick.get_attribute("x1")) for tick in ticks.all())
    assert at == pytest.approx([34 + 280 * m / 400.1 for m in (187.4, 203.7)], abs=1.0)
    assert "a tick where each fish came" in page.inner_text("#card figcaption")
    assert "Hot stretch:" in page.inner_text("#card") and "drift it shorter" in page.inner_text(
        "#card"
    )
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_fish_along.png")
    page.evaluate("seabedMap.set({ chosen: { kind: 'lines', thing: seabedMap.data.lines[1] } })")
    assert page.locator("#card .profile .fish-here").count() == 0
    assert "drift it shorter" not in page.inner_text("#card")


def test_hostile_names_of_stretches_run_nothing(
    open_map: Any, map_of: Callable[[str], Path]
) -> None:
    page = open_map(map_of(HOSTILE))
    page.locator(".sign.stretch").dispatch_event("click")
    assert HOSTILE in page.inner_text(".leaflet-popup-content")
    assert page.evaluate("window.hit") is None


def test_no_hot_stretch_gives_no_switch(
    open_map: Any, small_grid: xr.DataArray, tmp_path: Path
) -> None:
    cold = stretches_of(["A", "S1"]).iloc[1:]
    write_map(tmp_path / "map.html", content_of(small_grid, stretches=cold))
    page = open_map(tmp_path / "map.html")
    assert "Hot stretches" not in page.locator("#shown label").all_text_contents()
