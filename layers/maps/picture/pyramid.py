"""Tiles of web Mercator: which of them hold water, zoom by zoom."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from layers.maps.picture.bottom_depths import BottomDepths, Box
from seabed.errors import GridError, SeabedError

TILE_PX: Final = 256
HALF: Final = 20_037_508.342789244
"""Half the width of the world, metres of web Mercator: pi times 6378137."""

DEEPEST_ZOOM: Final = 22
BLOCK: Final = 4
"""So many tiles a side are painted together: lines and numbers cross from one to the next."""

MOST_CELLS: Final = 2_000_000
"""Cells of the overview that says where water is."""

MOST_TILES: Final = 100_000

FOUND_FROM: Final = 2
"""So many zooms before all of it fills a tile it is seen, small, and found."""

BEYOND: Final = 2
"""So many zooms finer than the cells may be asked for."""

Tile = tuple[int, int, int]
"""Zoom, column and row; row 0 in the north."""


def tile_box(zoom: int, column: int, row: int, side: int = 1) -> Box:
    """Give the box of a tile, or of `side` by `side` tiles from it."""
    width = 2 * HALF / 2**zoom
    west, north = column * width - HALF, HALF - row * width
    return west, north - side * width, west + side * width, north


@dataclass(frozen=True, slots=True)
class Pyramid:
    """The tiles of a picture.

    tiles: columns and rows of each zoom.  At the edge of the water one may turn out to be empty.
    ends_m: the least depth, and the one that 1 % of the water is deeper than.
    """

    tiles: dict[int, set[tuple[int, int]]]
    ends_m: tuple[float, float]

    @classmethod
    def of(cls, ground: BottomDepths, zooms: range | None) -> Pyramid:
        """Choose tiles over a ground; by themselves as `usual_zooms`.

        GridError without water; SeabedError if the zooms are too fine or the tiles too many.
        """
        usual = usual_zooms(ground)
        wanted = zooms if zooms is not None else usual
        _refuse_finer(wanted[-1], usual[-1])
        depth, place = ground.overview(MOST_CELLS)
        known = np.isfinite(depth)
        if not known.any():
            raise GridError("there is no water in the grid", do="Check {sign} and {box}.")
        ends = float(np.nanmin(depth)), float(np.nanpercentile(depth, 99))
        tiles: dict[int, set[tuple[int, int]]] = {}
        for zoom in wanted:
            tiles[zoom] = _tiles(known, place, zoom)
            _refuse_more(tiles)
        return cls(tiles, ends)

    @property
    def zooms(self) -> range:
        """From the coarsest to the finest."""
        return range(min(self.tiles), max(self.tiles) + 1)

    def __len__(self) -> int:
        return sum(map(len, self.tiles.values()))

    def blocks(self, zoom: int) -> Iterator[tuple[Tile, list[Tile]]]:
        """Give the first tile of each block, and its tiles that hold water."""
        blocks: dict[tuple[int, int], list[Tile]] = {}
        for column, row in sorted(self.tiles[zoom]):
            corner = column // BLOCK * BLOCK, row // BLOCK * BLOCK
            blocks.setdefault(corner, []).append((zoom, column, row))
        yield from (((zoom, *corner), tiles) for corner, tiles in blocks.items())


def usual_zooms(ground: BottomDepths) -> range:
    """From where all of it is part of a tile to where a pixel is no wider than a cell."""
    west, south, east, north = ground.box
    cell = (east - west) / ground.shape[1]
    finest = math.ceil(math.log2(2 * HALF / TILE_PX / cell) - 1e-6)
    coarsest = math.floor(math.log2(2 * HALF / max(east - west, north - south))) - FOUND_FROM
    finest = min(max(finest, 0), DEEPEST_ZOOM)
    return range(min(max(coarsest, 0), finest), finest + 1)


def _tiles(known: NDArray[np.bool_], place: Affine, zoom: int) -> set[tuple[int, int]]:
    """Give the tiles that cells of water reach into."""
    rows, columns = (np.arange(count + 1) for count in known.shape)
    width, last = 2 * HALF / 2**zoom, 2**zoom - 1
    x, y = place.c + place.a * columns + HALF, HALF - place.f - place.e * rows
    column, row = ((one / width).astype(np.int64).clip(0, last) for one in (x, y))
    reached: set[tuple[int, int]] = set()
    for sides in (column[:-1], column[1:]):
        own_columns, first = np.unique(sides, return_index=True)
        joined = np.logical_or.reduceat(known, first, axis=1)
        for ends in (row[:-1], row[1:]):
            own_rows, first = np.unique(ends, return_index=True)
            down, right = np.nonzero(np.logical_or.reduceat(joined, first, axis=0))
            pairs = own_columns[right].tolist(), own_rows[down].tolist()
            reached.update(zip(*pairs, strict=True))
    return reached


def _refuse_finer(zoom: int, usual: int) -> None:
    if zoom > min(usual + BEYOND, DEEPEST_ZOOM):
        raise SeabedError(
            f"zoom {zoom} shows no more than zoom {usual}, at which a pixel is as wide as a cell",
            key="zoom",
            do=f"Give {{zoom}} up to {min(usual + BEYOND, DEEPEST_ZOOM)}.",
        )


def _refuse_more(tiles: dict[int, set[tuple[int, int]]]) -> None:
    if sum(map(len, tiles.values())) > MOST_TILES:
        finest = max(tiles)
        coarser = "a coarser {zoom}" if len(tiles) == 1 else f"{{zoom}} up to {finest - 1}"
        raise SeabedError(
            f"down to zoom {finest} there are more than {MOST_TILES:,} tiles",
            key="zoom",
            do=f"Give a smaller {{box}}. Or give {coarser}.",
        )
