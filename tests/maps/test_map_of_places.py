"""Where to look first, on the map: the ranked list and the places point at each other."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import xarray as xr
from browser_waits import until
from map_content import PHONE, SIZES, content_of, lines_of

from layers.maps import MapContent, write_map
from layers.maps.page import page_of
from seabed.structure import edges, humps, rank_structure, reasons
from seabed.structure.ranking import with_ranks

pytestmark = pytest.mark.browser

OpenMap = Callable[..., Any]
BAND = (6.0, 9.0)


@pytest.fixture(scope="module")
def scouted(
    small_grid: xr.DataArray, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, pd.DataFrame]:
    """A map of the ranked edges and the hump of the small grid, and their ranking."""
    steps = edges(small_grid, band=BAND, min_drop_m=0.5)
    highs = humps(small_grid, min_height_m=0.5)
    ranking = rank_structure(steps, highs, band=BAND)
    ranking["why"] = reasons(ranking)
    path = tmp_path_factory.mktemp("places") / "map.html"
    write_map(
        path,
        MapContent(
            grid=small_grid,
            edges=with_ranks(steps, ranking),
            features=with_ranks(highs, ranking),
            band_m=BAND,
        ),
    )
    return path, ranking


def unfold(page: Any) -> None:
    if "shut" in (page.get_attribute("#side", "class") or ""):
        page.click("#side-open")


@pytest.mark.parametrize("size", SIZES)
def test_list_and_map_point_at_each_other(
    open_map: OpenMap, scouted: tuple[Path, pd.DataFrame], size: Any
) -> None:
    path, ranking = scouted
    page = open_map(path, size)
    assert len(ranking) >= 2
    unfold(page)
    badges = page.locator("#places .badge").all_inner_texts()
    assert badges == ranking["name"].tolist()
    page.click("#places .line >> nth=1")
    assert page.inner_text("#card h2").startswith("R2. ")
    assert ranking["why"][1] in page.inner_text("#card")
    assert page.get_attribute("#places .line >> nth=1", "aria-pressed") == "true"
    page.click("#card .shut-card")
    assert page.evaluate("seabedMap.chosen") is None
    # from the map to the list
    page.locator(".sign.place", has_text="R1").last.dispatch_event("click")
    assert page.inner_text("#card h2").startswith("R1. ")
    assert page.get_attribute("#places .line >> nth=0", "aria-pressed") == "true"


def test_the_first_view_holds_the_places(
    open_map: OpenMap, scouted: tuple[Path, pd.DataFrame]
) -> None:
    path, ranking = scouted
    page = open_map(path, PHONE)
    places = ranking.geometry.to_crs("EPSG:4326")
    top, low = page.evaluate(
        "[document.getElementById('top').getBoundingClientRect().bottom,"
        " document.getElementById('tools').getBoundingClientRect().top]"
    )
    for place in places:
        x, y = page.evaluate(
            "(at) => { const p = seabedMap.map.latLngToContainerPoint(at); return [p.x, p.y]; }",
            [place.y, place.x],
        )
        assert 0 < x < 390 and top < y < low


def test_where_was_fished_the_list_of_places_is_left_out(
    open_map: OpenMap, scouted: tuple[Path, pd.DataFrame], small_grid: xr.DataArray, tmp_path: Path
) -> None:
    highs = humps(small_grid, min_height_m=0.5).assign(rank=1, score=10.0, why="Rises.")
    write_map(tmp_path / "map.html", content_of(small_grid, features=highs))
    page = open_map(tmp_path / "map.html")
    assert page.is_hidden("#places-part")
    assert not page.get_by_label("Places to look", exact=True).is_checked()


def test_a_rate_without_fish_is_what_is_expected(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path
) -> None:
    lines = lines_of(["N1", "S1"]).assign(kept=[6, 0], rate=[2.2, 1.5], rod_hours=[2.5, 0.4])
    write_map(tmp_path / "map.html", content_of(small_grid, lines=lines))
    page = open_map(tmp_path / "map.html")
    words = page.locator("#lines .rate").all_inner_texts()
    assert words == ["2.2 kept a rod-hour", "about 1.5 expected"]
    assert page.locator("#lines li").evaluate_all("(all) => all.map((one) => one.className)") == [
        "",
        "pale",
    ]
    page.click("#lines .line >> nth=1")
    assert "Expected a rod-hour" in page.inner_text("#card dl")
    assert "Kept a rod-hour" not in page.inner_text("#card dl")


@pytest.mark.parametrize("size", SIZES)
def test_targets_are_large_and_positions_stand_on_one_line(
    open_map: OpenMap, scouted: tuple[Path, pd.DataFrame], size: Any
) -> None:
    page = open_map(scouted[0], size)
    unfold(page)
    page.click("#places .line >> nth=0")
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, input, a, label')]"
        ".filter((one) => one.offsetParent && one.type !== 'checkbox')"
        ".map((one) => [one.id || one.textContent, one.getBoundingClientRect().height])"
        ".filter(([, height]) => height < 44)"
    )
    assert small == []
    lines = (
        "(one) => one.getBoundingClientRect().height / parseFloat(getComputedStyle(one).fontSize)"
    )
    assert page.locator("#card .position").evaluate(lines) < 2
    assert page.evaluate("document.documentElement.scrollWidth") == size["width"]


def test_the_head_says_which_trips_and_when_the_map_was_made(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path
) -> None:
    from datetime import datetime

    path = tmp_path / "map.html"
    path.write_text(page_of(content_of(small_grid), datetime(2031, 6, 20, 7, 5)))
    page = open_map(path)
    assert page.inner_text("#about-map") == "Trip of 14 Jun 2031 · map made 20 Jun 2031, 07:05"


def test_a_page_around_the_map_chooses_and_hears(
    browser: Any, scouted: tuple[Path, pd.DataFrame]
) -> None:
    path, _ = scouted
    around = path.with_name("around.html")
    around.write_text(
        '<script>heard = []; addEventListener("message", (event) => heard.push(event.data));'
        f'</script><iframe sandbox="allow-scripts" src="{path.name}"></iframe>'
    )
    page = browser.new_page()
    page.goto(around.as_uri())
    until(page, "heard.length === 1")
    frame = "document.querySelector('iframe').contentWindow"
    page.evaluate(f"{frame}.postMessage({{seabed: 'choose', kind: 'places', name: 'R2'}}, '*')")
    until(page, "heard.length === 2")
    assert page.evaluate("heard") == [
        {"seabed": "ready"},
        {"seabed": "chosen", "kind": "places", "name": "R2"},
    ]
    assert page.frames[1].inner_text("#card h2").startswith("R2. ")
    page.frames[1].locator("#card .shut-card").dispatch_event("click")
    until(page, "heard.length === 3")
    assert page.evaluate("heard[2].name") is None
    page.close()
