"""Depths for a picture: right in their place, the same from box to box, and never all at once."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from affine import Affine
from pyproj import CRS, Transformer
from thoroughness import THOROUGH

from layers.maps.picture import pyramid
from layers.maps.picture.bottom_depths import BottomDepths, Box
from layers.maps.picture.inking import places_of
from layers.maps.picture.painting import Painter, Palette
from layers.maps.picture.pyramid import Pyramid, tile_box
from seabed.errors import SeabedError

CELL = 5.0


class Reader:
    """A plane of any size, made where it is read; it knows the most that was read at once."""

    def __init__(self) -> None:
        self.most = 0

    def __call__(self, row: int, column: int, rows: int, columns: int) -> np.ndarray:
        self.most = max(self.most, rows * columns)
        y, x = np.ogrid[row : row + rows, column : column + columns]
        return 10 + 0.001 * x.astype(np.float32) + 0.002 * y.astype(np.float32)


def plane(side: int) -> tuple[BottomDepths, Reader]:
    read = Reader()
    transform = Affine(CELL, 0, 600_000, 0, -CELL, 5_200_000)
    return BottomDepths((side, side), transform, CRS.from_epsg(32624), read), read


def true_depth(box: Box, shape: tuple[int, int]) -> np.ndarray:
    """The plane at the middle of each pixel, by another way there."""
    x = box[0] + (np.arange(shape[1]) + 0.5) * (box[2] - box[0]) / shape[1]
    y = box[3] - (np.arange(shape[0]) + 0.5) * (box[3] - box[1]) / shape[0]
    onto = Transformer.from_crs(3857, 32624, always_xy=True)
    east, north = onto.transform(*np.meshgrid(x, y))
    column, row = (east - 600_000) / CELL - 0.5, (5_200_000 - north) / CELL - 0.5
    return 10 + 0.001 * column + 0.002 * row


def middle_tile(ground: BottomDepths, zoom: int) -> Box:
    tiles = sorted(Pyramid.of(ground, range(zoom, zoom + 1)).tiles[zoom])
    return tile_box(zoom, *tiles[len(tiles) // 2])


@pytest.mark.parametrize("zoom", [11, 13, 15, 16] if THOROUGH else [11, 16])
def test_depths_are_those_of_the_plane_whatever_the_zoom(zoom: int) -> None:
    ground, _ = plane(4000)
    box = middle_tile(ground, zoom)
    depth, place = ground.over(box, (256, 256)) or pytest.fail("off the grid")
    known = np.isfinite(depth)
    assert known.mean() > 0.3
    # the warp is exact to an eighth of a pixel (its tolerance); a pixel falls 2.2 mm a cell
    pixel = place.a * 0.7 / CELL * 0.003
    inner = known & np.roll(known, 1, 0) & np.roll(known, -1, 0) & np.roll(known, 1, 1)
    assert np.abs(depth - true_depth(box, (256, 256)))[inner].max() < max(pixel * 0.6, 0.002)


@pytest.mark.parametrize("zoom", [11, 14] if THOROUGH else [14])
def test_neighbouring_boxes_meet(zoom: int) -> None:
    ground, _ = plane(4000)
    west, south, east, north = middle_tile(ground, zoom)
    whole, _ = ground.over((west, south, 2 * east - west, north), (256, 512)) or pytest.fail()
    left, _ = ground.over((west, south, east, north), (256, 256)) or pytest.fail()
    right, _ = ground.over((east, south, 2 * east - west, north), (256, 256)) or pytest.fail()
    both = np.hstack([left, right])
    known = np.isfinite(both) & np.isfinite(whole)
    assert known.mean() > 0.3
    pixel = (east - west) / 256 * 0.7 / CELL * 0.003
    assert np.abs(both - whole)[known].max() < max(pixel / 4, 0.002)


def test_a_box_off_the_grid_holds_nothing() -> None:
    ground, _ = plane(100)
    west, south, _, _ = ground.box
    assert ground.over((west - 9000, south - 9000, west - 8000, south - 8000), (64, 64)) is None


def test_of_a_large_grid_no_more_is_held_than_a_block_of_tiles_needs() -> None:
    side = 8000 if THOROUGH else 1600
    ground, read = plane(side)
    pyramid = Pyramid.of(ground, None)
    painter = Painter(
        ground, Palette(pyramid.ends_m, (12.0, 14.0)), [(15.0, "15")],
        places_of(None, None, None, str),
    )  # fmt: skip
    tracemalloc.start()
    for zoom in pyramid.zooms:
        corner, _ = max(pyramid.blocks(zoom), key=lambda block: len(block[1]))
        assert painter.paint(tile_box(*corner, 4), (1024, 1024)) is not None
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # a strip of 512 rows across; the whole grid of 8000 would be 256 MB
    assert read.most <= 1024 * side
    assert peak < 200e6


def test_usual_zooms_go_from_a_part_of_a_tile_to_a_pixel_a_cell() -> None:
    side = 1000
    ground, _ = plane(side)
    zooms = Pyramid.of(ground, None).zooms
    metre = np.cos(np.radians(46.9))
    assert 156_543.03 / 2 ** zooms[-1] * metre <= CELL < 156_543.03 / 2 ** (zooms[-1] - 1) * metre
    assert 40_075_017 / 2 ** zooms[0] * metre >= 4 * side * CELL


def test_zooms_that_show_no_more_and_tiles_without_end_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ground, _ = plane(1000)
    with pytest.raises(SeabedError, match=r"zoom 19 shows no more than zoom 15.*up to 17") as fault:
        Pyramid.of(ground, range(10, 20))
    assert fault.value.key == "zoom"
    monkeypatch.setattr(pyramid, "MOST_TILES", 60)  # 40 times as far each way it is 100,000
    with pytest.raises(SeabedError, match=r"zoom 15 there are more than 60 tiles.*up to 14"):
        Pyramid.of(plane(1500)[0], range(12, 18))


def test_tiles_are_those_that_water_reaches_into_and_no_other() -> None:
    ground, _ = plane(1000)
    tiles = Pyramid.of(ground, range(14, 15)).tiles[14]
    onto = Transformer.from_crs(32624, 3857, always_xy=True)
    east, north = np.meshgrid(600_000 + np.arange(5, 5000, 10), 5_200_000 - np.arange(5, 5000, 10))
    x, y = onto.transform(east.ravel(), north.ravel())
    width = 2 * 20_037_508.342789244 / 2**14
    brute = set(
        zip(
            ((np.array(x) + 20_037_508.342789244) // width).astype(int).tolist(),
            ((20_037_508.342789244 - np.array(y)) // width).astype(int).tolist(),
            strict=True,
        )
    )
    assert brute <= tiles
    # a tile more only where its edge and the water's are a cell of the overview apart
    assert len(tiles) <= len(brute) * 1.2
