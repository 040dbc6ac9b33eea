"""The cards of ranked edges and humps, in the browser."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import xarray as xr
from test_map_in_browser import degrees, on_screen

from layers.maps import MapContent, write_map
from seabed.structure import humps

pytestmark = pytest.mark.browser


def test_a_ranked_hump_tells_rank_reason_and_doubt(
    open_map: Callable[..., Any], small_grid: xr.DataArray, tmp_path: Path
) -> None:
    found = humps(small_grid).assign(
        rank=3, why="Rises <b>far</b>.", uncertainty_m=9.144, doubtful=True
    )
    write_map(tmp_path / "map.html", MapContent(grid=small_grid, features=found))
    page = open_map(tmp_path / "map.html")
    page.mouse.click(*on_screen(page, *degrees(found["peak_x"][0], found["peak_y"][0])))
    said = page.inner_text("#card")
    assert "R3. Hump" in said  # as report, marks and plan name it
    assert "Rises <b>far</b>." in said
    assert "30.0 ft: it is lower than that" in said  # 9.144 / 0.3048


def test_without_a_ranking_it_says_nothing_of_it(
    open_map: Callable[..., Any], small_grid: xr.DataArray, tmp_path: Path
) -> None:
    found = humps(small_grid)
    write_map(tmp_path / "map.html", MapContent(grid=small_grid, features=found))
    page = open_map(tmp_path / "map.html")
    page.mouse.click(*on_screen(page, *degrees(found["peak_x"][0], found["peak_y"][0])))
    said = page.inner_text(".leaflet-popup-content")
    assert "Hump" in said
    assert "Look here" not in said
    assert "doubt" not in said
