"""What is written, without a browser."""

from __future__ import annotations

import base64
import json
import re
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from map_content import HOSTILE, content_of
from pyproj import Transformer

from layers.maps import MapContent, write_map
from layers.maps.depths import pack_depths
from layers.maps.features import pack_features
from layers.maps.page import page_of
from seabed.errors import OutputError
from seabed.grid.places import sample


def unpack(packed: dict[str, Any]) -> np.ndarray:
    planes = np.frombuffer(zlib.decompress(base64.b64decode(packed["data"])), np.uint8)
    low, high = planes.reshape(2, packed["rows"], packed["columns"]).astype(np.int64)
    zigzag = low + 256 * high
    steps = (zigzag >> 1) ^ -(zigzag & 1)
    numbers = np.cumsum(np.cumsum(steps, axis=0), axis=1) % 65536
    return np.where(numbers == 0, np.nan, packed["least"] + packed["step"] * (numbers - 1))


def data_of(page: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    return json.loads(found.group(1))


def test_packed_depths_are_those_of_the_grid(small_grid: xr.DataArray) -> None:
    packed = pack_depths(small_grid)
    depth = unpack(packed)
    west, south, east, north = packed["bounds"]
    rows, columns = depth.shape
    x = west + (np.arange(columns) + 0.5) * (east - west) / columns
    y = north - (np.arange(rows) + 0.5) * (north - south) / rows
    longitude, latitude = Transformer.from_crs(3857, 4326, always_xy=True).transform(
        *(part.ravel() for part in np.meshgrid(x, y))
    )
    truth = sample(small_grid, longitude, latitude).reshape(depth.shape)
    both = np.isfinite(depth) & np.isfinite(truth)
    assert both.sum() > 0.9 * small_grid.size
    # half a step of 1 cm, and float32 in the warp
    assert np.abs(depth - truth)[both].max() < 0.006


def test_a_large_grid_is_reduced_and_says_so(small_grid: xr.DataArray) -> None:
    packed = pack_depths(small_grid, most_cells=16000)
    assert packed["rows"] * packed["columns"] < 9000
    assert packed["reduced"] == pytest.approx(2.0)
    assert packed["tiles"] is None  # nothing there that matters
    depth = unpack(packed)
    assert np.nanmin(depth) == pytest.approx(float(small_grid.min()), abs=0.2)


def test_a_grid_without_depths_packs(small_grid: xr.DataArray) -> None:
    assert np.isnan(unpack(pack_depths(small_grid * np.float32(np.nan)))).all()


def test_hostile_words_stay_data(small_grid: xr.DataArray) -> None:
    page = page_of(content_of(small_grid, HOSTILE))
    assert "<script>window.hit" not in page
    assert "<img" not in re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL)
    assert data_of(page)["title"] == HOSTILE
    catches = data_of(page)["catches"]
    assert catches["rows"][0][catches["columns"].index("note")] == HOSTILE


def test_nothing_outside_is_named_for_loading(small_grid: xr.DataArray) -> None:
    page = page_of(content_of(small_grid))
    assert re.findall(r"""(?:src|href)=["']?(?!data:|#)[^"'\s>]+""", re.sub(
        r"<script.*?</script>", "", page, flags=re.DOTALL)) == []  # fmt: skip
    assert re.findall(r"url\((?!data:|#)[^)]*\)", page) == []
    assert "sourceMappingURL" not in page


def test_our_modules_come_through_whole(small_grid: xr.DataArray) -> None:
    page = page_of(content_of(small_grid))
    assert re.findall(r"^(?:import|export) .*", page, re.MULTILINE) == []


def test_times_are_local_and_unknown_is_null(small_grid: xr.DataArray) -> None:
    rows = pack_features("catches", content_of(small_grid).catches, "Etc/GMT+2")
    assert [row["time"] for row in rows][:2] == ["2031-06-14 10:00:00", "2031-06-14 10:04:00"]
    assert [row["kept"] for row in rows] == [True, False, None]
    assert rows[1]["length_m"] is None
    assert rows[2]["g"] is None  # no place, still listed


def test_an_empty_map_is_a_map(tmp_path: Path) -> None:
    write_map(tmp_path / "map.html", MapContent(title="Nothing"))
    assert data_of((tmp_path / "map.html").read_text(encoding="utf-8"))["depths"] is None


def test_a_place_that_is_no_folder_is_reported(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("kept")
    with pytest.raises(OutputError, match=r"map\.html"):
        write_map(tmp_path / "file" / "map.html", MapContent())
    assert (tmp_path / "file").read_text() == "kept"


def test_a_grid_may_lie_the_other_way_round(small_grid: xr.DataArray) -> None:
    page = page_of(content_of(small_grid))
    assert page_of(content_of(small_grid[::-1])) == page
