"""Grids too large for a page: a reduced overview, and full detail around what matters."""

from __future__ import annotations

import base64
import re
import zlib
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import xarray as xr
from affine import Affine
from map_content import SIZES, lines_of
from pyproj import Transformer
from shapely.geometry import LineString

from layers.maps import MapContent, write_map
from layers.maps.depths import pack_depths
from layers.maps.detail import TILE, places_that_matter, tiles_near
from seabed.grid import make_grid
from seabed.grid.places import sample

TO_DEGREES = Transformer.from_crs(3857, 4326, always_xy=True)


def ripples(rows: int, columns: int) -> xr.DataArray:
    """Waves 12 m long, which cells of 4 m and more wipe out; 2 m cells, UTM 24 north."""
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    depth = 15 + np.sin(2 * np.pi * (x + y) / 6) + 0.002 * x
    depth[:30, :40] = np.nan
    corner = Affine(2, 0, 620_000, 0, -2, 5_118_000)
    return make_grid(depth, transform=corner, crs="EPSG:32624", source="invented")


@pytest.fixture(scope="module")
def wide_grid() -> xr.DataArray:
    return ripples(1200, 1600)


@pytest.fixture(scope="module")
def wide_lines() -> gpd.GeoDataFrame:
    return lines_of(["N1"])


def unpacked(packed: dict[str, Any], rows: int, columns: int, data: str) -> np.ndarray:
    planes = np.frombuffer(zlib.decompress(base64.b64decode(data)), np.uint8)
    low, high = planes.reshape(2, rows, columns).astype(np.int64)
    zigzag = low + 256 * high
    steps = (zigzag >> 1) ^ -(zigzag & 1)
    numbers = np.cumsum(np.cumsum(steps, axis=0), axis=1) % 65536
    return np.where(numbers == 0, np.nan, packed["least"] + packed["step"] * (numbers - 1))


def test_tiles_hold_the_depths_of_the_whole_grid(
    wide_grid: xr.DataArray, wide_lines: gpd.GeoDataFrame
) -> None:
    near = places_that_matter(MapContent(grid=wide_grid, lines=wide_lines))
    packed = pack_depths(wide_grid, near=near, most_cells=400_000)
    tiles = packed["tiles"]
    side, count = tiles["size"], len(tiles["bounds"])
    assert side == TILE + 2
    assert not tiles["short"]
    depth = unpacked(packed, side * count, side, tiles["data"]).reshape(count, side, side)
    for part, (west, south, east, north) in zip(depth, tiles["bounds"], strict=True):
        x = west + (np.arange(side) + 0.5) * (east - west) / side
        y = north - (np.arange(side) + 0.5) * (north - south) / side
        places = TO_DEGREES.transform(*(axis.ravel() for axis in np.meshgrid(x, y)))
        truth = sample(wide_grid, *places).reshape(side, side)
        both = np.isfinite(part) & np.isfinite(truth)
        assert both.mean() > 0.3
        # half a step of 1 cm, and the warp's own turn of coordinates on waves of 1 m
        assert np.abs(part - truth)[both].max() < 0.02
    # the overview has lost the waves: what is left is their mean
    overview = unpacked(packed, packed["rows"], packed["columns"], packed["data"])
    assert np.nanstd(overview - np.nanmean(overview, axis=0)) < 0.35
    assert np.nanstd(depth - np.nanmean(depth, axis=(1, 2), keepdims=True)) > 0.5


def test_tiles_lie_along_lines_and_once_each() -> None:
    line = LineString([(-31.44, 46.20), (-31.42, 46.20)])
    x, y = Transformer.from_crs(4326, 3857, always_xy=True).transform(-31.44, 46.20)
    lattice = Affine(2, 0, x - 3000, 0, -2, y + 1000)  # tiles of 256 m
    found = tiles_near([np.array([line, None, LineString()], object)], lattice, (1000, 5000))
    assert len(found) == len(set(found))
    # by hand: 1000 / 256 = 3.9 down; 3000 / 256 = 11.7 to (3000 + 2226) / 256 = 20.4 along; and a
    # tile within 0.4 of a side of it: rows 3 and 4, columns 11 to 20
    assert set(found) == {(row, column) for row in (3, 4) for column in range(11, 21)}


def test_what_matters_most_comes_first_where_there_is_no_room(wide_grid: xr.DataArray) -> None:
    lines = lines_of(["N1"])
    drifts = gpd.GeoDataFrame(
        {"drift_id": ["x"]},
        geometry=[LineString([(621_500, 5_117_800), (622_300, 5_116_300)])],
        crs="EPSG:32624",
    )
    near = places_that_matter(MapContent(lines=lines, drifts=drifts))
    packed = pack_depths(wide_grid, near=near, most_cells=80_000)  # room for two tiles
    assert packed["tiles"]["short"]
    assert len(packed["tiles"]["bounds"]) == 2
    to_web = Transformer.from_crs(32624, 3857, always_xy=True)
    x, y = to_web.transform(620_305, 5_117_500)
    for west, south, east, north in packed["tiles"]["bounds"]:
        assert west - 300 < x < east + 300 and south - 300 < y < north + 300


def test_a_grid_in_blocks_is_never_asked_for_as_a_whole() -> None:
    da = pytest.importorskip("dask.array")
    grid = ripples(1600, 1600)
    asked: list[int] = []

    def seen(block: np.ndarray) -> np.ndarray:
        asked.append(block.size)
        return block

    chunked = grid.copy(data=da.from_array(grid.values, chunks=400).map_blocks(seen, dtype="f4"))
    whole = pack_depths(grid, most_cells=100_000)
    asked.clear()
    packed = pack_depths(chunked, most_cells=100_000)
    assert max(asked) <= 400 * 400
    assert packed["data"] == whole["data"]


@pytest.mark.browser
@pytest.mark.parametrize("size", SIZES)
def test_the_page_uses_the_finest_there_is(
    open_map: Any,
    wide_grid: xr.DataArray,
    wide_lines: gpd.GeoDataFrame,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    size: Any,
) -> None:
    monkeypatch.setattr("layers.maps.depths.MOST_CELLS", 400_000)
    monkeypatch.setattr(pack_depths, "__kwdefaults__", {"near": (), "most_cells": 400_000})
    write_map(tmp_path / "map.html", MapContent(grid=wide_grid, lines=wide_lines))
    page = open_map(tmp_path / "map.html", size)
    to_degrees = Transformer.from_crs(32624, 4326, always_xy=True)
    northing = np.linspace(5_117_320, 5_117_680, 60)
    longitude, latitude = to_degrees.transform(np.full(60, 620_305.0), northing)
    told = page.evaluate(
        "(at) => at.map(([o, a]) => seabedMap.depths.depth(a, o))",
        np.c_[longitude, latitude].tolist(),
    )
    truth = sample(wide_grid, longitude, latitude)
    # bilinear takes at most 1 - cos(30 degrees)^2, a quarter, off waves of six cells; the page has
    # it twice, the truth once.  The overview's waves are less than half as high
    assert np.abs(np.array(told) - truth).max() < 0.44
    assert np.std(told) > 0.4
    far = to_degrees.transform(622_000, 5_116_500)
    assert page.evaluate(
        "([o, a]) => seabedMap.depths.finest(mercatorX(o), mercatorY(a)) === seabedMap.depths", far
    )
    # the squares are painted, and with the band
    assert page.locator("canvas.leaflet-image-layer").count() > 1
    assert re.search(r"1 cell for 3\.1.*full detail", page.text_content("#depth-words"))
